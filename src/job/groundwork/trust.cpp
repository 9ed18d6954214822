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

/// `Assessed`: the assessment of a reference or of a cord check.
template <class Assessed>
Trust trust_of(Assessed const& assessment)
{
    Trust trust{verdict::name_of(assessment.state), {}};
    for (verdict::Reason const& reason : assessment.reasons) trust.reasons.push_back(trust_reason(reason));
    return trust;
}

} // namespace

std::vector<ReferenceTrust> reference_trust(JobState const& state, Groundwork const& ground)
{
    std::vector<ReferenceTrust> trusts;
    for (ReferenceStanding const& standing : ground.references)
        trusts.push_back({trust_of(standing.assessment), state.references[standing.entry].id});
    return trusts;
}

std::vector<CheckTrust> check_trust(JobState const& state, Groundwork const& ground)
{
    std::vector<CheckTrust> trusts;
    for (CheckStanding const& standing : ground.checks)
        trusts.push_back({trust_of(standing.assessment), state.checks[standing.entry].id});
    return trusts;
}

} // namespace guidepin::job
