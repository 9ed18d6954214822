// SPDX-License-Identifier: Apache-2.0
// Oracle: the pin tables for one-, two- and three-cord references and for a changer cord, derived from the
// one rule of IEC 61754-7 and TIA-604-5 (pinned meets unpinned) and written out joint by joint; the pin
// change between reference and test agrees with what TIA-568.3-E (2022) and TIA-526-28 say of pinned and
// unpinned systems. Pins are discrete, so there is no tolerance.
#include "no_plan_text.hpp"
#include "setup/plan.hpp"

#include <gtest/gtest.h>

#include <map>

namespace guidepin::setup {
namespace pin_tables_test {

using plant::Pins;

plant::Family const mpo12{plant::Family::Key::mpo12, 1, 12};

Pins pins_of(char letter)
{
    return letter == 'P' ? Pins::pinned : letter == 'U' ? Pins::unpinned : Pins::neutral;
}
char letter_of(Pins pins)
{
    return pins == Pins::pinned ? 'P' : pins == Pins::unpinned ? 'U' : 'N';
}

struct Case
{
    int number;
    char const* state;    ///< source, meter, first end, second end
    char near, ref, test; ///< launch cord at source, far end in reference and in test
    char const* action;   ///< between reference and test: "", "fit", "out"
    char tail_near, tail_far;
    char const* check; ///< "no", "any", "after", "before"
    char const *j1, *j2, *j3, *j4, *j5;
};

constexpr Case cases[]{
    {1, "PPPP", 'U', 'U', 'U', "", 'U', 'U', "no", "PU", "UP", "UP", "PU", "UP"},
    {2, "PPPU", 'U', 'U', 'U', "", 'P', 'U', "any", "PU", "UP", "UP", "UP", "UP"},
    {3, "PPUP", 'U', 'U', 'P', "fit", 'U', 'U', "after", "PU", "UP", "PU", "PU", "UP"},
    {4, "PPUU", 'U', 'U', 'P', "fit", 'P', 'U', "before", "PU", "UP", "PU", "UP", "UP"},
    {5, "PUPP", 'U', 'P', 'U', "out", 'U', 'P', "before", "PU", "PU", "UP", "PU", "PU"},
    {6, "PUPU", 'U', 'P', 'U', "out", 'P', 'P', "after", "PU", "PU", "UP", "UP", "PU"},
    {7, "PUUP", 'U', 'P', 'P', "", 'U', 'P', "any", "PU", "PU", "PU", "PU", "PU"},
    {8, "PUUU", 'U', 'P', 'P', "", 'P', 'P', "no", "PU", "PU", "PU", "UP", "PU"},
    {9, "UPPP", 'P', 'U', 'U', "", 'U', 'U', "no", "UP", "UP", "UP", "PU", "UP"},
    {10, "UPPU", 'P', 'U', 'U', "", 'P', 'U', "any", "UP", "UP", "UP", "UP", "UP"},
    {11, "UPUP", 'P', 'U', 'P', "fit", 'U', 'U', "after", "UP", "UP", "PU", "PU", "UP"},
    {12, "UPUU", 'P', 'U', 'P', "fit", 'P', 'U', "before", "UP", "UP", "PU", "UP", "UP"},
    {13, "UUPP", 'P', 'P', 'U', "out", 'U', 'P', "before", "UP", "PU", "UP", "PU", "PU"},
    {14, "UUPU", 'P', 'P', 'U', "out", 'P', 'P', "after", "UP", "PU", "UP", "UP", "PU"},
    {15, "UUUP", 'P', 'P', 'P', "", 'U', 'P', "any", "UP", "PU", "PU", "PU", "PU"},
    {16, "UUUU", 'P', 'P', 'P', "", 'P', 'P', "no", "UP", "PU", "PU", "UP", "PU"},
};

Question question_of(std::string const& state)
{
    Question question;
    question.source = port_of(mpo12, pins_of(state[0]));
    question.meter = port_of(mpo12, pins_of(state[1]));
    question.cabling.first = {"first", plug_of(mpo12, pins_of(state[2])), plant::EndFitting::opposed_adapter};
    question.cabling.second = {"second", plug_of(mpo12, pins_of(state[3])),
                               plant::EndFitting::opposed_adapter};
    question.kit.adapters = {{plant::KeyRelation::opposed, plant::Family::Key::mpo12, 2}};
    return question;
}
Cord named(char const* id, char near, char far, bool far_exchangeable, std::initializer_list<Role> roles)
{
    Cord cord = cord_of(id, mpo12, pins_of(near), {pins_of(far), far_exchangeable});
    cord.roles = Roles::only(roles);
    return cord;
}

PathJoint const& joint(PhasePlan const& phase, Place place)
{
    for (PathJoint const& j : phase.path) {
        if (j.place == place) return j;
    }
    ADD_FAILURE() << "no joint " << name_of(place) << " in " << name_of(phase.phase);
    return phase.path.front();
}
std::string pair_at(PhasePlan const& phase, Place place)
{
    PathJoint const& j = joint(phase, place);
    return {letter_of(j.left.state.pins), letter_of(j.right.state.pins)};
}
int changes_of(PhasePlan const& phase, Part part)
{
    int count = 0;
    for (PinChange const& change : phase.pin_changes) count += change.part == part ? 1 : 0;
    return count;
}

class OneCord : public testing::TestWithParam<Case>
{
};

TEST_P(OneCord, every_joint_of_the_table)
{
    Case const& c = GetParam();
    Question question = question_of(c.state);
    question.kit.cords = {named("TC1", c.near, c.ref, true, {Role::launch}),
                          named("TC2", c.tail_near, c.tail_far, true, {Role::tail}),
                          // In the family of cases without a direct check, the changer of the table's remark.
                          named("AC", c.state[2], c.state[3], false, {Role::known})};
    question.kit.pin_tools = {{"tool", plant::Family::Key::mpo12}};
    auto const answer = solve(question);
    ASSERT_TRUE(answer) << answer.error().message;
    ASSERT_TRUE(answer->plan) << text_of(answer->none);
    Plan const& plan = *answer->plan;
    SCOPED_TRACE(c.number);

    EXPECT_EQ(pair_at(*plan.reference, Place::source_launch), c.j1);
    EXPECT_EQ(pair_at(*plan.reference, Place::launch_meter), c.j2);
    EXPECT_EQ(pair_at(plan.test, Place::launch_cabling), c.j3);
    EXPECT_EQ(pair_at(plan.test, Place::cabling_tail), c.j4);
    EXPECT_EQ(pair_at(plan.test, Place::tail_meter), c.j5);
    EXPECT_EQ(letter_of(joint(*plan.reference, Place::source_launch).right.state.pins), c.near);
    EXPECT_EQ(letter_of(joint(*plan.reference, Place::launch_meter).left.state.pins), c.ref);
    EXPECT_EQ(letter_of(joint(plan.test, Place::launch_cabling).left.state.pins), c.test);

    std::string const action = c.action;
    EXPECT_EQ(plan.cost.pin_changes, action.empty() ? 0 : 1);
    EXPECT_EQ(plan.pin_changes_of_a_new_reference, action.empty() ? 0 : 2); // back, and again
    if (!action.empty()) {
        auto const& changes = changes_of(plan.test, Part::launch) > 0 ? plan.test : *plan.cord_check;
        ASSERT_EQ(changes.pin_changes.size(), 1U);
        EXPECT_EQ(changes.pin_changes[0].part, Part::launch);
        EXPECT_EQ(changes.pin_changes[0].to, action == "fit" ? Pins::pinned : Pins::unpinned);
    }
    std::string const check = c.check;
    EXPECT_EQ(plan.check, check == "no" ? CheckKind::known_cord : CheckKind::direct);
    if (check == "after") {
        EXPECT_EQ(changes_of(*plan.cord_check, Part::launch), 1);
    }
    if (check == "before") {
        EXPECT_EQ(changes_of(plan.test, Part::launch), 1);
    }
    // The launch cord stays in the source, and every joint of every phase is pinned to unpinned.
    for (PhasePlan const* phase : plan.phases()) {
        EXPECT_EQ(phase->path.front().place, Place::source_launch);
        if (phase->phase != Phase::reference) {
            EXPECT_EQ(std::count(phase->made.begin(), phase->made.end(), Place::source_launch), 0);
            EXPECT_EQ(std::count(phase->opened.begin(), phase->opened.end(), Place::source_launch), 0);
        }
        for (PathJoint const& j : phase->path)
            EXPECT_NE(j.left.state.pins, j.right.state.pins) << name_of(j.place);
    }
}

TEST_P(OneCord, without_exchangeable_cords)
{
    Case const& c = GetParam();
    Question question = question_of(c.state);
    question.kit.cords = {named("TC1", c.near, c.ref, false, {Role::launch}),
                          named("TC2", c.tail_near, c.tail_far, false, {Role::tail})};
    question.kit.pin_tools = {{"tool", plant::Family::Key::mpo12}};
    auto const answer = solve(question);
    ASSERT_TRUE(answer);
    bool const possible = std::string_view{c.check} == "any";
    EXPECT_EQ(answer->plan.has_value(), possible) << c.number << ": " << text_of(answer->none);
    if (!possible) {
        ASSERT_EQ(answer->none.blockers.size(), 1U);
        Blocker const& why = answer->none.blockers[0];
        if (std::string_view{c.action}.empty()) { // cases 1, 8, 9, 16: only the check stands in the way
            EXPECT_EQ(why.phase, Phase::check) << why.text();
            EXPECT_EQ(why.place, Place::launch_tail);
            Rule const expected = c.test == 'P' ? Rule::pins_both : Rule::pins_none;
            EXPECT_EQ(why.rules.front(), expected) << why.text();
        } else { // the pins would have to change
            EXPECT_EQ(why.place, Place::launch_cabling) << why.text();
            EXPECT_EQ(why.rules.back(), Rule::pins_fixed) << why.text();
        }
    }
}

TEST_P(OneCord, without_a_known_cord_the_check_costs_two_changes)
{
    Case const& c = GetParam();
    if (std::string_view{c.check} != "no") return;
    Question question = question_of(c.state);
    question.kit.cords = {
        named("TC1", c.near, c.ref, false, {Role::launch}), [&] {
            Cord tail = cord_of("TC2", mpo12, {pins_of(c.tail_near), true}, pins_of(c.tail_far));
            tail.roles = Roles::only({Role::tail});
            return tail;
        }()};
    question.kit.pin_tools = {{"tool", plant::Family::Key::mpo12}};
    auto const answer = solve(question);
    ASSERT_TRUE(answer);
    ASSERT_TRUE(answer->plan) << text_of(answer->none);
    EXPECT_EQ(answer->plan->cost.pin_changes, 2);
    EXPECT_EQ(changes_of(*answer->plan->cord_check, Part::tail), 1);
    EXPECT_EQ(changes_of(answer->plan->test, Part::tail), 1);
}

INSTANTIATE_TEST_SUITE_P(All16, OneCord, testing::ValuesIn(cases),
                         [](auto const& i) { return "case_" + std::to_string(i.param.number); });

// A meter port that touches nothing: never an action, the launch cord is in its test state from the start.
TEST(PinNeutralMeter, needs_no_action)
{
    for (char const* ends : {"PP", "PU", "UP", "UU"}) {
        for (char const source : {'P', 'U'}) {
            Question question = question_of(std::string{source} + "N" + ends);
            question.permitted = {Arrangement::one_cord};
            question.kit = complete_kit(question.source, question.meter, question.cabling, false);
            auto const answer = solve(question);
            ASSERT_TRUE(answer);
            ASSERT_TRUE(answer->plan) << text_of(answer->none);
            EXPECT_EQ(answer->plan->cost.pin_changes, 0);
            EXPECT_EQ(letter_of(joint(*answer->plan->reference, Place::launch_meter).left.state.pins),
                      ends[0] == 'P' ? 'U' : 'P');
        }
    }
}

struct TwoCord
{
    char const* ends;
    char launch_far, tail_near;
    bool joins; ///< in the test state
};
TEST(TwoCordReference, table)
{
    for (TwoCord const& c : {TwoCord{"PP", 'U', 'U', false}, TwoCord{"PU", 'U', 'P', true},
                             TwoCord{"UP", 'P', 'U', true}, TwoCord{"UU", 'P', 'P', false}}) {
        for (char const* ports : {"PP", "PU", "UP", "UU"}) {
            SCOPED_TRACE(std::string{ports} + c.ends);
            Question question = question_of(std::string{ports} + c.ends);
            question.permitted = {Arrangement::two_cord};
            char const near = ports[0] == 'P' ? 'U' : 'P';
            char const far = ports[1] == 'P' ? 'U' : 'P';
            question.kit.pin_tools = {{"tool", plant::Family::Key::mpo12}};
            question.kit.cords = {named("TC1", near, c.launch_far, false, {Role::launch}),
                                  named("TC2", c.tail_near, far, false, {Role::tail})};
            auto const fixed = solve(question);
            ASSERT_TRUE(fixed);
            EXPECT_EQ(fixed->plan.has_value(), c.joins);
            if (!c.joins) { // vector: both ends pinned -> unpinned to unpinned
                EXPECT_EQ(fixed->none.blockers[0].place, Place::launch_tail);
                EXPECT_EQ(fixed->none.blockers[0].rules.front(),
                          c.launch_far == 'U' ? Rule::pins_none : Rule::pins_both);
            }
            // One of the two exchangeable: fit (or take out) for the reference, and back for the test.
            question.kit.cords[0].ends[1].pins_exchangeable = true;
            auto const changed = solve(question);
            ASSERT_TRUE(changed);
            ASSERT_TRUE(changed->plan) << text_of(changed->none);
            EXPECT_EQ(changed->plan->cost.pin_changes, c.joins ? 0 : 2);
            EXPECT_EQ(pair_at(changed->plan->test, Place::launch_cabling)[0], c.launch_far);
            EXPECT_EQ(pair_at(changed->plan->test, Place::cabling_tail)[1], c.tail_near);
            if (!c.joins) {
                Pins const wanted = c.launch_far == 'U' ? Pins::pinned : Pins::unpinned;
                ASSERT_EQ(changed->plan->reference->pin_changes.size(), 1U);
                EXPECT_EQ(changed->plan->reference->pin_changes[0].to, wanted);
            }
        }
    }
}

struct ThreeCord
{
    char const *ends, *reference_first, *reference_second, *test_first, *test_second;
};
TEST(ThreeCordReference, table)
{
    for (ThreeCord const& c :
         {ThreeCord{"PP", "UP", "PU", "UP", "PU"}, ThreeCord{"PU", "UP", "UP", "UP", "UP"},
          ThreeCord{"UP", "PU", "PU", "PU", "PU"}, ThreeCord{"UU", "PU", "UP", "PU", "UP"}}) {
        for (char const* ports : {"PP", "PU", "UP", "UU"}) {
            SCOPED_TRACE(std::string{ports} + c.ends);
            Question question = question_of(std::string{ports} + c.ends);
            question.permitted = {Arrangement::three_cord};
            char const near = ports[0] == 'P' ? 'U' : 'P';
            char const far = ports[1] == 'P' ? 'U' : 'P';
            question.kit.cords = {named("TC1", near, c.reference_first[0], false, {Role::launch}),
                                  named("TC2", c.reference_second[1], far, false, {Role::tail}),
                                  named("RC", c.ends[0], c.ends[1], false, {Role::substitution})};
            auto const answer = solve(question);
            ASSERT_TRUE(answer);
            ASSERT_TRUE(answer->plan) << text_of(answer->none);
            Plan const& plan = *answer->plan;
            EXPECT_EQ(plan.cost.pin_changes, 0);
            EXPECT_EQ(pair_at(*plan.reference, Place::launch_substitution), c.reference_first);
            EXPECT_EQ(pair_at(*plan.reference, Place::substitution_tail), c.reference_second);
            EXPECT_EQ(pair_at(plan.test, Place::launch_cabling), c.test_first);
            EXPECT_EQ(pair_at(plan.test, Place::cabling_tail), c.test_second);
        }
    }
}

struct ChangerRow
{
    char meter, first, launch_far;
    bool direct;
    char const* changer; ///< ends at the launch cord and at the meter
};
TEST(ChangerInTheReference, table)
{
    for (ChangerRow const& c :
         {ChangerRow{'P', 'P', 'U', true, ""}, ChangerRow{'P', 'U', 'P', false, "UU"},
          ChangerRow{'U', 'P', 'U', false, "PP"}, ChangerRow{'U', 'U', 'P', true, ""}}) {
        for (char const second : {'P', 'U'}) {
            SCOPED_TRACE((std::string{c.meter, c.first, second}));
            Question question = question_of(std::string{'P', c.meter, c.first, second});
            question.permitted = {Arrangement::one_cord};
            question.kit = complete_kit(question.source, question.meter, question.cabling, false);
            auto const direct = solve(question);
            ASSERT_TRUE(direct);
            EXPECT_EQ(direct->plan.has_value(), c.direct);
            question.permitted.push_back(Arrangement::changer);
            auto const answer = solve(question);
            ASSERT_TRUE(answer);
            ASSERT_TRUE(answer->plan) << text_of(answer->none);
            Plan const& plan = *answer->plan;
            EXPECT_EQ(plan.cost.pin_changes, 0);
            EXPECT_EQ(plan.arrangement, c.direct ? Arrangement::one_cord : Arrangement::changer);
            EXPECT_EQ(pair_at(plan.test, Place::launch_cabling)[0], c.launch_far);
            if (c.direct) continue;
            EXPECT_EQ(pair_at(*plan.reference, Place::launch_changer)[1], c.changer[0]);
            EXPECT_EQ(pair_at(*plan.reference, Place::changer_meter)[0], c.changer[1]);
            EXPECT_EQ(joints_in_reference(method_of(plan.arrangement)), 1);
        }
    }
}

// Ports pinned, cabling unpinned at both ends: the worked case of the pin-change method.
TEST(WorkedCase, pins_out_for_the_reference_and_in_for_the_test)
{
    Question question = question_of("PPUU");
    question.kit.cords = {named("TC1", 'U', 'U', true, {Role::launch}),
                          named("TC2", 'P', 'U', false, {Role::tail})};
    question.kit.pin_tools = {{"tool", plant::Family::Key::mpo12}};
    auto const answer = solve(question);
    ASSERT_TRUE(answer);
    ASSERT_TRUE(answer->plan);
    Plan const& plan = *answer->plan;
    EXPECT_EQ(plan.check, CheckKind::direct);
    EXPECT_TRUE(plan.cord_check->pin_changes.empty())
        << "the check joint fits only before the pins are fitted";
    EXPECT_EQ(pair_at(*plan.cord_check, Place::launch_tail), "UP");
    ASSERT_EQ(plan.test.pin_changes.size(), 1U);
    EXPECT_EQ(plan.test.pin_changes[0].to, Pins::pinned);
}

// Angled faces: an opposed-key panel takes the ordinary cord; with aligned keys the slope rule is named.
TEST(AngledFaces, adapters)
{
    for (auto const fitting : {plant::EndFitting::opposed_adapter, plant::EndFitting::aligned_adapter}) {
        Question question = question_of("PPPU");
        question.source = port_of(mpo12, Pins::pinned, plant::Face::angled);
        question.meter = port_of(mpo12, Pins::pinned, plant::Face::angled);
        question.cabling.first = {"first", plug_of(mpo12, Pins::pinned, plant::Face::angled), fitting};
        question.cabling.second = {"second", plug_of(mpo12, Pins::unpinned, plant::Face::angled),
                                   plant::EndFitting::opposed_adapter};
        for (auto* cabling : {&question.cabling}) cabling->glass = {facts::FibreKind::single_mode, 9};
        Cord tc1 = cord_of("TC1", mpo12, Pins::unpinned, Pins::unpinned, plant::Face::angled);
        Cord tc2 = cord_of("TC2", mpo12, Pins::pinned, Pins::unpinned, plant::Face::angled);
        tc1.glass = tc2.glass = question.cabling.glass;
        question.kit.cords = {tc1, tc2};
        auto const answer = solve(question);
        ASSERT_TRUE(answer);
        if (fitting == plant::EndFitting::opposed_adapter) {
            EXPECT_TRUE(answer->plan) << text_of(answer->none);
        } else {
            ASSERT_FALSE(answer->plan);
            EXPECT_EQ(answer->none.blockers[0].place, Place::launch_cabling);
            EXPECT_EQ(answer->none.blockers[0].rules.front(), Rule::slope) << text_of(answer->none);
        }
    }
}

} // namespace pin_tables_test
} // namespace guidepin::setup
