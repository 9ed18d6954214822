// SPDX-License-Identifier: Apache-2.0
// The simulated world between drawing and measuring. Inside this room only.
#pragma once

#include "loss/random.hpp"
#include "plant/fibre_map.hpp"
#include "simulate/site.hpp"

#include <array>
#include <vector>

namespace guidepin::simulate {

using loss::Random;

/// Links of one kind share optics, plug and promised map.
struct Kind
{
    facts::FibreKind fibre = facts::FibreKind::multimode;
    std::string category, family, fibres, trunk_type;
    plant::Face face = plant::Face::flat;
    int inner = 0;
    std::array<std::uint16_t, 2> wavelength_nm{};
    std::array<double, 2> db_per_km{};
    double shape = 0, scale = 0; ///< gamma of one joint at the first wavelength
    double shortest_m = 0, longest_m = 0;
    std::size_t group = 0; ///< kinds of one group are measured with the same test cords
    double share = 0;      ///< of the site's links
    plant::PositionMap map;
};

/// What hangs there, whatever the schedule says. Positions from 1; [0] is not used.
struct Body
{
    std::size_t kind = 0;
    plant::PositionMap map;
    double length_m = 0;
    struct Fibre
    {
        std::array<double, 2> joints_db{}; ///< by wavelength
        std::array<double, 2> only_a_db{}; ///< more, when launched from A
        std::array<double, 2> only_b_db{};
        bool broken = false;
    };
    std::vector<Fibre> fibres; ///< by position at A - 1
};

/// What a reference session suffers from.
struct SessionFault
{
    double bias_db = 0;    ///< taken off every reading
    int bias_position = 0; ///< 0: all
    double drift_db = 0;   ///< reached at the end, or at once
    bool ramp = false;
    std::size_t drift_from = 0; ///< index within the session
    int cord_position = 0;      ///< of the test cord's plug; 0: none
    bool tail = false;
    double cord_db = 0;
    std::size_t cord_from = 0;
    bool mirrored = false; ///< a test cord of the wrong type
};

struct World
{
    Design design;
    std::vector<Kind> kinds;
    std::vector<Body> bodies;                                    ///< by link
    std::vector<std::size_t> kind;                               ///< by link, as scheduled
    std::vector<std::uint32_t> reference;                        ///< by link
    std::vector<SessionFault> sessions;                          ///< by reference
    std::vector<std::pair<std::uint32_t, std::uint32_t>> copies; ///< to, from
    std::vector<bool> exact_copy;
    Site site;
};

/// Loss of a joint at both wavelengths whose loss at the first is `first_db`.
std::array<double, 2> at_both(Kind const& kind, double first_db, Random& random);

/// Puts the wished faults into the world and writes down the truth.
Outcome spoil(World& world, Random& random);

} // namespace guidepin::simulate
