// SPDX-License-Identifier: Apache-2.0
#include "job/plan/unsolved_set_up.hpp"

#include "base/text.hpp"
#include "setup/ways_out.hpp"

namespace guidepin::job {

std::string refused_text(std::vector<std::string> const& refusals)
{
    return "It needs what the register refuses, and the kit has nothing else that serves:\n" +
           joined(refusals, "\n");
}

Result<UnsolvedGroup> unsolved_of(std::vector<std::string> links, setup::NoPlan const& none,
                                  setup::Question const& question)
{
    UnsolvedGroup unsolved;
    unsolved.links = std::move(links);
    std::vector<std::string> reasons;
    for (setup::Blocker const& blocker : none.blockers) reasons.push_back(blocker.text());
    if (none.remedy) {
        unsolved.remedy = none.remedy->text;
    } else {
        TRY_ASSIGN(auto const pair, setup::cheapest_pair(question));
        if (pair) unsolved.remedy = pair->text;
        reasons.emplace_back(pair ? "No single item of the usual kinds would make it possible; two would."
                                  : "Neither one nor two items of the usual kinds would make it possible: "
                                    "ask for a whole set.");
    }
    unsolved.reason = joined(reasons, "\n");
    TRY_ASSIGN(auto const ways, setup::ways_out(question));
    for (setup::WayOut const& way : ways) unsolved.ways.push_back(way.text);
    return unsolved;
}

} // namespace guidepin::job
