// SPDX-License-Identifier: Apache-2.0
// Values that rest on memory, not on a printed document, and decide something: each with how to replace it.
// Verified by: tests/cli/package.py.
#pragma once

#include "job/groundwork/groundwork.hpp"
#include "loss/limit.hpp"
#include "report/common.hpp"

#include <string>
#include <vector>

namespace guidepin::job {

/// Returns the value of a line of a limit as unconfirmed; `decides` says what it decides.
report::Unconfirmed unconfirmed(loss::LimitLine const& line, std::string decides);

/// Returns all unconfirmed values that decided something in this job, each once.
std::vector<report::Unconfirmed> unconfirmed_of(JobState const& state, Groundwork const& ground);

} // namespace guidepin::job
