// SPDX-License-Identifier: Apache-2.0
// What a plan implies. Oracle for the cord check: closed form, joints times allowance plus length times
// coefficient, worked by hand beside each row; counts from the definition of the methods (IEC 61280-4-1:
// joints in the reference).
#include "setup/implied.hpp"

#include "no_plan_text.hpp"
#include "plant/presets.hpp"

#include <gtest/gtest.h>

namespace guidepin::setup {
namespace implied_test {

using plant::Pins;

plant::Family const mpo12{plant::Family::Key::mpo12, 1, 12};

facts::RuleSet example_rules()
{
    facts::RuleSet rules; // invented numbers: the arithmetic is what is tested
    rules.id = "example";
    facts::Fact value;
    value.basis = facts::Basis::standard;
    auto const with = [&](double v) {
        value.value = v;
        return value;
    };
    rules.coefficients = {{"OM4", 850, with(3.0)}, {"OM4", 1300, with(1.5)}};
    rules.reference_joint[{facts::CordGrade::reference, facts::FibreKind::multimode}] = with(0.1);
    rules.reference_joint[{facts::CordGrade::standard, facts::FibreKind::multimode}] = with(0.75);
    rules.wavelengths[facts::FibreKind::multimode] = {{with(850), true}, {with(1300), false}};
    return rules;
}

struct Made
{
    Question question;
    Plan plan;
};
Made made(Arrangement arrangement, char const* state)
{
    auto const pins = [&](int i) { return state[i] == 'P' ? Pins::pinned : Pins::unpinned; };
    Made result;
    Question& question = result.question;
    question.source = port_of(mpo12, pins(0));
    question.meter = port_of(mpo12, pins(1));
    question.cabling.first = {"a", plug_of(mpo12, pins(2)), plant::EndFitting::opposed_adapter};
    question.cabling.second = {"b", plug_of(mpo12, pins(3)), plant::EndFitting::opposed_adapter};
    question.cabling.category = "OM4";
    question.kit = complete_kit(question.source, question.meter, question.cabling, false);
    for (Cord& cord : question.kit.cords) cord.length = Metres{10};
    question.permitted = {arrangement};
    auto const answer = solve(question);
    EXPECT_TRUE(answer && answer->plan) << (answer ? text_of(answer->none) : answer.error().message);
    result.plan = *answer->plan;
    return result;
}

TEST(Counting, follows_the_joints_in_the_reference)
{
    struct Row
    {
        Arrangement arrangement;
        char const* state;
        int removed, net;
    };
    for (Row const& row : {Row{Arrangement::one_cord, "PPPU", 0, 2},
                           {Arrangement::two_cord, "PPPU", 1, 1},
                           {Arrangement::three_cord, "PPPP", 2, 0},
                           {Arrangement::changer, "PPUU", 1, 1}}) {
        Made m = made(row.arrangement, row.state);
        Counting const count = counting(m.question, m.plan);
        EXPECT_EQ(count.joints_removed, row.removed);
        EXPECT_EQ(count.net_by_simple_count, row.net);
        EXPECT_EQ(count.grade, facts::CordGrade::reference);
        m.question.kit.cords[static_cast<std::size_t>(m.plan.tail.cord)].grade = facts::CordGrade::standard;
        EXPECT_EQ(counting(m.question, m.plan).grade, facts::CordGrade::standard);
        EXPECT_EQ(shadow_of(row.arrangement).joints_removed, row.removed);
        EXPECT_EQ(shadow_of(row.arrangement).can_go_negative, row.removed > 0);
    }
}

TEST(CheckExpectation, arithmetic)
{
    struct Row
    {
        Arrangement arrangement;
        char const* state;
        CheckKind kind;
        double least_850, most_850, most_1300;
    };
    for (Row const& row : {
             // one joint 0.10 + 0.01 km x 3.0 = 0.13; at 1300: 0.10 + 0.015
             Row{Arrangement::one_cord, "PPPU", CheckKind::direct, 0.03, 0.13, 0.115},
             // two joints 0.20 + 0.02 km x 3.0 = 0.26; at 1300: 0.20 + 0.03
             {Arrangement::one_cord, "PPPP", CheckKind::known_cord, 0.06, 0.26, 0.23},
             // the same joint again: within one allowance either way, no fibre added
             {Arrangement::two_cord, "PPPU", CheckKind::remade, -0.1, 0.1, 0.1},
             {Arrangement::three_cord, "PPPP", CheckKind::remade, -0.1, 0.1, 0.1},
             // changer out, tail in (same length): fibre cancels, one joint against one; direct check for P,U
             // ends
             {Arrangement::changer, "PUPU", CheckKind::direct, -0.1, 0.1, 0.1},
         }) {
        Made const m = made(row.arrangement, row.state);
        ASSERT_EQ(m.plan.check, row.kind) << row.state;
        auto const checks = check_expectations(m.question, m.plan, example_rules());
        ASSERT_TRUE(checks) << checks.error().message;
        ASSERT_EQ(checks->size(), 2U);
        EXPECT_NEAR((*checks)[0].least.value(), row.least_850, 1e-12); // rounding of a few sums
        EXPECT_NEAR((*checks)[0].most.value(), row.most_850, 1e-12);
        EXPECT_NEAR((*checks)[1].most.value(), row.most_1300, 1e-12);
        EXPECT_EQ((*checks)[1].wavelength.value(), 1300);
        double const metres = length_added_by_check(m.question, m.plan).value();
        EXPECT_NEAR((*checks)[0].fibre.value(), metres / 1000 * 3.0, 1e-12);
        EXPECT_NEAR((*checks)[0].net.value(),
                    (*checks)[0].fibre.value() +
                        0.1 * ((*checks)[0].joints_made - (*checks)[0].joints_removed),
                    1e-12);
        EXPECT_FALSE((*checks)[0].from_memory);
    }
}

TEST(CheckExpectation, says_what_is_missing_and_what_is_from_memory)
{
    Made const m = made(Arrangement::one_cord, "PPPU");
    facts::RuleSet rules = example_rules();
    rules.coefficients[0].fact.basis = facts::Basis::memory;
    EXPECT_TRUE((*check_expectations(m.question, m.plan, rules))[0].from_memory);
    rules.coefficients.clear();
    auto const no_fibre = check_expectations(m.question, m.plan, rules);
    ASSERT_FALSE(no_fibre);
    EXPECT_NE(no_fibre.error().message.find("OM4"), std::string::npos);
    rules = example_rules();
    rules.reference_joint.clear();
    EXPECT_FALSE(check_expectations(m.question, m.plan, rules));
    rules = example_rules();
    rules.wavelengths.clear();
    EXPECT_FALSE(check_expectations(m.question, m.plan, rules));
}

TEST(ShownMap, needs_the_expected_map)
{
    Made m = made(Arrangement::one_cord, "PPPU");
    EXPECT_FALSE(shown_map(m.question, m.plan));
    m.question.cabling.expected = *plant::cable_map("A", mpo12);
    EXPECT_TRUE(shown_map(m.question, m.plan));
}

TEST(Shadows, own_first_then_the_others)
{
    Made const m = made(Arrangement::two_cord, "PPPU");
    auto const all = shadows(m.plan);
    ASSERT_EQ(all.size(), 4U);
    EXPECT_EQ(all[0].arrangement, Arrangement::two_cord);
    for (std::size_t i = 2; i < all.size(); ++i)
        EXPECT_LE(all[i - 1].joints_removed, all[i].joints_removed + (i == 2 ? 0 : 0));
}

} // namespace implied_test
} // namespace guidepin::setup
