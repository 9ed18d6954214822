// SPDX-License-Identifier: Apache-2.0
// How far each reference can be trusted, and what that does to the readings taken under it.
#pragma once

#include "job/assess/assess.hpp"

namespace guidepin::job {

/// Fills references, checks and hold of the assessment.
Outcome stand_references(JobState const& state, Assessment& assessment);
/// Fills hold from row `first` on, by the timeline as it is.
void hold_rows(JobState const& state, Assessment& assessment, std::size_t first);

/// Wavelengths that have to be measured on this kind of fibre: the job's own, or those that the rules
/// require.
std::vector<Nanometres>
required_wavelengths(std::map<facts::FibreKind, std::vector<Nanometres>> const& of_job,
                     facts::RuleSet const& rules, facts::FibreKind kind);

} // namespace guidepin::job
