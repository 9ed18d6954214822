// SPDX-License-Identifier: Apache-2.0
// Why there is no set-up for some links, and what would help. Verified by: tests/unit/job/set_up.cpp,
// tests/cli/transcripts/setup.txt.
#pragma once

#include "setup/search.hpp"

#include <string>
#include <vector>

namespace guidepin::job {

/// Links for which there is no set-up, and what would help.
struct UnsolvedGroup
{
    std::vector<std::string> links;
    std::string reason; ///< rule and joint, why the link is none for a set-up, or what the register refuses
    std::string remedy; ///< the item, or the two, to borrow or buy; "" where neither helps
    std::vector<std::string> ways; ///< what would do with the kit as it is: another end, another method
};

/// Returns the reason in words: the kit would do, but the register refuses these items of it.
std::string refused_text(std::vector<std::string> const& refusals);

/// Explains `none` and looks for items and other ways that would help. `question` is the one without a plan.
Result<UnsolvedGroup> unsolved_of(std::vector<std::string> links, setup::NoPlan const& none,
                                  setup::Question const& question);

} // namespace guidepin::job
