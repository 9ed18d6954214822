// SPDX-License-Identifier: Apache-2.0
// The control charts of one reference: residuals of its links against what all other links lead one to
// expect, and the doubts that follow from the signals. Method: docs/methods/watch.md. Verified by:
// tests/unit/job/watch.cpp.
#pragma once

#include "job/doubt/watched_reference.hpp"

#include <map>
#include <vector>

namespace guidepin::job {

/// Limits of the charts by number of positions.
using ChartLimits = std::map<std::size_t, watch::WatchLimits>;

/// Solves the limits for all references once; they dominate short runs.
ChartLimits chart_limits(Watching const& watching);

/// What is known of the references before the charts run.
struct KnownBefore
{
    std::vector<Expectation::LeftOut> left_out; ///< links that teach nothing, as their reference is doubted
    bool level_unknown = false;                 ///< the level of this reference is known to be wrong
};

/// Runs the charts of one reference over its tests. Replaces its doubts, except that of negative loss.
void run_charts(Watching const& watching, WatchedReference& reference, Expectation const& expectation,
                ChartLimits const& limits, KnownBefore const& known = {});

} // namespace guidepin::job
