// SPDX-License-Identifier: Apache-2.0
// Oracle: the rules as stated for a reference (common practice; TIA-568.3-E (2022) Tier 1 referencing for the
// launch cord that left the source or was cleaned), case by case; and a plain model that looks at all entries
// for each question, compared over random timelines.
#include "verdict/timeline.hpp"

#include "facts/tables.hpp"
#include "verdict/readings.hpp"

#include <algorithm>
#include <random>

namespace guidepin::verdict {
namespace timeline_test {

Instant at(int minute)
{
    return Instant{std::int64_t{1'772'438'400'000} + minute * 60'000LL, 60};
}

ReferenceTimeline built(std::vector<ReferenceEntry> references, std::vector<CordCheckEntry> const& checks,
                        std::vector<VoidEvent> const& events = {})
{
    auto timeline = ReferenceTimeline::build(std::move(references), checks, events);
    EXPECT_TRUE(timeline.has_value());
    return std::move(*timeline);
}

HoldKind kind_of_hold(ReferenceTimeline const& timeline, std::string_view id, int minute)
{
    auto const hold = timeline.hold_reason(id, at(minute));
    auto const kind = hold ? hold->kind : HoldKind::none;
    EXPECT_EQ(kind, timeline.hold_kind(timeline.find(id), at(minute).ms));
    if (hold) {
        EXPECT_EQ(hold->id, std::string{"hold."} + name_of(hold->kind));
        EXPECT_FALSE(hold->text.empty());
    }
    return kind;
}

ReferenceEntry reference(char const* id, int minute, bool accepted = true)
{
    return {id, at(minute), accepted, {}};
}

TEST(Timeline, ReadingsWaitForTheFirstCheck)
{
    auto const unchecked = built({reference("R1", 0)}, {});
    EXPECT_EQ(kind_of_hold(unchecked, "R1", 4), HoldKind::no_accepted_check);
    auto const accepted = built({reference("R1", 0)}, {{"R1", at(5), true}});
    EXPECT_EQ(kind_of_hold(accepted, "R1", 4), HoldKind::none);
    auto const refused = built({reference("R1", 0)}, {{"R1", at(5), false}, {"R1", at(9), true}});
    EXPECT_EQ(kind_of_hold(refused, "R1", 4), HoldKind::later_check_failed);
}

TEST(Timeline, CheckReleasesItsReference)
{
    auto const timeline = built({reference("R1", 0)}, {{"R1", at(5), true}});
    EXPECT_EQ(kind_of_hold(timeline, "R1", -1), HoldKind::before_reference);
    EXPECT_EQ(kind_of_hold(timeline, "R1", 5), HoldKind::none);
    EXPECT_EQ(kind_of_hold(timeline, "R1", 5000), HoldKind::none);
    EXPECT_EQ(kind_of_hold(timeline, "R2", 6), HoldKind::reference_unknown);
    EXPECT_EQ(kind_of_hold(timeline, "", 6), HoldKind::reference_unknown);
}

TEST(Timeline, RefusedReferenceHoldsAll)
{
    auto const timeline = built({reference("R1", 0, false)}, {{"R1", at(5), true}});
    EXPECT_EQ(kind_of_hold(timeline, "R1", 6), HoldKind::reference_refused);
}

TEST(Timeline, LaterFailedCheckHoldsBackToTheLastGoodOne)
{
    auto const timeline =
        built({reference("R1", 0)},
              {{"R1", at(5), true}, {"R1", at(20), true}, {"R1", at(40), false}, {"R1", at(60), true}});
    EXPECT_EQ(kind_of_hold(timeline, "R1", 10), HoldKind::none);
    EXPECT_EQ(kind_of_hold(timeline, "R1", 20), HoldKind::later_check_failed);
    EXPECT_EQ(kind_of_hold(timeline, "R1", 39), HoldKind::later_check_failed);
    EXPECT_EQ(kind_of_hold(timeline, "R1", 40), HoldKind::check_failed);
    EXPECT_EQ(kind_of_hold(timeline, "R1", 59), HoldKind::check_failed);
    EXPECT_EQ(kind_of_hold(timeline, "R1", 60), HoldKind::none);
}

TEST(Timeline, FailureOutweighsAGoodCheckOfTheSameMoment)
{
    auto const timeline =
        built({reference("R1", 0)}, {{"R1", at(5), true}, {"R1", at(20), true}, {"R1", at(20), false}});
    EXPECT_EQ(kind_of_hold(timeline, "R1", 10), HoldKind::later_check_failed);
    EXPECT_EQ(kind_of_hold(timeline, "R1", 21), HoldKind::check_failed);
}

TEST(Timeline, EventActsOnWhatComesAfterIt)
{
    for (auto const kind :
         {VoidKind::launch_cord_left_source, VoidKind::power_cycle, VoidKind::person_voided}) {
        auto const timeline = built({reference("R1", 0), reference("R2", 30)},
                                    {{"R1", at(5), true}, {"R2", at(31), true}}, {{kind, at(30), {}}});
        EXPECT_EQ(kind_of_hold(timeline, "R1", 29), HoldKind::none);
        EXPECT_EQ(kind_of_hold(timeline, "R1", 30), HoldKind::reference_voided);
        auto const hold = timeline.hold_reason("R1", at(30));
        ASSERT_TRUE(hold.has_value());
        EXPECT_NE(hold->text.find(words_of(kind)), std::string::npos);
        // Taken at the moment of the event: taken because of it.
        EXPECT_EQ(kind_of_hold(timeline, "R2", 31), HoldKind::none);
    }
}

TEST(Timeline, EventWithANameActsOnThatReferenceOnly)
{
    auto const timeline =
        built({reference("R1", 0), reference("R2", 1)}, {{"R1", at(5), true}, {"R2", at(5), true}},
              {{VoidKind::cord_changed, at(10), "R1"}, {VoidKind::person_voided, at(50), "R1"}});
    EXPECT_EQ(kind_of_hold(timeline, "R1", 11), HoldKind::reference_voided);
    EXPECT_EQ(kind_of_hold(timeline, "R2", 60), HoldKind::none);
}

TEST(Timeline, FailedDriftCheckActsBackToo)
{
    for (auto const kind : {VoidKind::drift_check_failed, VoidKind::negative_loss}) {
        auto const timeline =
            built({reference("R1", 0)}, {{"R1", at(5), true}, {"R1", at(20), true}}, {{kind, at(30), "R1"}});
        EXPECT_EQ(kind_of_hold(timeline, "R1", 19), HoldKind::none);
        EXPECT_EQ(kind_of_hold(timeline, "R1", 25), HoldKind::later_check_failed);
        EXPECT_EQ(kind_of_hold(timeline, "R1", 31), HoldKind::reference_voided);
    }
}

TEST(Timeline, AgeCountsFromTheReference)
{
    auto old = reference("R1", 0);
    old.max_age = Seconds{8 * 3600.0};
    auto const timeline = built({old}, {{"R1", at(5), true}});
    EXPECT_EQ(kind_of_hold(timeline, "R1", 480), HoldKind::none);
    EXPECT_EQ(kind_of_hold(timeline, "R1", 481), HoldKind::reference_too_old);
}

// Readings without a time ended the program: their time was written as a date. They say that they have none.
TEST(Timeline, AReadingWithoutATimeIsHeldAndSaysSo)
{
    auto const timeline = built({reference("R1", 10)}, {{"R1", at(12), true}});
    auto const hold = timeline.hold_reason("R1", Instant{ReadingColumns::no_time, 0});
    ASSERT_TRUE(hold);
    EXPECT_EQ(hold->kind, HoldKind::before_reference);
    EXPECT_NE(hold->text.find("no time"), std::string::npos);
}

TEST(Timeline, WhatHasNoEffectIsTold)
{
    auto const timeline = built({reference("R1", 10)}, {{"R9", at(20), true}, {"R1", at(5), true}},
                                {{VoidKind::power_cycle, at(15), "R8"}});
    EXPECT_EQ(kind_of_hold(timeline, "R1", 11), HoldKind::no_accepted_check);
    ASSERT_EQ(timeline.without_effect().size(), 3u);
    EXPECT_NE(timeline.without_effect()[0].find("older than its reference R1"), std::string::npos);
    EXPECT_NE(timeline.without_effect()[1].find("R8"), std::string::npos);
    EXPECT_NE(timeline.without_effect()[2].find("R9"), std::string::npos);
}

TEST(Timeline, RefusesWhatCannotBe)
{
    auto const twice = ReferenceTimeline::build({reference("R1", 0), reference("R1", 1)}, {}, {});
    ASSERT_FALSE(twice.has_value());
    EXPECT_EQ(twice.error().code, Errc::conflict);
    EXPECT_FALSE(ReferenceTimeline::build({reference("", 0)}, {}, {}).has_value());
    auto negative = reference("R1", 0);
    negative.max_age = Seconds{-1};
    EXPECT_FALSE(ReferenceTimeline::build({negative}, {}, {}).has_value());
}

TEST(Timeline, EveryKindHasAFactAndReadsBack)
{
    for (int i = 0; i < void_kinds; ++i) {
        auto const kind = static_cast<VoidKind>(i);
        EXPECT_EQ(parse_void_kind(name_of(kind)), kind);
        if (kind == VoidKind::person_voided)
            EXPECT_STREQ(fact_of(kind), "");
        else
            EXPECT_NE(facts::built_in_tables().fact(fact_of(kind)), nullptr) << fact_of(kind);
    }
    EXPECT_FALSE(parse_void_kind("rain").has_value());
}

struct Case
{
    std::vector<ReferenceEntry> references;
    std::vector<CordCheckEntry> checks;
    std::vector<VoidEvent> events;
};

VoidEvent any_event()
{
    VoidEvent event{
        static_cast<VoidKind>(*rc::gen::inRange(0, void_kinds)), at(*rc::gen::inRange(0, 40)), {}};
    if (*rc::gen::arbitrary<bool>()) event.reference = "R" + std::to_string(*rc::gen::inRange(0, 4));
    return event;
}

Case any_case()
{
    Case c;
    for (int i = 0; i < 3; ++i) {
        ReferenceEntry entry{
            "R" + std::to_string(i), at(*rc::gen::inRange(0, 12)), *rc::gen::inRange(0, 6) > 0, {}};
        if (*rc::gen::arbitrary<bool>()) entry.max_age = Seconds{60.0 * *rc::gen::inRange(0, 40)};
        c.references.push_back(entry);
    }
    for (int i = *rc::gen::inRange(0, 12); i > 0; --i)
        c.checks.push_back({"R" + std::to_string(*rc::gen::inRange(0, 4)), at(*rc::gen::inRange(0, 40)),
                            *rc::gen::inRange(0, 6) > 0});
    for (int i = *rc::gen::inRange(0, 2); i > 0; --i) c.events.push_back(any_event());
    return c;
}

/// The rules word by word, without any search or order.
bool held_by_model(Case const& c, std::string const& id, Instant time)
{
    ReferenceEntry const* reference = nullptr;
    for (auto const& entry : c.references)
        if (entry.id == id) reference = &entry;
    if (reference == nullptr || !reference->accepted || time < reference->taken) return true;
    if (reference->max_age &&
        static_cast<double>(time.ms - reference->taken.ms) > reference->max_age->value() * 1000)
        return true;
    std::vector<Instant> failures;
    for (auto const& event : c.events) {
        bool const acts = event.reference ? *event.reference == id : reference->taken < event.at;
        if (!acts) continue;
        if (event.at <= time) return true;
        if (event.kind == VoidKind::drift_check_failed || event.kind == VoidKind::negative_loss)
            failures.push_back(event.at);
    }
    for (auto const& check : c.checks)
        if (check.reference == id && !check.accepted) failures.push_back(check.at);
    auto const failed_within = [&](Instant from, Instant to) {
        return std::any_of(failures.begin(), failures.end(),
                           [&](Instant const& f) { return from <= f && f <= to; });
    };
    // Some good check before the reading, and no failure from it to the reading; or, with no check and no
    // failure before it at all, a good one after it with no failure up to it.
    bool good_before = false;
    bool const untouched = !failed_within(Instant{INT64_MIN}, time) &&
                           std::none_of(c.checks.begin(), c.checks.end(), [&](CordCheckEntry const& check) {
                               return check.reference == id && check.accepted &&
                                      check.at >= reference->taken && check.at <= time;
                           });
    if (untouched) {
        for (auto const& check : c.checks)
            if (check.reference == id && check.accepted && check.at >= reference->taken && time < check.at &&
                !failed_within(time, check.at))
                good_before = true;
    }
    for (auto const& check : c.checks)
        if (check.reference == id && check.accepted && check.at >= reference->taken && check.at <= time &&
            !failed_within(check.at, time))
            good_before = true;
    if (!good_before) return true;
    // A later failure, without a good check between the reading and it.
    for (auto const& failure : failures) {
        if (failure <= time) continue;
        bool good_between = false;
        for (auto const& check : c.checks)
            if (check.reference == id && check.accepted && check.at >= reference->taken && time < check.at &&
                check.at < failure)
                good_between = true;
        bool const first = std::none_of(failures.begin(), failures.end(),
                                        [&](Instant const& f) { return time < f && f < failure; });
        if (first && !good_between) return true;
    }
    return false;
}

RC_GTEST_PROP(TimelineProperty, AgreesWithThePlainModel, ())
{
    auto const c = any_case();
    auto const timeline = built(c.references, c.checks, c.events);
    int released = 0;
    for (int r = 0; r < 4; ++r)
        for (int minute = -1; minute < 45; ++minute) {
            auto const id = "R" + std::to_string(r);
            bool const held = timeline.hold_reason(id, at(minute)).has_value();
            released += held ? 0 : 1;
            RC_ASSERT(held == held_by_model(c, id, at(minute)));
        }
    RC_CLASSIFY(released > 0);
}

RC_GTEST_PROP(TimelineProperty, OrderOfInputDoesNotMatter, ())
{
    auto const c = any_case();
    auto shuffled = c;
    std::mt19937 random{*rc::gen::arbitrary<std::uint32_t>()};
    std::shuffle(shuffled.references.begin(), shuffled.references.end(), random);
    std::shuffle(shuffled.checks.begin(), shuffled.checks.end(), random);
    std::shuffle(shuffled.events.begin(), shuffled.events.end(), random);
    auto const one = built(c.references, c.checks, c.events);
    auto const two = built(shuffled.references, shuffled.checks, shuffled.events);
    RC_ASSERT(one.without_effect() == two.without_effect());
    for (int r = 0; r < 4; ++r)
        for (int minute = -1; minute < 45; ++minute) {
            auto const a = one.hold_reason("R" + std::to_string(r), at(minute));
            auto const b = two.hold_reason("R" + std::to_string(r), at(minute));
            RC_ASSERT(a.has_value() == b.has_value());
            if (a) RC_ASSERT(a->text == b->text);
        }
}

RC_GTEST_PROP(TimelineProperty, AddingAnEventOrAFailedCheckReleasesNothing, ())
{
    auto const c = any_case();
    auto more = c;
    if (*rc::gen::arbitrary<bool>())
        more.events.push_back(any_event());
    else
        more.checks.push_back(
            {"R" + std::to_string(*rc::gen::inRange(0, 3)), at(*rc::gen::inRange(0, 40)), false});
    auto const before = built(c.references, c.checks, c.events);
    auto const after = built(more.references, more.checks, more.events);
    for (int r = 0; r < 3; ++r)
        for (int minute = -1; minute < 45; ++minute) {
            auto const id = "R" + std::to_string(r);
            if (before.hold_reason(id, at(minute))) RC_ASSERT(after.hold_reason(id, at(minute)).has_value());
        }
}

} // namespace timeline_test
} // namespace guidepin::verdict
