// SPDX-License-Identifier: Apache-2.0
// Can a reference have been taken with the kit that it names? The joints of its method, mated end by end, and
// what each item states of itself. Rules: docs/methods/reference.md. Verified by:
// tests/unit/job/reference_kit.cpp (pin tables by hand, faces, families, missing and doubled cords).
#pragma once

#include "job/state/state.hpp"
#include "verdict/reason.hpp"

#include <vector>

namespace guidepin::job {

/// What speaks against it. Refuses where all ends of a joint are registered, or stated in the job sheet;
/// else, and where exchangeable pins would have to be other ones, it remarks.
std::vector<verdict::Reason> kit_reasons(JobState const& state, ReferenceEntry const& reference);

} // namespace guidepin::job
