// SPDX-License-Identifier: Apache-2.0
// The registry of record kinds: one row for each kind that Guidepin writes. Loading a job, taking in new
// records, docs/formats/job-file.md (tools/make_record_kinds) and the fuzzer of record bodies all go by these
// rows. A new kind is a name in record/kind.hpp, a pair of functions in job/entry, a row here and a seed in
// tests/fuzz/corpus/record_bodies. Verified by: tests/unit/job/record_kinds.cpp (a seed of each kind comes
// back byte for byte, and an operation of Job writes each kind), tests/fuzz/record_bodies.cpp.
#pragma once

#include "base/result.hpp"
#include "record/record.hpp"

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

struct JobState;

/// What a new record can change of what Guidepin already knows of an open job.
enum class Reach : std::uint8_t {
    aside, ///< no verdict and no derived row: Guidepin adds it to the state
    tests, ///< only verdicts of the links it holds readings of: Guidepin adds it and judges these links
    all,   ///< possibly everything: Guidepin reads all records again
};

struct RecordKind
{
    std::string_view name;
    std::string_view description; ///< one sentence: what happened
    Reach reach = Reach::all;
    /// Puts one record into the state. Errors: a body that cannot be read or used; the state is then
    /// unchanged.
    Outcome (*take)(JobState& state, record::RecordView const& view) = nullptr;
    /// Reads the body as `take` does and writes it again. A body that Guidepin wrote comes back byte for
    /// byte.
    Result<std::string> (*rewritten)(std::string_view body) = nullptr;
    bool of_import = false; ///< belongs to the source-file record before it, and is withdrawn with that
    /// Left out at the end of a chain when a package names its records: the same job, handed over twice, then
    /// gives the same package.
    bool left_out_at_the_end = false;
};

/// All kinds, by name.
std::span<RecordKind const> record_kinds();
/// Returns the row of that name, or nullptr for a kind of a later program.
RecordKind const* find_record_kind(std::string_view name);

/// The names of the kinds with `left_out_at_the_end`, for record::heads_without_last().
std::vector<std::string_view> kinds_left_out_at_the_end();

} // namespace guidepin::job
