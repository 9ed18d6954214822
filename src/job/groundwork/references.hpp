// SPDX-License-Identifier: Apache-2.0
// Judges references and cord checks, and holds the readings that were taken under a bad one. Verified by:
// tests/unit/job/job.cpp, tests/unit/job/reference_cover.cpp.
#pragma once

#include "job/groundwork/groundwork.hpp"

namespace guidepin::job {

/// Fills references, checks, covers, timeline and hold of the ground. Uses its models, tasks and rows.
Outcome stand_references(JobState const& state, Groundwork& ground);
/// Fills hold from row `first` on. The timeline is already there.
void hold_rows(JobState const& state, Groundwork& ground, std::size_t first);

} // namespace guidepin::job
