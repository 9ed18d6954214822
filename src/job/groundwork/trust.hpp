// SPDX-License-Identifier: Apache-2.0
// Whether references and cord checks are accepted, in words for pages and the command line. Verified by:
// tests/unit/job/reference_kit.cpp.
#pragma once

#include "job/groundwork/groundwork.hpp"

#include <string>
#include <vector>

namespace guidepin::job {

struct TrustReason
{
    std::string id, text, what_to_do;
    bool refuses = false;
};

struct Trust
{
    std::string state; ///< "accepted", "accepted with remarks", "refused"
    std::vector<TrustReason> reasons;
};
struct ReferenceTrust : Trust
{
    verdict::ReferenceId id;
};
struct CheckTrust : Trust
{
    verdict::CheckId id;
};

std::vector<ReferenceTrust> reference_trust(JobState const& state, Groundwork const& ground);
std::vector<CheckTrust> check_trust(JobState const& state, Groundwork const& ground);

} // namespace guidepin::job
