// SPDX-License-Identifier: Apache-2.0
// Readings from a file: one row an attenuation (or power) of one position at one wavelength. Layout and
// rules: docs/formats/csv.md. The plain layout is read on several threads straight into columns; other
// layouts go row by row. Verified by: tests/unit/intake/readings.cpp (any number of threads, same result;
// plain against mapped path), tests/fuzz/csv_readings.cpp, bench/side_by_side.sh (the figures).
#pragma once

#include "intake/file.hpp"
#include "verdict/readings.hpp"

namespace guidepin::intake {

/// `file` is the whole file, best mapped into memory; nothing of the result points into it.
/// Rows come in file order; dictionaries in order of first appearance. Checked here: position 1 to 64, far
/// position 0 (dark) to 64, wavelength 600 to 1700 nm, attenuation -5 to 80 dB, power -100 to 30 dBm, length
/// 0 to 200 km, and rows about the same link, end, position, wavelength and time: exact repetitions are
/// listed and kept once, contradictions are bad, all of them.
Result<Intake<verdict::ReadingColumns>> read_readings(std::string_view file, ReadOptions const& options = {});

} // namespace guidepin::intake
