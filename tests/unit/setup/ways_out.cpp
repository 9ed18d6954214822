// SPDX-License-Identifier: Apache-2.0
// What would do where there is no plan. Oracle: the way is taken and the question solved anew; pins by the
// rule "pinned meets unpinned" (IEC 61754-7).
#include "setup/ways_out.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace guidepin::setup {
namespace ways_out_test {

using plant::Pins;

plant::Family const mpo12{plant::Family::Key::mpo12, 1, 12};
plant::Family const mpo16{plant::Family::Key::mpo16, 1, 16};

Question question_of(Pins source, Pins meter, Pins first, Pins second)
{
    Question question;
    question.source = port_of(mpo12, source);
    question.meter = port_of(mpo12, meter);
    question.cabling.first = {"A", plug_of(mpo12, first), plant::EndFitting::opposed_adapter};
    question.cabling.second = {"B", plug_of(mpo12, second), plant::EndFitting::opposed_adapter};
    question.kit.adapters = {{plant::KeyRelation::opposed, mpo12.key, 2}};
    return question;
}

/// Ports pinned, cabling unpinned to pinned, cords unpinned-unpinned and unpinned-pinned. Launched at the
/// unpinned end the launch cord would have to be pinned at the cabling and unpinned at the meter; launched at
/// the pinned end the unpinned cord fits both.
TEST(WaysOut, the_other_end_and_other_methods_are_found)
{
    Question question = question_of(Pins::pinned, Pins::pinned, Pins::unpinned, Pins::pinned);
    question.kit.cords = {cord_of("A", mpo12, Pins::unpinned, Pins::unpinned),
                          cord_of("B", mpo12, Pins::unpinned, Pins::pinned)};
    auto const answer = solve(question);
    ASSERT_TRUE(answer);
    ASSERT_FALSE(answer->plan);
    auto const ways = ways_out(question);
    ASSERT_TRUE(ways);
    ASSERT_FALSE(ways->empty());
    EXPECT_TRUE(ways->front().turned && ways->front().permitted);
    EXPECT_NE(ways->front().text.find("other end of the cabling (B), pinned: one-cord, 0 pin changes"),
              std::string::npos)
        << ways->front().text;
    EXPECT_TRUE(std::any_of(ways->begin(), ways->end(), [](WayOut const& way) {
        return way.arrangement == Arrangement::two_cord && !way.permitted;
    }));
    for (WayOut const& way : *ways) {
        Question taken = question;
        if (way.turned) taken.cabling = turned(taken.cabling);
        taken.permitted = {way.arrangement};
        auto const solved = solve(taken, SolveOptions{false});
        ASSERT_TRUE(solved && solved->plan) << way.text;
        EXPECT_EQ(solved->plan->cost, way.cost) << way.text;
    }
}

/// No cord at all: a launch cord (unpinned to unpinned) and a tail cord (pinned to unpinned) are needed, one
/// alone does not do.
TEST(WaysOut, the_cheapest_two_items_are_named_where_one_does_not_do)
{
    Question question = question_of(Pins::pinned, Pins::pinned, Pins::pinned, Pins::unpinned);
    auto const answer = solve(question);
    ASSERT_TRUE(answer);
    ASSERT_FALSE(answer->plan || answer->none.remedy);
    auto const pair = cheapest_pair(question);
    ASSERT_TRUE(pair);
    ASSERT_TRUE(*pair);
    Question with = question;
    with.kit = with_item(with_item(question.kit, (*pair)->first), (*pair)->second);
    auto const solved = solve(with, SolveOptions{false});
    ASSERT_TRUE(solved && solved->plan) << (*pair)->text;
    EXPECT_EQ(solved->plan->cost, (*pair)->cost);
    question.kit.adapters.clear(); // then three things are missing
    EXPECT_FALSE(*cheapest_pair(question));
    EXPECT_TRUE(ways_out(question)->empty());
}

/// The kit has flat mpo-12 cords and angled mpo-16 ones; the cabling is mpo-16, flat. It is the face.
TEST(WaysOut, the_rule_told_is_that_of_the_cords_meant_for_the_plug)
{
    for (bool const other_glass : {false, true}) {
        Question question = question_of(Pins::pinned, Pins::pinned, Pins::pinned, Pins::pinned);
        question.source = port_of(mpo16, Pins::pinned);
        question.meter = port_of(mpo16, Pins::pinned);
        question.cabling.first.plug = question.cabling.second.plug = plug_of(mpo16, Pins::pinned);
        question.kit.cords = {cord_of("narrow", mpo12, Pins::unpinned, Pins::unpinned),
                              cord_of("wide", mpo16, Pins::unpinned, Pins::unpinned, plant::Face::angled)};
        if (other_glass) question.kit.cords[1].glass = {facts::FibreKind::single_mode, 0};
        auto const answer = solve(question);
        ASSERT_TRUE(answer);
        ASSERT_FALSE(answer->plan);
        Blocker const& blocker = answer->none.blockers.front();
        EXPECT_EQ(blocker.launch_cord, "wide");
        auto const told = [&](Rule rule) {
            return std::find(blocker.rules.begin(), blocker.rules.end(), rule) != blocker.rules.end();
        };
        EXPECT_TRUE(told(Rule::face_mixed)) << blocker.text();
        EXPECT_FALSE(told(Rule::wrong_family)) << blocker.text();
        EXPECT_EQ(told(Rule::glass), other_glass);
    }
}

} // namespace ways_out_test
} // namespace guidepin::setup
