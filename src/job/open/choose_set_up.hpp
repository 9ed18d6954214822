// SPDX-License-Identifier: Apache-2.0
// A set-up that somebody is going to work by becomes part of the job.
#pragma once

#include "job/open/job.hpp"
#include "job/plan/job_set_ups.hpp"

#include <string>

namespace guidepin::job {

/// Keeps a set-up that is going to be worked by; gives the hash of its record. Errors: refused, when the
/// register refuses an item of it on that day and nobody overrode that: each is named, with why and the way
/// out.
Result<std::string> choose(Job& job, SetupGroup const& group, setup::Day today);

} // namespace guidepin::job
