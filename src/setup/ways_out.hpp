// SPDX-License-Identifier: Apache-2.0
// Where there is no plan: what else would do without a single new item. The other launch end, a method that
// was not permitted, and the cheapest two items. Method: docs/methods/setup.md#no-plan. Verified by:
// tests/unit/setup/ways_out.cpp (each way is solved again and gives a plan at the stated cost).
#pragma once

#include "setup/plan.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::setup {

/// A change of the question, not of the kit, that makes a plan possible.
struct WayOut
{
    Arrangement arrangement = Arrangement::one_cord;
    bool turned = false;    ///< the launch cord goes to the other end of the cabling
    bool permitted = false; ///< by the question as it was asked
    Cost cost;
    std::string
        text; ///< "launch at the other end of the cabling, pinned: one-cord reference, 0 pin changes, …"
};

/// For a question without a plan, in this order: permitted methods from the other end, then each method that
/// is not permitted, from the end that costs less. Empty: none of them helps. Errors: those of solve().
Result<std::vector<WayOut>> ways_out(Question const& question);

/// Two items, each of the catalogue of single remedies, that together make a plan possible.
struct RemedyPair
{
    Remedy first, second;
    Cost cost;        ///< of the plan with both
    std::string text; ///< "an adapter …, and a cord …"
};
/// The pair of the lowest price classes together, then of the cheapest plan; none: no two items help. Meant
/// for a question that no single item helps. Errors: those of solve().
Result<std::optional<RemedyPair>> cheapest_pair(Question const& question);

} // namespace guidepin::setup
