// SPDX-License-Identifier: Apache-2.0
// The catalogue of faults that one link can have by itself, and how well each explains its readings. Inside
// this room only. Method and the printed catalogue: docs/methods/causes.md, "One link".
// Verified by: tests/oracle/cause/signatures.cpp (published signatures), tests/unit/cause/explainer.cpp.
#pragma once

#include "cause/likelihood.hpp"

#include <vector>

namespace guidepin::cause {

/// One fault at one set of positions, its size integrated out.
struct Hypothesis
{
    Cause cause = Cause::unexplained;
    double log_weight = -1e300; ///< logarithm of prior times likelihood, over those of no fault at all
    double log_best = -1e300;   ///< the same at the likeliest size, without the prior
    double size_mean = 0, size_sd = 0;
    std::vector<int> positions; ///< empty: all
    Profile profile{0};         ///< at the likeliest size
};

/// Returns every fault of the catalogue that this kind of link can have, weighed against these residuals.
std::vector<Hypothesis> weighed_hypotheses(Residuals const& residuals, Priors const& priors);

} // namespace guidepin::cause
