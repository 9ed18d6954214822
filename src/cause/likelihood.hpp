// SPDX-License-Identifier: Apache-2.0
// How well an assumed effect explains the readings of one link. Inside this room only.
// Verified by: tests/oracle/cause/signatures.cpp.
#pragma once

#include "cause/inside.hpp"

#include <vector>

namespace guidepin::cause {

/// What an assumed fault adds, by position: mean and variance of base, step and turn. dB.
struct Profile
{
    std::vector<double> base, step, turn;
    std::vector<double> base_var, step_var, turn_var;
    explicit Profile(std::size_t n)
        : base(n, 0)
        , step(n, 0)
        , turn(n, 0)
        , base_var(n, 0)
        , step_var(n, 0)
        , turn_var(n, 0)
    {
    }
};

/// What is left of one link's readings: without its kind, its reference, the test cords and the faults that
/// were already found.
struct Residuals
{
    std::vector<double> base, step, turn;             ///< NaN where nothing was read
    std::vector<double> base_var, step_var, turn_var; ///< uncertainty of the faults already taken off
    Population const* population = nullptr;
    LinkKind const* kind = nullptr;
    bool has_step = false, has_turn = false;
    std::vector<int> lit; ///< positions still to be explained, from 1

    std::size_t fibres() const { return base.size(); }
};

/// Logarithm of the density of these residuals if the link has the faults of this profile.
double log_likelihood(Residuals const& residuals, Profile const& profile);

} // namespace guidepin::cause
