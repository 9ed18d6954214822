// SPDX-License-Identifier: Apache-2.0
// What decides about a link's limits: its category, its wavelengths and the connections inside it. Verified
// by: tests/unit/job/job.cpp, tests/unit/job/records.cpp.
#pragma once

#include "job/state/state.hpp"
#include "loss/limit.hpp"
#include "plant/link_model.hpp"
#include "verdict/judge.hpp"

#include <array>
#include <map>
#include <vector>

namespace guidepin::job {

/// Wavelengths that have to be measured on this kind of fibre: the job's own, or those that the rules
/// require.
std::vector<Nanometres>
required_wavelengths(std::map<facts::FibreKind, std::vector<Nanometres>> const& of_job,
                     facts::RuleSet const& rules, facts::FibreKind kind);

/// What decides about a link's limits.
struct LimitsOf
{
    facts::FibreCategory const* category = nullptr;
    std::vector<Nanometres> wavelengths; ///< required ones first
    std::size_t required = 0;
};
Result<LimitsOf> limits_of(JobState const& state, plant::LinkSpec const& link);

/// Connections inside the link: as the schedule says, or as its chain names them; a contradiction is an
/// error.
Result<int> inner_connections_of(plant::LinkSpec const& link, plant::LinkModel const& model);

/// Whether the link's category, path and limits are such that it can be judged; else why not, as an error.
Outcome link_can_be_judged(JobState const& state, plant::LinkModels& models, plant::LinkSpec const& link);

/// Returns what decides about the link's limits, as a question that lacks only the wavelength. `inner`: the
/// connections inside the link. It points into `state` and lives no longer.
loss::LimitQuestion limit_question(JobState const& state, plant::LinkSpec const& link, LimitsOf const& limits,
                                   int inner);

/// Limits at each wavelength of `limits`, required ones first; NaN where a wavelength that is not required
/// has none.
Result<std::array<double, verdict::max_wavelengths>>
link_limits(JobState const& state, plant::LinkSpec const& link, LimitsOf const& limits, int inner);

} // namespace guidepin::job
