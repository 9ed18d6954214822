// SPDX-License-Identifier: Apache-2.0
// Reference powers and cord checks: one row a position and wavelength. Layouts: docs/formats/csv.md.
// Verified by: tests/unit/intake/reference.cpp.
#pragma once

#include "intake/file.hpp"
#include "verdict/check_id.hpp"
#include "verdict/readings.hpp"

namespace guidepin::intake {

/// The most rows of one file of references or cord checks, the most of one reference or check, and the most
/// of them in one file. 64 positions at 4 wavelengths, each read 10 times, are 2560 rows. A file with more is
/// something else.
constexpr std::size_t most_reference_rows = 100'000;
constexpr std::size_t most_rows_of_one = 10'000;
constexpr std::size_t most_references_of_a_file = 1000;

/// P_ref per position and wavelength. Several readings of one position are all kept, equal or not: they show
/// how well the reference repeats.
struct ReferencePowers
{
    verdict::IdDictionary<verdict::ReferenceEntry> references;
    std::vector<std::uint32_t> reference;
    std::vector<std::int16_t> position;
    std::vector<std::uint16_t> wavelength_nm;
    std::vector<double> power_dbm;
    std::vector<std::int64_t> taken_ms; ///< ReadingColumns::no_time when not stated
    std::vector<std::int16_t> offset_minutes;
    std::vector<std::uint32_t> line;

    std::size_t size() const { return reference.size(); }
};

/// Readings with the cords joined, or with a known cord between them. Missing numbers are NaN; far_position
/// as in verdict::ReadingColumns.
struct CordChecks
{
    verdict::IdDictionary<verdict::CordCheckEntry> checks;
    verdict::IdDictionary<verdict::ReferenceEntry> references;
    std::vector<std::uint32_t> check;
    std::vector<std::uint32_t> reference; ///< Dictionary::missing: not stated
    std::vector<std::int16_t> position;
    std::vector<std::int16_t> far_position;
    std::vector<std::uint16_t> wavelength_nm;
    std::vector<double> value; ///< dB, or dBm where `is_power`
    std::vector<double> length_m;
    std::vector<std::int64_t> taken_ms;
    std::vector<std::int16_t> offset_minutes;
    std::vector<std::uint32_t> line;
    bool is_power = false;

    std::size_t size() const { return check.size(); }
};

Result<Intake<ReferencePowers>> read_reference(std::string_view file, ReadOptions const& options = {});

/// Rows of one check, position, wavelength and time are treated as in read_readings(): said twice, kept once;
/// said differently, bad.
Result<Intake<CordChecks>> read_cord_check(std::string_view file, ReadOptions const& options = {});

} // namespace guidepin::intake
