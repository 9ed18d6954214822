// SPDX-License-Identifier: Apache-2.0
// Sorts a job's readings into tests, one link under one reference, and weighs readings that are lower than
// the cabling can lose. Verified by: tests/unit/job/watch.cpp.
#pragma once

#include "job/doubt/watched_reference.hpp"

#include <vector>

namespace guidepin::job {

/// Adds every reference that readings name to the empty list `references`, in the order of
/// JobState::references. Fills tests, excess and evidence of negative loss for all of them, or only for those
/// whose names (by the readings' dictionary) are marked in `only`.
void gather_tests(JobState const& state, Groundwork const& ground, Expectation const& expectation,
                  std::vector<bool> const* only, std::vector<WatchedReference>& references);

} // namespace guidepin::job
