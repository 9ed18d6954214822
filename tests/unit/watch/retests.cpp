// SPDX-License-Identifier: Apache-2.0
// Oracle: exhaustive search over all trees of few leaves, and following every outcome to its end.
#include "watch/retests.hpp"

#include <cmath>
#include <functional>
#include <set>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::watch {
namespace retests_test {

ChangePoint suspected(std::vector<double> probability, std::size_t earliest, std::size_t latest)
{
    double sum = 0;
    for (double const p : probability) sum += p;
    for (double& p : probability) p /= sum;
    ChangePoint change;
    change.probability = std::move(probability);
    change.earliest = earliest;
    change.latest = latest;
    change.first_after = (earliest + latest) / 2;
    return change;
}

// Follows the plan while link i has moved exactly when i >= truth.
RetestPlan followed(ChangePoint const& change, std::size_t links, std::size_t truth, std::size_t& retests)
{
    std::vector<RetestOutcome> outcomes;
    auto plan = plan_retests(change, links);
    while (plan.next && outcomes.size() <= links) {
        outcomes.push_back({*plan.next, *plan.next >= truth});
        plan = plan_retests(change, links, outcomes);
    }
    retests = outcomes.size();
    return plan;
}

RC_GTEST_PROP(Retests, EveryOutcomeLeadsToTheTruth, ())
{
    auto const links = *rc::gen::inRange<std::size_t>(2, 40);
    auto const earliest = *rc::gen::inRange<std::size_t>(0, links - 1);
    auto const latest = *rc::gen::inRange<std::size_t>(earliest, links);
    auto const weights = *rc::gen::container<std::vector<int>>(links, rc::gen::inRange(1, 100));
    auto const change = suspected({weights.begin(), weights.end()}, earliest, latest);
    for (std::size_t truth = earliest; truth <= links; ++truth) {
        std::size_t retests = 0;
        auto const plan = followed(change, links, truth, retests);
        RC_ASSERT(!plan.contradiction);
        RC_ASSERT(!plan.next.has_value());
        RC_ASSERT(plan.cleared.size() == truth);
        RC_ASSERT(plan.condemned.size() == links - truth);
        RC_ASSERT(plan.undecided.empty());
        RC_ASSERT(retests <= plan_retests(change, links).at_most);
    }
}

// The least average depth over all trees, by trying every split.
double least_cost(std::vector<double> const& w, std::size_t i, std::size_t j)
{
    if (i == j) return 0;
    double sum = 0;
    for (std::size_t k = i; k <= j; ++k) sum += w[k];
    double best = 1e9;
    for (std::size_t k = i; k < j; ++k) best = std::min(best, least_cost(w, i, k) + least_cost(w, k + 1, j));
    return best + sum;
}

RC_GTEST_PROP(Retests, NoPlanNeedsFewerOnAverage, ())
{
    auto const links = *rc::gen::inRange<std::size_t>(2, 9);
    auto const weights = *rc::gen::container<std::vector<int>>(links, rc::gen::inRange(1, 100));
    auto const change = suspected({weights.begin(), weights.end()}, 0, links - 1);
    std::vector<double> leaves;
    for (double const p : change.probability) leaves.push_back(0.95 * p);
    leaves.push_back(0.05);
    RC_ASSERT(std::abs(plan_retests(change, links).expected - least_cost(leaves, 0, links)) < 1e-7);
}

TEST(Retests, EvenSuspicionIsBisected)
{
    // 15 links equally suspected and the false alarm: 16 leaves, 4 retests at most.
    std::vector<double> probability(15, 1);
    auto const plan = plan_retests(suspected(probability, 0, 14), 15, {}, 1.0 / 16);
    EXPECT_EQ(plan.at_most, 4u);
    EXPECT_NEAR(plan.expected, 4, 1e-7);
    EXPECT_EQ(plan.next, std::size_t{7});
}

TEST(Retests, FalseAlarmAndContradiction)
{
    auto const change = suspected({0, 0, 1, 2, 1, 0, 0}, 2, 4);
    auto const cleared = plan_retests(change, 7, {{6, false}});
    EXPECT_FALSE(cleared.next);
    EXPECT_EQ(cleared.cleared.size(), 7u);
    auto const odd = plan_retests(change, 7, {{3, true}, {5, false}});
    EXPECT_TRUE(odd.contradiction);
    EXPECT_EQ(odd.undecided.size(), 5u);
    // The change came after the interval: the plan goes on there.
    auto const late = plan_retests(change, 7, {{4, false}, {6, true}});
    EXPECT_EQ(late.next, std::size_t{5});
}

} // namespace retests_test
} // namespace guidepin::watch
