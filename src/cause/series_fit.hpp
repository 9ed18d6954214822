// SPDX-License-Identifier: Apache-2.0
// When a series of readings under one reference changes, and by how much. Inside this room only.
// Method: docs/methods/causes.md, "Links x references x positions". Verified by:
// tests/unit/cause/explainer.cpp.
#pragma once

#include <cstddef>
#include <vector>

namespace guidepin::cause {

/// Returns the series with single links that stand out put on the middle of their neighbours: a bad link is
/// no drift.
std::vector<double> cleaned(std::vector<double> const& series, double sd);

/// Returns the logarithm of the density of a residual `x`. A link is healthy or, now and then, anything: then
/// it says nothing about its reference.
double mixture_log(double x, double sd);

struct ChangeFit
{
    double log_factor = -1e9; ///< evidence for a change against none
    double size = 0, u = 0;
    std::size_t from = 0, earliest = 0, latest = 0; ///< places in the series; the interval holds 90 %
    bool ramp = false;                              ///< grows evenly up to the last link
};

/// Weighs steps and ramps from every link on: the size is integrated out, all starts are equally likely.
ChangeFit fit_change(std::vector<double> const& series, double sd);

struct CordFit
{
    double log_factor = -1e9; ///< evidence for a dirty position against a sound one
    double size = 0, u = 0;
    std::size_t from = 0; ///< one of `index`
};

/// Weighs a constant from some link on, with nothing before it. `index[i]` is the place of `series[i]` in the
/// session.
CordFit fit_cord(std::vector<double> const& series, std::vector<std::size_t> const& index, double sd);

} // namespace guidepin::cause
