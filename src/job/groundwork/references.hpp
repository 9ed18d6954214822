// SPDX-License-Identifier: Apache-2.0
// How far each reference can be trusted, and what that does to the readings taken under it.
#pragma once

#include "job/groundwork/groundwork.hpp"

namespace guidepin::job {

/// Fills references, checks and hold of the ground.
Outcome stand_references(JobState const& state, Groundwork& ground);
/// Fills hold from row `first` on, by the timeline as it is.
void hold_rows(JobState const& state, Groundwork& ground, std::size_t first);

} // namespace guidepin::job
