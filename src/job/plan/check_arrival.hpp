// SPDX-License-Identifier: Apache-2.0
// The sentence about where light arrives in a cord check, and the part of it that a job card has room for:
// the record of a set-up keeps the whole sentence. Verified by: tests/unit/job/set_up.cpp.
#pragma once

#include "report/locale.hpp"
#include "setup/plan.hpp"

#include <string>
#include <string_view>

namespace guidepin::job {

/// Returns where position 1 and the last one arrive, and how long the cords are: "Position 1 of the launch
/// cord's plug arrives at 12 of the tail cord's plug, 12 at 1. …"; "" if the plan does not say.
std::string arrival_text(setup::Question const& question, setup::Plan const& plan,
                         report::Locale const& locale);

/// Returns the same without what the instrument shows of the length, and without the full stop.
std::string_view arrival_in_short(std::string_view arrival);

} // namespace guidepin::job
