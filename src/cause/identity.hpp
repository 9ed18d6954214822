// SPDX-License-Identifier: Apache-2.0
// Identity of a finding: the same for the same fault, whoever finds it. Verified by:
// tests/unit/job/doubt_findings.cpp (a doubted reference keeps the id of the explanation's finding).
#pragma once

#include "cause/finding.hpp"

namespace guidepin::cause {

/// `parts`: names of the links, or "reference R-3".
std::string identity_of(Cause cause, std::vector<std::string> parts, std::vector<int> const& positions);

} // namespace guidepin::cause
