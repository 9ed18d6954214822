// SPDX-License-Identifier: Apache-2.0
// A doubt as people read it. Verified by: tests/unit/job/watch.cpp, tests/cli/transcripts/watch.txt.
#pragma once

#include "job/doubt/watched_reference.hpp"

#include <string>

namespace guidepin::job {

/// Returns what is doubted: "All positions under R-3 read 0.21 dB higher (u 0.03 dB) from S-03 on".
std::string doubt_text(JobState const& state, WatchedReference const& reference, Doubt const& doubt);
/// Returns what to do about it, in words for every reader. How a decision is recorded is for the caller to
/// add: a page has a form, the command line a command.
std::string doubt_action(JobState const& state, WatchedReference const& reference, Doubt const& doubt);
/// Returns whether the test lead can release what the doubt holds by a decision.
bool may_be_accepted(Doubt const& doubt);

} // namespace guidepin::job
