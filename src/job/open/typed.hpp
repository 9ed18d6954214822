// SPDX-License-Identifier: Apache-2.0
// Readings, references and cord checks that a person types into a form. They become the same columns as those
// of a file, by the rules of this file alone: no text is parsed. Verified by: tests/unit/job/typed.cpp (typed
// and imported give the same entries; any name comes back unchanged; the text that names the source is that
// of the first release; a key is kept once).
#pragma once

#include "base/result.hpp"
#include "intake/reference.hpp"
#include "job/entry/bodies.hpp"
#include "units/instant.hpp"
#include "verdict/readings.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace guidepin::job {

/// A form has a key of its own, so that Guidepin keeps what it receives twice only once: 1 to 64 letters,
/// digits and dashes.
Outcome require_typed_key(std::string_view key);
/// "typed-KEY.csv": the name of such an entry among the job's imports.
std::string typed_name(std::string_view key);

/// Readings of one link: one launch, one wavelength, several positions.
struct TypedReading
{
    int position = 0;
    std::optional<int> far_position; ///< 0: no light arrives
    double attenuation_db = 0;
};
struct TypedReadings
{
    std::string link, person;
    verdict::ReferenceId reference;
    bool from_end_b = false;
    int wavelength_nm = 850;
    std::optional<double> length_m;
    std::optional<Instant> taken; ///< none: now; never later than now
    std::vector<TypedReading> rows;
    std::string key;
};

struct TypedPower
{
    int wavelength_nm = 0, position = 0;
    double power_dbm = 0;
};
struct TypedReference
{
    verdict::ReferenceId id; ///< empty: the next free "R-N"
    std::string key;
    TestKit kit;
    bool instrument_positions = false;
    std::optional<Instant> taken; ///< none: now; never later than now
    std::vector<TypedPower> powers;
    /// Items that a person uses although the register refuses them, and why: item, reason.
    std::vector<std::pair<std::string, std::string>> overrides;
};

struct TypedJoint
{
    int wavelength_nm = 0, position = 0;
    std::optional<int> far_position; ///< 0: no light arrives
    double attenuation_db = 0;
};
struct TypedCheck
{
    verdict::ReferenceId reference;
    std::string key;
    bool instrument_positions = false;
    std::optional<Instant> taken; ///< none: now; never later than now
    std::vector<TypedJoint> rows;
};

// The columns of what was typed, all of it measured at `taken`. Errors: invalid_input, which names the
// position and what would be right.
Result<verdict::ReadingColumns> columns_of(TypedReadings const& typed, Instant taken);
Result<intake::ReferencePowers> columns_of(TypedReference const& typed, Instant taken);
Result<intake::CordChecks> columns_of(TypedCheck const& typed, verdict::CheckId const& id, Instant taken);

/// Returns the record of where such columns come from. It holds size and SHA-256 of the columns written as
/// CSV in the style of the first release, so that equal entries have equal records in every release.
SourceFile source_of(std::string_view key, verdict::ReadingColumns const& columns);
SourceFile source_of(std::string_view key, intake::ReferencePowers const& columns);
SourceFile source_of(std::string_view key, intake::CordChecks const& columns);

/// The first of "R-1", "R-2", … (or another prefix) that `taken` does not have.
std::string free_name(std::string_view prefix, std::vector<std::string> const& taken);

} // namespace guidepin::job
