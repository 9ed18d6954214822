// SPDX-License-Identifier: Apache-2.0
// One set-up in words, and those of a job. Oracles: the judgement of a cord check on made-up readings (the
// numbers of the card decide the same way), the rule "pinned meets unpinned" on every drawn joint, counts by
// hand, the way there and back through the record.
#include "job/plan/set_up.hpp"
#include "drawing/svg.hpp"
#include "job/plan/set_up_card.hpp"
#include "job/plan/set_up_drawings.hpp"
#include "job/plan/set_up_progress.hpp"
#include "job/plan/set_up_sheet.hpp"
#include "job/sheet/locale.hpp"
#include "no_plan_text.hpp"
#include "plant/presets.hpp"
#include "verdict/cord_check.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include <fmt/format.h>

namespace guidepin::job {
namespace set_up_test {

using ::testing::HasSubstr;

facts::Tables const& tables = facts::built_in_tables();

SetupRules rules()
{
    SetupRules rules;
    rules.tables = &tables;
    rules.rules = *tables.rule_set("tia-568.3-e");
    return rules;
}

SetupWords words(char const* source, char const* meter, char const* cabling)
{
    SetupWords words;
    words.source = source;
    words.meter = meter;
    words.cabling = cabling;
    return words;
}

std::size_t step_count(SetupSheet const& sheet)
{
    std::size_t count = 0;
    for (SheetPhase const& phase : sheet.phases) count += phase.steps.size();
    return count;
}

std::string refusal_of(SetupWords const& asked)
{
    auto const answer = set_up(asked, nullptr, rules());
    EXPECT_FALSE(answer.has_value());
    if (answer) return {};
    EXPECT_EQ(answer.error().code, Errc::usage);
    return answer.error().message;
}

TEST(SetUp, words_that_do_not_hold_are_named)
{
    EXPECT_THAT(refusal_of(words("pinned", "pinned", "")), HasSubstr("--cabling is missing"));
    EXPECT_THAT(refusal_of(words("", "pinned", "pinned,pinned")), HasSubstr("--source is missing"));
    EXPECT_THAT(refusal_of(words("both", "pinned", "pinned,pinned")), HasSubstr("--source: \"both\""));
    EXPECT_THAT(refusal_of(words("neutral", "pinned", "pinned,pinned")), HasSubstr("only a meter's port"));
    EXPECT_THAT(refusal_of(words("pinned", "pinned", "pinned,odd")), HasSubstr("--cabling: \"odd\""));
    EXPECT_THAT(refusal_of(words("pinned", "pinned", "pinned,pinned,pinned")), HasSubstr("--cabling"));
    EXPECT_THAT(refusal_of(words("pinned", "pinned", "unpinned")),
                HasSubstr("name both, the launch end first, as unpinned,unpinned"));
    SetupWords asked = words("pinned", "pinned", "pinned,pinned");
    asked.methods = {"four-cord"};
    EXPECT_THAT(refusal_of(asked), HasSubstr("--methods: \"four-cord\""));
    asked = words("pinned", "pinned", "pinned,pinned");
    asked.family = "duplex-12";
    EXPECT_THAT(refusal_of(asked), HasSubstr("--family"));
    asked = words("pinned", "pinned", "pinned,pinned");
    asked.adapters = "sideways";
    EXPECT_THAT(refusal_of(asked), HasSubstr("--adapters"));
    asked = words("pinned", "pinned", "pinned,pinned");
    asked.category = "OM44";
    EXPECT_THAT(refusal_of(asked), HasSubstr("--category"));
}

/// All sixteen combinations of facts 6.5 (source, meter, two ends of the cabling), with every method and both
/// faces: what is drawn mates pinned to unpinned only, at every joint.
TEST(SetUp, every_pin_combination_is_drawn_legally_for_each_method)
{
    int drawn = 0;
    for (char const* const method : {"one-cord", "changer", "two-cord", "three-cord"}) {
        for (char const* const face : {"flat", "angled"}) {
            for (int bits = 0; bits < 16; ++bits) {
                auto const pins = [bits](int bit) { return (bits >> bit & 1) != 0 ? "pinned" : "unpinned"; };
                SetupWords asked = words(pins(0), pins(1), "");
                asked.cabling = fmt::format("{},{}", pins(2), pins(3));
                asked.methods = {method};
                asked.face = face;
                auto const answer = set_up(asked, nullptr, rules());
                ASSERT_TRUE(answer) << answer.error().message;
                SCOPED_TRACE(
                    fmt::format("{} {} {}/{} {}", method, face, asked.source, asked.meter, asked.cabling));
                // With a complete kit every combination has a set-up.
                ASSERT_TRUE(answer->solved) << text_of(answer->none);
                SetupSheet const sheet = sheet_of(*answer->solved);
                for (SheetPhase const& phase : sheet.phases) {
                    if (!phase.path) continue;
                    drawing::LightPath const& path = *phase.path;
                    ASSERT_EQ(path.joints.size() + 1, path.bodies.size());
                    for (std::size_t j = 0; j < path.joints.size(); ++j) {
                        auto const& left = path.bodies[j].right;
                        auto const& right = path.bodies[j + 1].left;
                        ASSERT_TRUE(left && right);
                        EXPECT_EQ(left->pins, plant::complement(right->pins)) << phase.path->name << j;
                        EXPECT_EQ(left->face, right->face);
                        bool const same_side = left->key_up == right->key_up;
                        EXPECT_EQ(same_side, path.joints[j].keys == plant::KeyRelation::aligned);
                    }
                    for (auto const& [name, svg] : setup_drawings(sheet)) {
                        EXPECT_THAT(svg, HasSubstr("</svg>")) << name;
                        EXPECT_THAT(svg, HasSubstr("pinned"));
                    }
                    ++drawn;
                }
                EXPECT_EQ(answer->solved->counting.joints_removed, std::string_view(method) == "one-cord" ? 0
                                                                   : std::string_view(method) == "three-cord"
                                                                       ? 2
                                                                       : 1);
            }
        }
    }
    EXPECT_EQ(drawn, 4 * 2 * 16 * 3);
}

/// A reading just inside each number of the card is judged as the card says, just outside likewise.
TEST(SetUp, the_numbers_of_the_card_decide_as_the_judgement_does)
{
    struct Case
    {
        char const *source, *meter, *cabling, *method, *face;
    };
    for (Case const& each : {Case{"pinned", "pinned", "pinned,pinned", "one-cord", "flat"},
                             Case{"pinned", "pinned", "unpinned,unpinned", "one-cord", "flat"},
                             Case{"pinned", "pinned", "pinned,pinned", "two-cord", "flat"},
                             Case{"pinned", "pinned", "pinned,pinned", "three-cord", "angled"}}) {
        SetupWords asked = words(each.source, each.meter, each.cabling);
        asked.methods = {each.method};
        asked.face = each.face;
        auto const answer = set_up(asked, nullptr, rules());
        ASSERT_TRUE(answer && answer->solved);
        SolvedSetup const& solved = *answer->solved;
        ASSERT_FALSE(solved.checks.empty()) << solved.checks_missing;
        for (CheckNumbers const& numbers : solved.checks) {
            auto const judged = [&](double value) {
                verdict::CordReading const reading{1, verdict::far_not_stated, numbers.wavelength,
                                                   Decibel{value}, 0};
                verdict::CordCheckQuestion check;
                check.id = "C";
                check.readings = {&reading, 1};
                check.wavelengths = {numbers.wavelength};
                check.occupied.set(0);
                check.rules = rules().rules;
                check.category = *tables.category(solved.question.cabling.category);
                check.method = setup::method_of(solved.plan.arrangement);
                check.joints = solved.plan.check == setup::CheckKind::known_cord ? 2
                               : solved.plan.check == setup::CheckKind::direct
                                   ? 1
                                   : solved.counting.joints_removed;
                check.added_length = setup::length_added_by_check(solved.question, solved.plan);
                check.tables = &tables;
                auto const result = verdict::check_cords(check);
                EXPECT_TRUE(result);
                return result ? result->fibres.at(0).result : verdict::CordResult::missing;
            };
            double const step = 1e-6;
            EXPECT_EQ(judged(numbers.good_up_to.value() - step), verdict::CordResult::good);
            EXPECT_NE(judged(numbers.good_up_to.value() + step), verdict::CordResult::good);
            EXPECT_NE(judged(numbers.refused_above.value() - step), verdict::CordResult::too_high);
            EXPECT_EQ(judged(numbers.refused_above.value() + step), verdict::CordResult::too_high);
            EXPECT_EQ(judged(numbers.good_from.value() + step), verdict::CordResult::good);
            EXPECT_NE(judged(numbers.good_from.value() - step), verdict::CordResult::good);
            EXPECT_NE(judged(numbers.refused_below.value() + step), verdict::CordResult::below_zero);
            EXPECT_EQ(judged(numbers.refused_below.value() - step), verdict::CordResult::below_zero);
        }
    }
}

/// The classic trap: ports pinned, cabling unpinned. One-cord asks for a pin change; a changer cord avoids
/// it.
TEST(SetUp, what_another_method_costs_stands_beside)
{
    auto const answer = set_up(words("pinned", "pinned", "unpinned,unpinned"), nullptr, rules());
    ASSERT_TRUE(answer && answer->solved);
    std::vector<MethodRow> const& methods = answer->solved->methods;
    ASSERT_EQ(methods.size(), 4u);
    EXPECT_EQ(methods[0].shadow.arrangement, setup::Arrangement::one_cord);
    EXPECT_TRUE(methods[0].chosen && methods[0].permitted);
    ASSERT_TRUE(methods[0].cost);
    EXPECT_EQ(methods[0].cost->pin_changes, answer->solved->plan.cost.pin_changes);
    EXPECT_GT(methods[0].cost->pin_changes, 0);
    for (MethodRow const& row : methods) {
        EXPECT_EQ(row.chosen, row.shadow.arrangement == setup::Arrangement::one_cord);
        // Each joint in the reference adds the spread of one end connection: U^2 grows by equal steps.
        auto const squared = [](MethodRow const& each) {
            return std::pow(each.expanded_uncertainty.value(), 2);
        };
        MethodRow const* one_joint = nullptr;
        for (MethodRow const& other : methods) {
            if (other.shadow.joints_removed == 1) one_joint = &other;
        }
        ASSERT_TRUE(one_joint);
        double const spread = squared(*one_joint) - squared(methods[0]);
        EXPECT_GT(spread, 0);
        EXPECT_NEAR(squared(row), squared(methods[0]) + spread * row.shadow.joints_removed, 1e-12);
    }
}

TEST(SetUp, no_plan_names_rule_and_remedy)
{
    KitFile kit;
    plant::Family const family{};
    kit.kit.cords = {setup::cord_of("L", family, plant::Pins::unpinned, plant::Pins::unpinned),
                     setup::cord_of("T", family, plant::Pins::unpinned, plant::Pins::unpinned)};
    auto const answer = set_up(words("pinned", "pinned", "pinned,pinned"), &kit, rules());
    ASSERT_TRUE(answer) << answer.error().message;
    ASSERT_FALSE(answer->solved);
    EXPECT_FALSE(answer->none.blockers.empty());
    EXPECT_THAT(text_of(answer->none), HasSubstr("cord check"));
}

TEST(SetUp, a_sheet_survives_its_record)
{
    for (char const* const method : {"one-cord", "changer", "two-cord", "three-cord"}) {
        SetupWords asked = words("pinned", "unpinned", "pinned,unpinned");
        asked.methods = {method};
        asked.names = "A\"12,B\n07";
        auto const answer = set_up(asked, nullptr, rules());
        ASSERT_TRUE(answer && answer->solved);
        SetupSheet const sheet = sheet_of(*answer->solved);
        auto const body = setup_body(sheet);
        ASSERT_TRUE(body) << body.error().message;
        auto const again = setup_of(*body);
        ASSERT_TRUE(again) << again.error().message;
        EXPECT_EQ(*setup_body(*again), *body);
        EXPECT_EQ(step_count(*again), answer->solved->steps.size());
        // Drawn from the record it is the same picture.
        EXPECT_EQ(setup_drawings(*again), setup_drawings(sheet));
    }
    EXPECT_FALSE(setup_of("{}"));
    EXPECT_FALSE(setup_of("no json"));
}

/// Type B: position p of the near plug is fibre p, of the far plug fibre 13 - p (TIA-568.3).
TEST(SetUp, end_faces_show_where_each_fibre_arrives)
{
    auto const answer = set_up(words("pinned", "pinned", "pinned,pinned"), nullptr, rules());
    ASSERT_TRUE(answer && answer->solved);
    auto const faces = end_faces_of(*answer->solved);
    ASSERT_EQ(faces.size(), 6u); // launch, tail and known cord
    for (std::size_t i = 0; i < faces.size(); ++i) {
        ASSERT_EQ(faces[i].fibre_at.size(), 12u);
        for (int p = 1; p <= 12; ++p)
            EXPECT_EQ(faces[i].fibre_at[static_cast<std::size_t>(p - 1)], i % 2 == 0 ? p : 13 - p);
    }
    EXPECT_THAT(faces[0].name, HasSubstr("L-1, near plug"));
    auto const files = end_face_files(*answer->solved);
    ASSERT_EQ(files.size(), 6u);
    EXPECT_EQ(files[1].first, "face-2-l-1-far-plug.svg");
}

/// Nothing that a person has to do is lost when steps are drawn together for the card.
TEST(SetUp, the_card_keeps_every_joint_and_number)
{
    SetupWords asked = words("pinned", "pinned", "unpinned,unpinned");
    auto const answer = set_up(asked, nullptr, rules());
    ASSERT_TRUE(answer && answer->solved);
    SetupSheet const sheet = sheet_of(*answer->solved);
    report::JobCard const card = job_card_of(sheet, {});
    ASSERT_EQ(card.phases.size(), 3u);
    std::string all;
    for (report::CardPhase const& phase : card.phases) {
        for (report::CardStep const& step : phase.steps) all += step.action + "\n";
    }
    for (setup::Step const& step : answer->solved->steps) {
        bool const folded =
            step.id.find(".inspect") != std::string::npos || step.id.find(".mate.") != std::string::npos;
        bool const arrival = step.id == "cord-check.arrival";
        EXPECT_THAT(all, HasSubstr(folded    ? step.subject
                                   : arrival ? step.look_for.substr(0, step.look_for.find("; the"))
                                             : step.text));
    }
    EXPECT_THAT(all, HasSubstr("Count the pins"));
    EXPECT_EQ(card.phases[1].numbers.size(), answer->solved->checks.size());
}

/// Ticks are records: the latest word on a step counts, those of other set-ups do not, timers run from them.
TEST(SetUp, progress_follows_the_records)
{
    auto const answer = set_up(words("pinned", "pinned", "pinned,pinned"), nullptr, rules());
    ASSERT_TRUE(answer && answer->solved);
    SetupSheet sheet = sheet_of(*answer->solved);
    sheet.hash = "aa";
    auto const record = [](std::string setup, std::string step, std::int64_t minute) {
        StepDone done;
        done.setup = std::move(setup);
        done.step = std::move(step);
        done.at = Instant{minute * 60'000, 0};
        done.person = "Ines";
        return done;
    };
    std::string const first = sheet.phases[0].steps[0].id, second = sheet.phases[0].steps[1].id;
    std::vector<StepDone> records;
    auto const now = [&] { return progress_of(sheet, records, 12); };
    EXPECT_EQ(now().done, 0u);
    EXPECT_EQ(now().next, 0u);
    EXPECT_EQ(now().steps.size(), step_count(sheet));

    records.push_back(record("bb", first, 1)); // another set-up
    EXPECT_EQ(now().done, 0u);
    records.push_back(record("aa", first, 2));
    EXPECT_EQ(now().done, 1u);
    EXPECT_EQ(now().next, 1u);
    EXPECT_EQ(now().steps[0].person, "Ines");
    records.push_back(record("aa", first + std::string(step_undone), 3));
    EXPECT_EQ(now().done, 0u);
    EXPECT_EQ(now().next, 0u);
    records.push_back(record("aa", first, 4));
    records.push_back(record("aa", second + "-not-a-word", 5));
    EXPECT_EQ(now().done, 1u);

    std::size_t timed = 0;
    while (!now().steps[timed].step.minutes) ++timed;
    std::string const warm_up = now().steps[timed].step.id;
    EXPECT_FALSE(now().steps[timed].timer_over());
    records.push_back(record("aa", warm_up + std::string(step_started), 10));
    ASSERT_TRUE(now().steps[timed].timer_over());
    double const minutes = *now().steps[timed].step.minutes;
    EXPECT_EQ(now().steps[timed].timer_over()->ms, static_cast<std::int64_t>((10 + minutes) * 60'000));
    EXPECT_FALSE(now().steps[timed].done);

    EXPECT_FALSE(now().reference_over);
    records.push_back(record("aa", "reference.take", 100));
    ASSERT_TRUE(now().reference_over);
    EXPECT_EQ(now().reference_over->ms, (100 + 12 * 60) * 60'000);
}

TEST(SetUp, what_another_way_changes_is_listed)
{
    auto const base = set_up(words("pinned", "pinned", "unpinned,unpinned"), nullptr, rules());
    SetupWords other = words("pinned", "pinned", "unpinned,unpinned");
    other.methods = {"changer"};
    auto const way = set_up(other, nullptr, rules());
    ASSERT_TRUE(base && base->solved && way && way->solved);
    EXPECT_TRUE(differences(*base->solved, *base->solved).empty());
    std::string all;
    for (SetupDifference const& each : differences(*base->solved, *way->solved)) {
        EXPECT_NE(each.before, each.after) << each.what;
        all += fmt::format("{}: {} -> {}\n", each.what, each.before, each.after);
    }
    EXPECT_THAT(all, HasSubstr("Method: one-cord -> changer\n"));
    EXPECT_THAT(all, HasSubstr("Joints hidden in the reference: 0 -> 1\n"));
    EXPECT_THAT(all, HasSubstr("-> none\n")); // the changer cord spares the pin change
}

// Angled faces at an aligned adapter close only with an up-angled plug. Text, card, list of cords, steps and
// drawing named an ordinary cord; only --json told the slope.
TEST(SetUp, a_slope_that_is_not_the_usual_one_is_named_wherever_the_plug_is)
{
    for (bool const aligned : {false, true}) {
        SetupWords asked = words("pinned", "pinned", "pinned,pinned");
        asked.face = "angled";
        asked.adapters = aligned ? "opposed,aligned" : "opposed,opposed";
        auto const answer = set_up(asked, nullptr, rules());
        ASSERT_TRUE(answer && answer->solved);
        SetupSheet const sheet = sheet_of(*answer->solved);
        std::map<std::string, std::string> facts;
        for (report::Said const& said : sheet.facts) facts[said.label] += said.text;
        std::string steps, laid_out, drawn;
        for (SheetPhase const& phase : sheet.phases) {
            for (setup::Step const& step : phase.steps) {
                steps += step.text;
                if (step.id == "prepare.lay-out") laid_out = step.text;
            }
            if (phase.path) drawn += drawing::light_path_in_words(*phase.path);
        }
        for (std::string const& text : {facts["Cords to bring"], steps, laid_out, drawn})
            EXPECT_EQ(text.find("up-angled") != std::string::npos, aligned) << text;
        if (!aligned) continue;
        EXPECT_THAT(steps, HasSubstr("Mate the cabling's end B (two pins) with the up-angled "));
        std::string card;
        for (report::CardPhase const& phase : job_card_of(sheet, {}).phases) {
            for (report::CardStep const& step : phase.steps) card += step.action;
        }
        EXPECT_THAT(card, HasSubstr("up-angled"));
    }
}

/// Where light must arrive in the cord check. By hand: adapter, then for each cord of type B between
/// (position p to 13 - p, TIA-568.3) that cord and one more adapter.
TEST(SetUp, the_cord_check_says_where_light_arrives_and_how_long_the_cords_are)
{
    struct Case
    {
        char const *cabling, *method;
        plant::KeyRelation keys;
        int cords_between, metres;
    };
    for (Case const& each : {Case{"unpinned,unpinned", "one-cord", plant::KeyRelation::opposed, 0, 4},
                             Case{"pinned,pinned", "one-cord", plant::KeyRelation::opposed, 1, 6},
                             Case{"pinned,pinned", "three-cord", plant::KeyRelation::opposed, 1, 6}}) {
        SetupWords asked = words("pinned", "pinned", each.cabling);
        asked.methods = {each.method};
        auto const answer = set_up(asked, nullptr, rules());
        ASSERT_TRUE(answer && answer->solved);
        SolvedSetup const& solved = *answer->solved;
        plant::Family const family{};
        int at = plant::met_position(family, each.keys, 1);
        for (int cord = 0; cord < each.cords_between; ++cord)
            at = plant::met_position(family, each.keys, 13 - at);
        auto const map = setup::check_map(solved.question, solved.plan);
        ASSERT_TRUE(map.has_value());
        EXPECT_EQ(map->at(1), at) << each.cabling << each.method;
        EXPECT_THAT(
            solved.check_arrival,
            HasSubstr(fmt::format("Position 1 of the launch cord's plug arrives at {} of the tail", at)));
        EXPECT_THAT(solved.check_arrival,
                    HasSubstr(fmt::format("tail cord {} m of cord in all", each.metres)));
        std::string looked;
        for (report::CardPhase const& phase : job_card_of(sheet_of(solved), {}).phases) {
            for (report::CardStep const& step : phase.steps) looked += step.action;
        }
        EXPECT_THAT(looked, HasSubstr("Position 1 of the launch cord's plug arrives at"));
    }
}

TEST(SetUp, texts_are_in_the_units_and_decimals_of_the_job)
{
    SetupRules in_feet = rules();
    in_feet.locale.decimal_mark = ',';
    in_feet.locale.length_unit = report::LengthUnit::feet;
    auto const answer = set_up(words("pinned", "pinned", "pinned,pinned"), nullptr, in_feet);
    ASSERT_TRUE(answer && answer->solved);
    SetupSheet const sheet = sheet_of(*answer->solved);
    std::string all;
    for (report::Said const& said : sheet.facts) all += said.text + "\n";
    for (SheetPhase const& phase : sheet.phases) {
        for (report::CardNumber const& number : phase.numbers)
            all += number.what + number.accept + number.refuse;
        for (setup::Step const& step : phase.steps) all += step.look_for + "\n";
        if (!phase.path) continue;
        for (drawing::LightBody const& body : phase.path->bodies) all += body.detail + "\n";
    }
    EXPECT_THAT(all, HasSubstr("type B, 6,6 ft")); // 2 m / 0.3048 m
    EXPECT_THAT(all, HasSubstr("0,26 dB (k = 2"));
    EXPECT_THAT(all, HasSubstr("-0,05 to 0,21 dB"));
    EXPECT_EQ(all.find(" m of"), std::string::npos);
    EXPECT_EQ(all.find("0.2"), std::string::npos) << all;
    // What is no value stays as it is written.
    EXPECT_EQ(with_decimals("rule TIA-568.30-E, cord L-1.25, 0.25 dB", in_feet.locale),
              "rule TIA-568.30-E, cord L-1.25, 0,25 dB");
}

TEST(SetUp, what_else_would_do_is_said_where_there_is_no_plan)
{
    KitFile kit;
    plant::Family const family{};
    kit.kit.cords = {setup::cord_of("A", family, plant::Pins::unpinned, plant::Pins::unpinned),
                     setup::cord_of("B", family, plant::Pins::unpinned, plant::Pins::pinned)};
    kit.kit.adapters = {{plant::KeyRelation::opposed, family.key, 2}};
    auto const answer = set_up(words("pinned", "pinned", "unpinned,pinned"), &kit, rules());
    ASSERT_TRUE(answer) << answer.error().message;
    ASSERT_FALSE(answer->solved);
    ASSERT_FALSE(answer->unsolved.ways.empty());
    EXPECT_THAT(answer->unsolved.ways.front(),
                HasSubstr("launch at the other end of the cabling (B), pinned"));
}

} // namespace set_up_test
} // namespace guidepin::job
