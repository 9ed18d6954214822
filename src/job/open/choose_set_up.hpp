// SPDX-License-Identifier: Apache-2.0
// Adds the set-up that people chose for the work to the job.
#pragma once

#include "job/open/job.hpp"
#include "job/plan/job_set_ups.hpp"

#include <string>

namespace guidepin::job {

/// Records the set-up that will be used; returns the hash of its record. Errors: refused if the register
/// refuses an item of it on that day and nobody overrode that; the message names each item, the reason and
/// the remedy.
Result<std::string> choose(Job& job, SetupGroup const& group, setup::Day today);

} // namespace guidepin::job
