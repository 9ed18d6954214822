// SPDX-License-Identifier: Apache-2.0
// The set-ups of a whole job, in the order of the work. Method: docs/methods/setup.md. Verified by:
// tests/unit/job/set_up.cpp, tests/unit/job/kit_register.cpp (what the register refuses is not planned with),
// tests/cli/transcripts/setup.txt.
#pragma once

#include "job/plan/set_up.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::job {

struct JobSetupWish
{
    std::optional<KitFile> kit;       ///< none: the job's own
    std::optional<setup::Day> today;  ///< what the register refuses on this day is not used, and told
    std::vector<std::string> methods; ///< none: the job's
    bool either_end = true;
    bool alternatives = true;
};

struct SetupGroup
{
    int number = 0; ///< from 1, in the order of the work
    std::vector<setup::GroupedLink> links;
    bool new_reference = true;
    std::string why;
    SolvedSetup setup;
};

struct JobSetups
{
    std::vector<SetupGroup> groups;
    setup::JobCost cost;
    bool exact = true;
    std::vector<setup::KitLine> kit_list;
    std::vector<UnsolvedGroup> unsolved;
    std::vector<setup::JobAlternative> alternatives;
    std::vector<std::string> remarks;
};

/// The set-ups of all links of the job. Links are parted by the instruments that fit them (family, kind of
/// fibre, then face), then grouped by setup::plan_job. Errors: invalid_input without links or instruments.
Result<JobSetups> job_setups(JobState const& state, JobSetupWish const& wish);

} // namespace guidepin::job
