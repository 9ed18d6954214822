// SPDX-License-Identifier: Apache-2.0
// A set-up as people see it: facts, phases with their line of light, steps and numbers. Page, job card,
// command line and record are made from this one sheet. Record body: docs/formats/record-bodies.md. Verified
// by: tests/unit/job/set_up.cpp (there and back).
#pragma once

#include "job/entry/set_up_record.hpp"
#include "job/plan/job_set_ups.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace guidepin::job {

std::string title_of(setup::Phase phase); ///< "Prepare", "Reference", "Cord check", "Test"

/// Builds the sheet. `group` gives number and links; nullptr without a job.
SetupSheet sheet_of(SolvedSetup const& solved, SetupGroup const* group = nullptr);

/// Returns what a cord check must show, such as "−0.10 to 0.11 dB, up to 0.50 dB with a remark".
std::string accept_text(CheckNumbers const& numbers);
/// Returns what refuses it, such as "above 0.50 dB or below −0.20 dB".
std::string refuse_text(CheckNumbers const& numbers);

/// Returns the first `shown` links and how many more there are: "A, B, C and 12 more".
std::string links_text(std::vector<std::string> const& links, std::size_t shown);

} // namespace guidepin::job
