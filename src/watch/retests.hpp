// SPDX-License-Identifier: Apache-2.0
// Plans which links to measure again after a reference became doubtful, with as few retests as possible.
//
// A link that was measured before the change shows the same values under a fresh, checked reference; one
// measured after it shows them moved by the size of the change. So one retest of a link shows on which side
// of the change it was measured, and so decides all links beyond it. The plan is the search tree with the
// fewest retests on average over the posterior of the time of change (Hu and Tucker 1971 for such trees;
// solved by Knuth's dynamic programme), which is bisection of the suspected interval, weighted by where the
// change probably was. Verified by: tests/unit/watch/retests.cpp (exhaustive search over small trees; every
// outcome leads to the truth).
#pragma once

#include "watch/charts.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::watch {

struct RetestOutcome
{
    std::size_t link = 0;
    bool moved =
        false; ///< the values differ from the first ones by at least half the change, in its direction
};

struct RetestPlan
{
    std::optional<std::size_t> next; ///< the link to retest now; nothing when all is decided
    /// Retests still needed in the worst case, `next` included; an estimate where more than 512 links are in
    /// doubt.
    std::size_t at_most = 0;
    double expected = 0;                ///< on average
    std::size_t first_possible = 0;     ///< the first link affected lies in first_possible … last_possible;
    std::size_t last_possible = 0;      ///< = number of links when the alarm may still be a false one
    std::vector<std::size_t> cleared;   ///< links shown good by the outcomes so far
    std::vector<std::size_t> condemned; ///< links shown to be affected: measure again
    std::vector<std::size_t> undecided; ///< held until the plan is done
    bool contradiction = false; ///< outcomes that no single change explains: hold all, take a new reference
    std::string why;            ///< one sentence for the person who asks why this link
};

/// The plan after these outcomes. `links`: how many were measured under the reference. Links before
/// change.earliest count as good from the start. `false_alarm`: probability that nothing changed.
RetestPlan plan_retests(ChangePoint const& change, std::size_t links,
                        std::vector<RetestOutcome> const& outcomes = {}, double false_alarm = 0.05);

} // namespace guidepin::watch
