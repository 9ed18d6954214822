// SPDX-License-Identifier: Apache-2.0
// Oracle: for small jobs every order of the kinds of link, every end, and every choice between going on and a
// new reference is tried without memory or pruning. Also the table "put the launch cord at the end whose pins
// equal the meter port's", which follows from pinned-meets-unpinned (IEC 61754-7). Costs are whole numbers:
// no tolerance.
#include "setup/job_setup.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <functional>
#include <random>
#include <tuple>

namespace guidepin::setup {
namespace job_order_test {

using plant::Pins;

plant::Family const mpo12{plant::Family::Key::mpo12, 1, 12};

JobLinks link_of(std::string id, Pins a, Pins b, plant::Face face = plant::Face::flat)
{
    JobLinks link;
    link.ids = {std::move(id)};
    link.cabling.first = {"a", plug_of(mpo12, a, face), plant::EndFitting::opposed_adapter};
    link.cabling.second = {"b", plug_of(mpo12, b, face), plant::EndFitting::opposed_adapter};
    return link;
}

using Sum = std::tuple<int, int, int>; // pin changes, references, matings

/// One link of each kind; nothing is remembered between branches.
std::optional<Sum> least(JobQuestion const& job, std::vector<JobLinks> const& kinds)
{
    std::optional<Sum> best;
    std::vector<std::size_t> order(kinds.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::function<void(std::size_t, Kit const&, std::optional<InForce> const&, Sum)> go =
        [&](std::size_t at, Kit const& kit, std::optional<InForce> const& force, Sum sum) {
            if (at == order.size()) {
                if (!best || sum < *best) best = sum;
                return;
            }
            for (int const turn : {0, 1}) {
                for (int const on : {0, 1}) {
                    if (on == 1 && !force) continue;
                    Question question;
                    question.source = job.source;
                    question.meter = job.meter;
                    question.cabling = kinds[order[at]].cabling;
                    if (turn == 1) std::swap(question.cabling.first, question.cabling.second);
                    question.kit = kit;
                    question.permitted = job.permitted;
                    if (on == 1) question.in_force = force;
                    auto const answer = solve(question, SolveOptions{false});
                    if (!answer || !answer->plan) continue;
                    Plan const& plan = *answer->plan;
                    go(at + 1, plan.kit_after(kit), plan.in_force(),
                       {std::get<0>(sum) + plan.cost.pin_changes, std::get<1>(sum) + (on == 1 ? 0 : 1),
                        std::get<2>(sum) + plan.cost.reference_matings});
                }
            }
        };
    do go(0, job.kit, std::nullopt, {0, 0, 0});
    while (std::next_permutation(order.begin(), order.end()));
    return best;
}

TEST(JobOrder, agrees_with_every_order_tried)
{
    int compared = 0;
    int going_on = 0;
    for (int seed = 1; seed <= 120; ++seed) {
        std::mt19937_64 random{static_cast<std::uint64_t>(seed)};
        auto const pins = [&] { return random() % 2 == 0 ? Pins::pinned : Pins::unpinned; };
        JobQuestion job;
        job.source = port_of(mpo12, pins());
        job.meter = port_of(mpo12, pins());
        job.permitted = {Arrangement::one_cord};
        if (random() % 3 == 0) job.permitted.push_back(Arrangement::three_cord);
        int const cords = 3 + static_cast<int>(random() % 3);
        for (int c = 0; c < cords; ++c) {
            EndPins near = pins();
            EndPins far = pins();
            near.exchangeable = random() % 3 == 0;
            far.exchangeable = random() % 2 == 0;
            job.kit.cords.push_back(cord_of("c" + std::to_string(c), mpo12, near, far));
        }
        job.kit.adapters = {{plant::KeyRelation::opposed, mpo12.key, 2}};
        job.kit.pin_tools = {{"tool", mpo12.key}};
        std::vector<JobLinks> const kinds{link_of("pp", Pins::pinned, Pins::pinned),
                                          link_of("uu", Pins::unpinned, Pins::unpinned),
                                          link_of("pu", Pins::pinned, Pins::unpinned)};
        job.links = kinds;
        job.links.push_back(
            link_of("up", Pins::unpinned, Pins::pinned)); // the third kind, from the other end
        job.links.push_back(link_of("pp-2", Pins::pinned, Pins::pinned));
        auto const plan = plan_job(job, false);
        ASSERT_TRUE(plan) << plan.error().message;
        auto const expected = least(job, kinds);
        if (!plan->unsolved.empty()) {
            EXPECT_FALSE(expected) << "seed " << seed;
            continue;
        }
        ASSERT_TRUE(expected) << "seed " << seed;
        EXPECT_EQ((Sum{plan->cost.pin_changes, plan->cost.references, plan->cost.reference_matings}),
                  *expected)
            << "seed " << seed;
        EXPECT_EQ(plan->cost.setups, 3);
        ++compared;
        for (JobGroup const& group : plan->groups) going_on += group.new_reference ? 0 : 1;
        // Every link once, and the two mixed ones from opposite ends.
        std::map<std::string, bool> seen;
        for (JobGroup const& group : plan->groups)
            for (GroupedLink const& link : group.links)
                EXPECT_TRUE(seen.emplace(link.id, link.from_end_b).second);
        EXPECT_EQ(seen.size(), job.links.size());
        EXPECT_NE(seen.at("pu"), seen.at("up"));
    }
    EXPECT_GT(compared, 30);
    EXPECT_GT(going_on, 10);
}

// Mixed ends: no pin action at all when the launch cord goes to the end whose pins equal the meter port's.
TEST(JobOrder, launch_at_the_end_that_equals_the_meter)
{
    for (Pins const meter : {Pins::pinned, Pins::unpinned}) {
        for (Pins const source : {Pins::pinned, Pins::unpinned}) {
            JobQuestion job;
            job.source = port_of(mpo12, source);
            job.meter = port_of(mpo12, meter);
            job.links = {link_of("pu", Pins::pinned, Pins::unpinned),
                         link_of("up", Pins::unpinned, Pins::pinned)};
            job.kit = complete_kit(job.source, job.meter, job.links[0].cabling, false);
            auto const plan = plan_job(job, true);
            ASSERT_TRUE(plan);
            ASSERT_EQ(plan->groups.size(), 1U);
            EXPECT_EQ(plan->groups[0].plan.cost.pin_changes, 0);
            EXPECT_EQ(plan->groups[0].question.cabling.first.plug.pins, meter);
            for (GroupedLink const& link : plan->groups[0].links)
                EXPECT_EQ(link.from_end_b, (link.id == "pu") != (meter == Pins::pinned)) << link.id;
            // Always from end a: with fixed pins one of the two cannot be done under a one-cord reference.
            ASSERT_FALSE(plan->alternatives.empty());
            EXPECT_EQ(plan->alternatives[0].name, "always launched from end a");
            EXPECT_FALSE(plan->alternatives[0].cost);
            EXPECT_NE(plan->alternatives[0].blocker.find("pins"), std::string::npos);
        }
    }
}

} // namespace job_order_test
} // namespace guidepin::setup
