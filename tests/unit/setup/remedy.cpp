// SPDX-License-Identifier: Apache-2.0
// Explanations of "no plan": the item named really makes it possible, at the cost told, and nothing cheaper
// does.
#include "no_plan_text.hpp"
#include "setup/plan.hpp"

#include <gtest/gtest.h>

#include <random>

namespace guidepin::setup {
namespace remedy_test {

using plant::Pins;

plant::Family const mpo12{plant::Family::Key::mpo12, 1, 12};

Question question_of(Pins source, Pins meter, Pins first, Pins second)
{
    Question question;
    question.source = port_of(mpo12, source);
    question.meter = port_of(mpo12, meter);
    question.cabling.first = {"A12", plug_of(mpo12, first), plant::EndFitting::opposed_adapter};
    question.cabling.second = {"B12", plug_of(mpo12, second), plant::EndFitting::opposed_adapter};
    question.kit.adapters = {{plant::KeyRelation::opposed, mpo12.key, 2}};
    return question;
}

TEST(Remedy, adding_the_named_item_makes_it_possible)
{
    int without = 0;
    int helped = 0;
    std::map<int, int> by_class;
    for (int seed = 1; seed <= 400; ++seed) {
        std::mt19937_64 random{static_cast<std::uint64_t>(seed)};
        auto const pins = [&] { return random() % 2 == 0 ? Pins::pinned : Pins::unpinned; };
        Question question = question_of(pins(), pins(), pins(), pins());
        bool const angled = random() % 4 == 0;
        if (angled) {
            question.source = port_of(mpo12, question.source.face.pins, plant::Face::angled);
            question.meter = port_of(mpo12, question.meter.face.pins, plant::Face::angled);
            question.cabling.first.plug =
                plug_of(mpo12, question.cabling.first.plug.pins, plant::Face::angled);
            question.cabling.second.plug =
                plug_of(mpo12, question.cabling.second.plug.pins, plant::Face::angled);
        }
        if (random() % 4 == 0) question.cabling.second.fitting = plant::EndFitting::bare_plug;
        if (random() % 3 == 0) question.kit.adapters[0].count = 0;
        if (random() % 2 == 0)
            question.permitted = {Arrangement::one_cord, Arrangement::two_cord, Arrangement::three_cord};
        for (int c = 0; c < 3; ++c) {
            EndPins near = pins();
            EndPins far = pins();
            near.exchangeable = random() % 3 == 0;
            far.exchangeable = random() % 3 == 0;
            question.kit.cords.push_back(cord_of("c" + std::to_string(c), mpo12, near, far,
                                                 angled ? plant::Face::angled : plant::Face::flat));
        }
        auto const answer = solve(question);
        ASSERT_TRUE(answer) << answer.error().message;
        if (answer->plan) continue;
        ++without;
        ASSERT_EQ(answer->none.blockers.size(), question.permitted.size());
        for (Blocker const& blocker : answer->none.blockers) {
            EXPECT_FALSE(blocker.rules.empty());
            EXPECT_NE(blocker.text().find(name_of(blocker.place)), std::string::npos);
        }
        if (!answer->none.remedy) continue;
        ++helped;
        Remedy const& remedy = *answer->none.remedy;
        ++by_class[remedy.price_class];
        Question with = question;
        with.kit = with_item(question.kit, remedy);
        auto const again = solve(with);
        ASSERT_TRUE(again);
        ASSERT_TRUE(again->plan) << "seed " << seed << ": " << remedy.text << " does not help";
        EXPECT_EQ(again->plan->cost, remedy.cost);
        if (remedy.price_class > 1) { // then no adapter would have done
            for (auto const keys : {plant::KeyRelation::opposed, plant::KeyRelation::aligned}) {
                Question cheaper = question;
                cheaper.kit.adapters.push_back({keys, mpo12.key, 1});
                EXPECT_FALSE(solve(cheaper, SolveOptions{false})->plan) << "seed " << seed;
            }
        }
        if (remedy.price_class > 2) {
            Question cheaper = question;
            cheaper.kit.pin_tools.push_back({"tool", mpo12.key});
            EXPECT_FALSE(solve(cheaper, SolveOptions{false})->plan) << "seed " << seed;
        }
    }
    EXPECT_GT(without, 100);
    EXPECT_GT(helped, 50);
    for (int const price : {1, 2, 3}) EXPECT_GT(by_class[price], 0) << price;
}

TEST(Remedy, only_a_changer_is_missing_for_the_check)
{
    Question question = question_of(Pins::pinned, Pins::pinned, Pins::pinned, Pins::pinned);
    question.kit.cords = {cord_of("TC1", mpo12, Pins::unpinned, Pins::unpinned),
                          cord_of("TC2", mpo12, Pins::unpinned, Pins::unpinned)};
    auto const answer = solve(question);
    ASSERT_TRUE(answer);
    ASSERT_FALSE(answer->plan);
    EXPECT_EQ(answer->none.blockers[0].phase, Phase::check);
    EXPECT_EQ(answer->none.blockers[0].rules.front(), Rule::pins_none);
    ASSERT_TRUE(answer->none.remedy);
    Cord const& cord = std::get<Cord>(answer->none.remedy->item);
    EXPECT_EQ(cord.ends[0].plug.pins, Pins::pinned);
    EXPECT_EQ(cord.ends[1].plug.pins, Pins::pinned);
    EXPECT_NE(text_of(answer->none).find("pinned to pinned"), std::string::npos) << text_of(answer->none);
}

TEST(Remedy, an_empty_kit_cannot_be_helped_by_one_item)
{
    Question question = question_of(Pins::pinned, Pins::pinned, Pins::pinned, Pins::unpinned);
    auto const answer = solve(question);
    ASSERT_TRUE(answer);
    EXPECT_FALSE(answer->plan);
    EXPECT_FALSE(answer->none.remedy);
    EXPECT_EQ(answer->none.blockers[0].rules, std::vector{Rule::no_cord});
}

TEST(Remedy, wrong_glass_is_named)
{
    Question question = question_of(Pins::pinned, Pins::pinned, Pins::pinned, Pins::unpinned);
    question.cabling.glass = {facts::FibreKind::single_mode, 9};
    question.kit.cords = {cord_of("TC1", mpo12, Pins::unpinned, Pins::unpinned)};
    auto const answer = solve(question);
    ASSERT_TRUE(answer);
    EXPECT_EQ(answer->none.blockers[0].rules, std::vector{Rule::glass}) << text_of(answer->none);
    EXPECT_EQ(answer->none.blockers[0].launch_cord, "TC1");
    question.kit.cords.push_back(cord_of("TC2", mpo12, Pins::pinned, Pins::unpinned));
    EXPECT_FALSE(solve(question)->plan);
}

} // namespace remedy_test
} // namespace guidepin::setup
