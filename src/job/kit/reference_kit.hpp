// SPDX-License-Identifier: Apache-2.0
// Can a reference have been taken with the kit that it names? Checks the joints of its method end by end, and
// what is known of each item. Rules: docs/methods/reference.md. Verified by:
// tests/unit/job/reference_kit.cpp (pin tables by hand, faces, families, missing and doubled cords).
#pragma once

#include "job/state/state.hpp"
#include "verdict/reason.hpp"

#include <vector>

namespace guidepin::job {

/// Returns the reasons against it. A reason refuses if all ends of a joint are registered or stated in the
/// job sheet. Otherwise, or if other exchangeable pins would fit, it is a remark.
std::vector<verdict::Reason> kit_reasons(JobState const& state, ReferenceEntry const& reference);

} // namespace guidepin::job
