// SPDX-License-Identifier: Apache-2.0
// Readings of a site as plain columns of numbers with the unit in their name, because the explanation goes
// through all of them many times. Each place has one reading: the caller leaves out what a retest superseded.
#pragma once

#include "plant/connector.hpp"
#include "plant/fibre_map.hpp"
#include "units/quantity.hpp"
#include "verdict/reference_id.hpp"

#include <array>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::cause {

constexpr std::size_t max_wavelengths = 4;
constexpr std::uint32_t none = 0xffffffff;
/// In `loss_db`: the meter saw no light.
constexpr float dark = std::numeric_limits<float>::infinity();

/// Links of one kind share plug, map and optics.
struct LinkKind
{
    plant::Family family;
    plant::PositionMap a_to_b; ///< as planned; empty: not judged
    plant::Occupancy occupied; ///< at A
    bool multimode = true;
    bool angled = false;
    std::size_t wavelengths = 1; ///< in rising order of wavelength_nm
    std::array<std::uint16_t, max_wavelengths> wavelength_nm{};
    /// Natural loss of the joints, without fibre and reading: from the prediction.
    double natural_mean = 0.3, natural_sd = 0.1, natural_skewness = 1;
    double own_u = 0.03;    ///< of one reading, standard uncertainty, dB
    double common_u = 0.04; ///< of all readings under one reference
    /// Kinds of one group are compared with each other where a kind has too few links of its own: category,
    /// connections, splices.
    std::uint32_t group = 0;
};

struct LinkRow
{
    std::string id;
    std::uint32_t kind = none;                    ///< none: not scheduled; checked for copies only
    std::uint32_t panel_a = none, panel_b = none; ///< where its ends are; links with equal numbers share it
    std::uint32_t reference = none;
    std::int64_t taken_ms = std::numeric_limits<std::int64_t>::min();
    double drawn_m = std::numeric_limits<double>::quiet_NaN();
    double tolerance_m = 2;
    double measured_m = std::numeric_limits<double>::quiet_NaN(); ///< middle of its fibres
    /// Loss of the fibre as it should be, by wavelength, for 1 km.
    std::array<double, max_wavelengths> db_per_km{};
    std::uint32_t first_cell = 0;   ///< in Columns::loss_db
    std::uint32_t first_place = 0;  ///< in Columns::far and length_m
    std::uint8_t positions = 0;     ///< of the plug
    std::array<bool, 2> measured{}; ///< launched from A, from B
    plant::PositionMap a_to_b;      ///< as measured, dark positions missing
    bool map_known = false;
};

/// What the watch already knows of a reference: from a link on, all positions read more or less.
struct KnownChange
{
    std::uint32_t first = none, earliest = none, latest = none; ///< links; the interval holds it with 95 %
    Decibel size, u;                                            ///< of a ramp: at its last link
    bool ramp = false;
    double probability = 0;
    friend bool operator==(KnownChange const&, KnownChange const&) = default;
};

/// The same of its level, from the first link on.
struct KnownLevel
{
    Decibel size, u;
    double probability = 0;
    friend bool operator==(KnownLevel const&, KnownLevel const&) = default;
};

/// By reference; empty without a watch: then the explanation judges alone.
struct Known
{
    std::vector<std::optional<KnownChange>> changes;
    std::vector<std::optional<KnownLevel>> levels;
};

struct Columns
{
    std::vector<LinkKind> kinds;
    std::vector<LinkRow> links;
    std::vector<verdict::ReferenceId> references;
    Known known;
    /// cell = first_cell + ((direction * wavelengths) + w) * positions + (position at A - 1); NaN: no reading
    std::vector<float> loss_db;
    std::vector<float> length_m; ///< first_place + position - 1; NaN: none

    std::size_t cell(LinkRow const& link, std::size_t direction, std::size_t w, int position) const
    {
        return link.first_cell + (direction * kinds[link.kind].wavelengths + w) * link.positions +
               static_cast<std::size_t>(position - 1);
    }
};

} // namespace guidepin::cause
