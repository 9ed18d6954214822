// SPDX-License-Identifier: Apache-2.0
// Checks readings before they enter the job: rows that cannot be true, rows that contradict readings that the
// job has, rows that judge nothing. Preview and import use the same checks. Rules: docs/formats/csv.md.
// Verified by: tests/unit/job/reading_rules.cpp.
#pragma once

#include "intake/file.hpp"
#include "job/state/state.hpp"

#include <string>
#include <vector>

namespace guidepin::job {

/// A time may be later than now by this much, because clocks of instruments and computers differ a little.
constexpr std::int64_t future_tolerance_ms = 5 * 60 * 1000;
/// Returns what is wrong with a time that is later than that; empty if nothing is. `ms` may be no_time.
std::string future_fault(std::int64_t ms, Instant now, Settings const& settings);

/// Moves the rows that cannot be true from `readings` to `bad`, in the order of lines: those taken later than
/// now, and positions that the plugs of a scheduled link do not have. Lists at most `listed_at_most` of them.
void take_out_bad_rows(JobState const& state, Instant now, std::size_t listed_at_most,
                       verdict::ReadingColumns& readings, intake::Problems& bad);

/// Returns warnings about the rows that remain: rows at the same place and moment as an earlier reading with
/// another value, rows at wavelengths at which their links are not judged, and a file without any row.
std::vector<std::string> reading_warnings(JobState const& state, verdict::ReadingColumns const& readings);

/// Returns the import of this layout with these bytes that still counts, or nullptr.
SourceFile const* import_with(JobState const& state, std::string_view layout, std::string_view sha256);
/// Returns "day-1.csv, brought in by Ines on 2026-03-02 18:00 UTC".
std::string import_text(SourceFile const& file, Settings const& settings);

} // namespace guidepin::job
