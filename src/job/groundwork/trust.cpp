// SPDX-License-Identifier: Apache-2.0
#include "job/groundwork/trust.hpp"

namespace guidepin::job {

namespace {

TrustReason trust_reason(verdict::Reason const& reason)
{
    std::string text = reason.text;
    if (reason.basis == facts::Basis::memory) text += " (value from memory, not confirmed)";
    return {reason.id, text, reason.what_to_do, reason.severity == verdict::Severity::refuse};
}

} // namespace

std::vector<Trust> reference_trust(JobState const& state, Groundwork const& ground)
{
    std::vector<Trust> trusts;
    for (ReferenceStanding const& standing : ground.references) {
        Trust trust{state.references[standing.entry].id, verdict::name_of(standing.assessment.state), {}};
        for (verdict::Reason const& reason : standing.assessment.reasons)
            trust.reasons.push_back(trust_reason(reason));
        trusts.push_back(std::move(trust));
    }
    return trusts;
}

std::vector<Trust> check_trust(JobState const& state, Groundwork const& ground)
{
    std::vector<Trust> trusts;
    for (CheckStanding const& standing : ground.checks) {
        Trust trust{state.checks[standing.entry].id, verdict::name_of(standing.assessment.state), {}};
        for (verdict::Reason const& reason : standing.assessment.reasons)
            trust.reasons.push_back(trust_reason(reason));
        trusts.push_back(std::move(trust));
    }
    return trusts;
}

} // namespace guidepin::job
