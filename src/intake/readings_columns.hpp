// SPDX-License-Identifier: Apache-2.0
// What the readers of readings share once rows have become columns. Room-private.
#pragma once

#include "intake/file.hpp"
#include "units/instant.hpp"
#include "verdict/readings.hpp"

#include <cmath>
#include <limits>

namespace guidepin::intake {

struct PlainReading
{
    std::uint32_t link = verdict::Dictionary::missing;
    verdict::LaunchEnd launch_end = verdict::LaunchEnd::a;
    std::int16_t position = 0;
    std::int16_t far_position = verdict::far_not_stated;
    std::uint16_t wavelength_nm = 0;
    double value = 0;
    double length_m = std::numeric_limits<double>::quiet_NaN();
    Instant taken{verdict::ReadingColumns::no_time, 0};
    std::uint32_t reference = verdict::Dictionary::missing;
    std::uint32_t operator_name = verdict::Dictionary::missing;
    std::uint32_t line = 0;
};

void append(verdict::ReadingColumns& columns, PlainReading const& reading);

/// All columns at this length; new rows hold zeros. On two threads when there is much of it.
void set_size(verdict::ReadingColumns& columns, std::size_t rows, int threads);

/// Closes the gap between `to` and the `count` rows from `from` on (to <= from).
void move_rows(verdict::ReadingColumns& columns, std::size_t from, std::size_t to, std::size_t count);

/// Exact repetitions to `repeated`, contradictions to `bad`; both out of the content, and all of the content
/// when that refuses the file. Names that no row uses any more leave the dictionaries. `owner`: "link" or
/// "check", for messages.
void settle_repetitions(Intake<verdict::ReadingColumns>& intake, ReadOptions const& options,
                        char const* owner);

/// Any layout, row by row.
Result<Intake<verdict::ReadingColumns>> read_readings_by_row(std::string_view file,
                                                             ReadOptions const& options);

/// Our plain layout, in pieces of about `piece_bytes` on options.threads threads.
Result<Intake<verdict::ReadingColumns>>
read_readings_in_pieces(std::string_view file, ReadOptions const& options, std::size_t piece_bytes);

} // namespace guidepin::intake
