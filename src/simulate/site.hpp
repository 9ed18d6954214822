// SPDX-License-Identifier: Apache-2.0
// A site that never was: links, references, cord checks and readings drawn from the physics of joints and
// fibre, with known faults and the truth beside them. It knows nothing of the code that explains. What is
// drawn from what: docs/methods/simulate.md. Same design, same site, on every machine with IEEE arithmetic.
// Verified by: tests/unit/simulate/site.cpp (moments against the grades, each fault's mark in the readings,
// same seed same site).
#pragma once

#include "facts/tables.hpp"
#include "plant/link.hpp"
#include "simulate/fault.hpp"

#include <cstdint>
#include <string>
#include <vector>

namespace guidepin::simulate {

struct Design
{
    std::uint64_t seed = 1;
    std::size_t links = 120; ///< at least 1
    std::vector<Wish> faults;
    bool both_directions = false;
    std::size_t links_per_reference = 40; ///< at least 4
    /// Joints of the site are this share of what their grade allows, each population somewhere between.
    double quality_low = 0.4, quality_high = 0.8;
    // Standard deviations in dB.
    double own_u = 0.012;         ///< of one reading, before it is rounded to 0.01
    double remating_u = 0.02;     ///< of one fibre, each time the test cords are mated
    double link_u = 0.012;        ///< of all fibres of a link together
    double reference_u = 0.025;   ///< of a reference, all positions of a wavelength together
    double position_u = 0.015;    ///< of one position of a reference
    double copy_jitter_db = 0.01; ///< copied values are off by up to this; half of the copies are exact
};

constexpr std::int64_t hour_ms = 3'600'000;

struct Reading
{
    std::uint32_t link = 0; ///< index into Site::links
    std::uint32_t reference = 0;
    bool from_b = false; ///< launched from B; positions are those at the launch end
    std::int16_t position = 0;
    std::int16_t far_position = 0; ///< 0: dark
    std::uint16_t wavelength_nm = 0;
    double attenuation_db = 0;
    double length_m = 0; ///< NaN where dark
    std::int64_t taken_ms = 0;
};

struct ReferencePower
{
    std::int16_t position = 0;
    std::uint16_t wavelength_nm = 0;
    double power_dbm = 0;
    std::int64_t taken_ms = 0;
};

/// Source, meter and cords stayed together from here to the next one.
struct Reference
{
    std::string id; ///< "R-1"
    std::string family;
    facts::FibreKind kind = facts::FibreKind::multimode;
    std::vector<ReferencePower> powers;
    /// Joined through a known cord (two joints): attenuation by position and wavelength, first check of the
    /// session only.
    std::vector<Reading> check;       ///< `link` has no meaning
    std::vector<std::uint32_t> links; ///< in the order of their measurement
};

/// One fault as it was put in.
struct Truth
{
    Fault fault = Fault::dirty_end_face;
    std::vector<std::uint32_t> links; ///< affected, in order of measurement
    std::vector<int> positions;       ///< at A; empty: all. Of the test cord's plug for test-cord-position
    double size_db = 0;               ///< 0 where it has no size in dB
    int reference = -1;               ///< index, for faults of a reference or test cord
    std::uint32_t first = 0;          ///< first link affected, of a reference's fault
    std::string detail;
};

struct Site
{
    std::vector<plant::LinkSpec> links;
    std::vector<Reference> references;
    std::vector<Reading> readings; ///< in order of time
    std::vector<Truth> truths;
};

/// invalid_input for a design beyond its bounds, or more faults than there are links or references to carry
/// them.
Result<Site> simulate(Design const& design, facts::Tables const& tables = facts::built_in_tables());

} // namespace guidepin::simulate
