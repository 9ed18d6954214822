// SPDX-License-Identifier: Apache-2.0
// What a job can say of readings that are about to come in: rows that cannot be, rows that contradict what is
// there, rows that nothing is judged by. The same for preview and import. Rules: docs/formats/csv.md.
// Verified by: tests/unit/job/reading_rules.cpp.
#pragma once

#include "intake/file.hpp"
#include "job/state/state.hpp"

#include <string>
#include <vector>

namespace guidepin::job {

/// A time may be later than now by this much: clocks of instruments and computers differ a little.
constexpr std::int64_t future_tolerance_ms = 5 * 60 * 1000;
/// What is wrong with a time that is later than that; empty: nothing. `ms` may be no_time.
std::string future_fault(std::int64_t ms, Instant now);

/// Takes the rows that cannot be out of `readings` and adds them to `bad`, in the order of lines: taken later
/// than now, positions that a scheduled link's plugs do not have. At most `listed_at_most` stay in words.
void take_out_bad_rows(JobState const& state, Instant now, std::size_t listed_at_most,
                       verdict::ReadingColumns& readings, intake::Problems& bad);

/// Of rows that hold: those at the same place and moment as an earlier reading with another value, those at
/// wavelengths that their links are not judged at, and that there is no row at all.
std::vector<std::string> reading_warnings(JobState const& state, verdict::ReadingColumns const& readings);

/// The import of this layout with these bytes that still counts, or nullptr.
SourceFile const* import_with(JobState const& state, std::string_view layout, std::string_view sha256);
/// Returns "day-1.csv, brought in by Ines on 2026-03-02 at 18:00".
std::string import_text(SourceFile const& file);

} // namespace guidepin::job
