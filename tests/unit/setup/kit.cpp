// SPDX-License-Identifier: Apache-2.0
// The kit as it is described: what is refused, with the item named; presets by convention.
#include "setup/kit.hpp"
#include "no_plan_text.hpp"
#include "setup/plan.hpp"

#include <gtest/gtest.h>

namespace guidepin::setup {
namespace kit_test {

using plant::Pins;

plant::Family const mpo12{plant::Family::Key::mpo12, 1, 12};

Kit one_cord()
{
    Kit kit;
    kit.cords = {cord_of("TC1", mpo12, Pins::pinned, Pins::unpinned)};
    return kit;
}

void expect_refused(Kit const& kit, char const* word)
{
    Outcome const outcome = check_kit(kit);
    ASSERT_FALSE(outcome) << word;
    EXPECT_EQ(outcome.error().code, Errc::invalid_input);
    EXPECT_NE(outcome.error().message.find(word), std::string::npos) << outcome.error().message;
}

TEST(Kit, what_does_not_hold_is_named)
{
    EXPECT_TRUE(check_kit(one_cord()));
    Kit kit = one_cord();
    kit.cords[0].id.clear();
    expect_refused(kit, "label");
    kit = one_cord();
    kit.cords.push_back(kit.cords[0]);
    expect_refused(kit, "twice");
    kit = one_cord();
    kit.cords[0].type = "Z";
    expect_refused(kit, "TC1");
    kit = one_cord();
    kit.cords[0].ends[1].plug.family = {plant::Family::Key::mpo16, 1, 16};
    expect_refused(kit, "MPO-16");
    kit = one_cord();
    kit.cords[0].ends[0].plug.pins = Pins::neutral;
    expect_refused(kit, "neither");
    kit = one_cord();
    kit.cords[0].ends[0].plug.face = plant::Face::angled;
    expect_refused(kit, "slope");
    kit = one_cord();
    kit.cords[0].length = Metres{-1};
    expect_refused(kit, "length");
    kit = one_cord();
    kit.cords[0].ends[0].plug.occupied.set(20);
    expect_refused(kit, "MPO-12");
    kit = one_cord();
    kit.adapters = {{plant::KeyRelation::aligned, plant::Family::Key::mpo12, -1}};
    expect_refused(kit, "aligned");
}

TEST(Kit, names_read_back)
{
    for (Role const role : {Role::launch, Role::tail, Role::substitution, Role::changer, Role::known})
        EXPECT_EQ(parse_role(name_of(role)), role);
    EXPECT_FALSE(parse_role("other"));
    for (auto const a :
         {Arrangement::one_cord, Arrangement::two_cord, Arrangement::three_cord, Arrangement::changer})
        EXPECT_EQ(parse_arrangement(name_of(a)), a);
    EXPECT_FALSE(parse_arrangement("four-cord"));
}

// A complete kit leaves nothing to wish for: a plan without pin changes whenever one exists by the tables.
TEST(Kit, complete_kit_serves_every_case)
{
    for (int state = 0; state < 16; ++state) {
        for (plant::Face const face : {plant::Face::flat, plant::Face::angled}) {
            auto const pins = [&](int b) { return ((state >> b) & 1) != 0 ? Pins::pinned : Pins::unpinned; };
            Question question;
            question.source = port_of(mpo12, pins(0), face);
            question.meter = port_of(mpo12, pins(1), face);
            question.cabling.first = {"a", plug_of(mpo12, pins(2), face), plant::EndFitting::opposed_adapter};
            question.cabling.second = {"b", plug_of(mpo12, pins(3), face),
                                       plant::EndFitting::opposed_adapter};
            question.permitted = {Arrangement::one_cord, Arrangement::changer};
            question.kit = complete_kit(question.source, question.meter, question.cabling, false);
            ASSERT_TRUE(check_kit(question.kit)) << check_kit(question.kit).error().message;
            auto const fixed = solve(question);
            ASSERT_TRUE(fixed);
            ASSERT_TRUE(fixed->plan) << text_of(fixed->none);
            EXPECT_EQ(fixed->plan->arrangement,
                      pins(1) == pins(2) ? Arrangement::one_cord : Arrangement::changer);
            question.permitted = {Arrangement::one_cord};
            question.kit = complete_kit(question.source, question.meter, question.cabling, true);
            auto const exchangeable = solve(question);
            ASSERT_TRUE(exchangeable);
            ASSERT_TRUE(exchangeable->plan);
            EXPECT_EQ(exchangeable->plan->cost.pin_changes, pins(1) == pins(2) ? 0 : 1);
        }
    }
}

TEST(Question, what_does_not_hold_is_named)
{
    Question question;
    question.source = port_of(mpo12, Pins::pinned);
    question.meter = port_of(mpo12, Pins::pinned);
    question.cabling.first = {"a", plug_of(mpo12, Pins::pinned), plant::EndFitting::opposed_adapter};
    question.cabling.second = question.cabling.first;
    EXPECT_TRUE(solve(question));
    Question bad = question;
    bad.permitted.clear();
    EXPECT_FALSE(solve(bad));
    bad = question;
    bad.source.face.pins = Pins::neutral;
    EXPECT_NE(solve(bad).error().message.find("source port"), std::string::npos);
    bad = question;
    bad.cabling.second.plug.kind = plant::EndKind::port;
    EXPECT_NE(solve(bad).error().message.find("second end"), std::string::npos);
    bad = question;
    bad.cabling.first.plug.family = {plant::Family::Key::duplex, 1, 12};
    EXPECT_FALSE(solve(bad));
    bad = question;
    bad.in_force = InForce{Arrangement::one_cord, {4, false}, {}};
    EXPECT_FALSE(solve(bad));
}

// A reference in force goes on: the launch cord is not mated again, and costs nothing.
TEST(InForce, goes_on_without_touching_the_source)
{
    Question question;
    question.source = port_of(mpo12, Pins::pinned);
    question.meter = port_of(mpo12, Pins::pinned);
    question.cabling.first = {"a", plug_of(mpo12, Pins::pinned), plant::EndFitting::opposed_adapter};
    question.cabling.second = {"b", plug_of(mpo12, Pins::unpinned), plant::EndFitting::opposed_adapter};
    question.kit.cords = {cord_of("TC1", mpo12, Pins::unpinned, Pins::unpinned),
                          cord_of("TC2", mpo12, Pins::pinned, Pins::unpinned)};
    question.kit.adapters = {{plant::KeyRelation::opposed, mpo12.key, 1}};
    auto const first = solve(question);
    ASSERT_TRUE(first && first->plan);
    question.in_force = first->plan->in_force();
    auto const second = solve(question);
    ASSERT_TRUE(second && second->plan) << text_of(second->none);
    EXPECT_FALSE(second->plan->reference);
    for (PhasePlan const* phase : second->plan->phases())
        EXPECT_EQ(std::count(phase->made.begin(), phase->made.end(), Place::source_launch), 0);
    // Less the launch cord's matings with source and meter.
    EXPECT_EQ(second->plan->cost.reference_matings, first->plan->cost.reference_matings - 2);
}

} // namespace kit_test
} // namespace guidepin::setup
