// SPDX-License-Identifier: Apache-2.0
// Which readings the doubts hold, and which of them a person's decision releases. Choice of what is held:
// docs/decisions/0040. Verified by: tests/unit/job/watch.cpp.
#pragma once

#include "job/doubt/watched_reference.hpp"

namespace guidepin::job {

/// Applies the decisions of people to the doubts of one reference. Fills `id`, `trusted` and `held` of each
/// doubt and puts the one that holds most first.
void decide(JobState const& state, WatchedReference& reference);

/// Marks in ground.hold what the doubts hold and nothing else holds.
void hold_doubtful(JobState const& state, Watching const& watching, Groundwork& ground);

} // namespace guidepin::job
