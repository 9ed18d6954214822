// SPDX-License-Identifier: Apache-2.0
// Why there is no plan, in words, for the messages of failing tests.
#pragma once

#include "setup/plan.hpp"

#include <string>

namespace guidepin::setup {

inline std::string text_of(NoPlan const& none)
{
    std::string text;
    for (Blocker const& blocker : none.blockers) text += blocker.text() + "\n";
    return text + (none.remedy ? "What would make it possible: " + none.remedy->text + "."
                               : "No single item of the usual kinds would make it possible.");
}

} // namespace guidepin::setup
