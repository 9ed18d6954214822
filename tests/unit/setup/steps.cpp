// SPDX-License-Identifier: Apache-2.0
// The steps hold together for every pin combination and arrangement: identities, not recorded output.
#include "setup/steps.hpp"
#include "setup/scene_items.hpp"
#include "setup/step_kind.hpp"

#include "plant/presets.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

namespace guidepin::setup {
namespace steps_test {

using plant::Pins;

plant::Family const mpo12{plant::Family::Key::mpo12, 1, 12};

struct Made
{
    Question question;
    Plan plan;
};

std::vector<Made> many_plans()
{
    std::vector<Made> all;
    for (int state = 0; state < 16; ++state) {
        auto const pins = [&](int b) { return ((state >> b) & 1) != 0 ? Pins::pinned : Pins::unpinned; };
        for (auto const arrangement :
             {Arrangement::one_cord, Arrangement::two_cord, Arrangement::three_cord, Arrangement::changer}) {
            for (bool const exchangeable : {false, true}) {
                Question question;
                question.source = port_of(mpo12, pins(0));
                question.meter = port_of(mpo12, pins(1));
                question.cabling.first = {"A12", plug_of(mpo12, pins(2)), plant::EndFitting::opposed_adapter};
                question.cabling.second = {"", plug_of(mpo12, pins(3)),
                                           state % 3 == 0 ? plant::EndFitting::bare_plug
                                                          : plant::EndFitting::opposed_adapter};
                question.cabling.category = "OM4";
                question.cabling.expected = *plant::cable_map("B", mpo12);
                question.kit = complete_kit(question.source, question.meter, question.cabling, exchangeable);
                if (exchangeable) { // pins that must change: only unpinned cords to begin with
                    for (Cord& cord : question.kit.cords)
                        for (CordEnd& end : cord.ends) end.plug.pins = Pins::unpinned;
                    question.kit.cords.resize(4);
                }
                question.permitted = {arrangement};
                auto const answer = solve(question, SolveOptions{false});
                if (answer && answer->plan) all.push_back({question, *answer->plan});
            }
        }
    }
    return all;
}

TEST(Steps, hold_together_for_every_plan)
{
    facts::Tables const& tables = facts::built_in_tables();
    facts::RuleSet const& rules = **tables.rule_set("tia-568.3-e");
    auto const plans = many_plans();
    ASSERT_GT(plans.size(), 90U);
    int with_pin_steps = 0;
    int told_to_change_back = 0;
    for (Made const& made : plans) {
        auto const checks = check_expectations(made.question, made.plan, rules);
        ASSERT_TRUE(checks) << checks.error().message;
        EXPECT_FALSE(checks->empty());
        auto const list = steps(made.question, made.plan, *checks, tables);
        ASSERT_TRUE(list);
        std::set<std::string> before;
        std::size_t reference_taken = 0;
        for (std::size_t i = 0; i < list->size(); ++i) {
            Step const& step = (*list)[i];
            EXPECT_EQ(step.number, static_cast<int>(i) + 1);
            EXPECT_FALSE(step.text.empty() || step.look_for.empty() || step.if_not.empty()) << step.id;
            if (!step.goes_back_to.empty()) {
                EXPECT_TRUE(before.count(step.goes_back_to)) << step.id << " -> " << step.goes_back_to;
            }
            EXPECT_TRUE(before.insert(step.id).second) << step.id;
            for (std::string const& id : step.cautions)
                EXPECT_TRUE(std::any_of(cautions().begin(), cautions().end(), [&](Caution const& each) {
                    return each.id == id;
                })) << id;
            if (step.id == "reference.take") reference_taken = i;
        }
        ASSERT_GT(reference_taken, 0U);
        // Each mating has both its ends inspected just before; the light is off while anything is inspected.
        bool dark = false;
        int mated = 0;
        for (std::size_t i = 0; i < list->size(); ++i) {
            Step const& step = (*list)[i];
            if (step.id.ends_with(".light-off") || step.id.find(".light-off-") != std::string::npos)
                dark = true;
            if (step.id.find(".light-on") != std::string::npos) dark = false;
            if (step.id.find(".inspect") != std::string::npos) {
                EXPECT_TRUE(dark) << step.id;
            }
            if (step.id.find(".mate.") == std::string::npos) continue;
            ++mated;
            ASSERT_GE(i, 2U);
            EXPECT_NE((*list)[i - 1].id.find(".inspect-b."), std::string::npos) << step.id;
            EXPECT_NE((*list)[i - 2].id.find(".inspect-a."), std::string::npos) << step.id;
            if (i > reference_taken) {
                EXPECT_EQ(step.id.find("source"), std::string::npos) << step.id;
            }
        }
        int planned = 0;
        int pin_changes = 0;
        for (PhasePlan const* phase : made.plan.phases()) {
            planned += static_cast<int>(phase->made.size());
            pin_changes += static_cast<int>(phase->pin_changes.size());
        }
        EXPECT_EQ(mated, planned);
        // A way back from one phase to another that passes a pin change says so.
        for (std::size_t i = 0; i < list->size(); ++i) {
            Step const& step = (*list)[i];
            if (step.goes_back_to.empty()) continue;
            std::size_t back = 0;
            while ((*list)[back].id != step.goes_back_to) ++back;
            bool passes = false;
            for (std::size_t k = back; k < i; ++k) passes = passes || (*list)[k].id.ends_with(".count");
            bool const says = step.if_not.find("change the pins back") != std::string::npos;
            EXPECT_EQ(says, passes && (*list)[back].phase != step.phase) << step.id;
            told_to_change_back += says ? 1 : 0;
        }
        // Every step has its kind, and the way back past pins is found without reading the sentence.
        for (std::size_t i = 0; i < list->size(); ++i) {
            Step const& step = (*list)[i];
            EXPECT_NE(kind_of_step(step.id), StepKind::other) << step.id;
            EXPECT_EQ(goes_back_past_pins(*list, i),
                      step.if_not.find("change the pins back") != std::string::npos)
                << step.id;
        }
        // Every pin change is followed by counting, cleaning and inspecting, and writing down.
        int counted = 0;
        for (Step const& step : *list) counted += step.id.find(".count") != std::string::npos ? 1 : 0;
        EXPECT_EQ(counted, pin_changes);
        with_pin_steps += pin_changes > 0 ? 1 : 0;
        EXPECT_EQ(list->back().id, "test.keep-capped");
    }
    EXPECT_GT(with_pin_steps, 10);
    EXPECT_GT(told_to_change_back, 10);
}

TEST(Steps, warm_up_comes_from_the_facts)
{
    auto const plans = many_plans();
    facts::Tables tables = facts::built_in_tables();
    auto const list = steps(plans[0].question, plans[0].plan, {}, tables);
    ASSERT_TRUE(list);
    auto const warm =
        std::find_if(list->begin(), list->end(), [](Step const& s) { return s.id == "prepare.warm-up"; });
    ASSERT_NE(warm, list->end());
    EXPECT_EQ(warm->minutes, tables.fact("readiness.warm-up")->value);
    EXPECT_FALSE(steps(plans[0].question, plans[0].plan, {}, facts::Tables{}));
}

TEST(Scenes, are_whole_lines_of_light)
{
    for (Made const& made : many_plans()) {
        auto const all = scenes(made.question, made.plan);
        ASSERT_EQ(all.size(), made.plan.phases().size());
        for (std::size_t s = 0; s < all.size(); ++s) {
            Scene const& scene = all[s];
            ASSERT_GE(scene.items.size(), 3U);
            EXPECT_EQ(scene.items.front().part, Part::source);
            EXPECT_EQ(scene.items.back().part, Part::meter);
            // Neighbours that look at each other: a plug on both sides of every adapter, and each pair mates.
            std::vector<ScenePlug> plugs;
            for (SceneItem const& item : scene.items) {
                if (item.left) plugs.push_back(*item.left);
                if (item.right) plugs.push_back(*item.right);
                if (item.kind == SceneKind::adapter) {
                    EXPECT_TRUE(item.keys);
                }
                if (item.kind == SceneKind::cord) {
                    EXPECT_FALSE(item.id.empty() || item.type.empty() || !item.length);
                }
            }
            EXPECT_EQ(plugs.size() % 2, 0U);
            for (std::size_t p = 0; p + 1 < plugs.size(); p += 2)
                EXPECT_NE(plugs[p].end.pins, plugs[p + 1].end.pins);
            bool const any = std::any_of(scene.items.begin(), scene.items.end(),
                                         [](SceneItem const& i) { return i.changed; });
            EXPECT_TRUE(any);
            EXPECT_FALSE(scene.changes.empty());
            if (s > 0) {
                EXPECT_FALSE(scene.items.front().changed) << "the source's joint stays";
            }
        }
    }
}

TEST(FaceView, numbers_and_colours)
{
    Cord cord = cord_of("TC1", mpo12, Pins::pinned, Pins::unpinned);
    FaceView const near = face_view(cord, 0);
    FaceView const far = face_view(cord, 1); // type B: blue is 1 at the near end and 12 at the far end
    ASSERT_EQ(near.holes.size(), 12U);
    EXPECT_EQ(near.holes[0].fibre, 1);
    EXPECT_EQ(far.holes[11].fibre, 1);
    EXPECT_EQ(far.holes[0].fibre, 12);
    plant::Family const mpo24{plant::Family::Key::mpo12, 2, 12};
    Cord two = cord_of("TC2", mpo24, Pins::pinned, Pins::unpinned);
    two.ends[0].plug.occupied.reset(0);
    FaceView const rows = face_view(two, 0);
    EXPECT_FALSE(rows.holes[0].filled);
    EXPECT_EQ(rows.holes[12].row, 1);
    EXPECT_EQ(rows.holes[12].column, 0);
}

} // namespace steps_test
} // namespace guidepin::setup
