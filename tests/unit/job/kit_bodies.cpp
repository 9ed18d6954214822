// SPDX-License-Identifier: Apache-2.0
// Oracle: the round trip. What a record of the kit says is what was written into it; the expected value is
// the input itself. Findings in words: by hand.
#include "job/entry/kit_bodies.hpp"
#include "plant/presets.hpp"
#include "record/canonical_json.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::job {
namespace kit_bodies_test {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

rc::Gen<std::string> words()
{
    return rc::gen::elementOf(
        std::vector<std::string>{"TRC-01", "a \"quoted\" one", "tab\there", "Zoë", "日本", "back\\slash"});
}

setup::CordEnd some_end(plant::Family const& family)
{
    setup::CordEnd end;
    auto const pins = *rc::gen::element(plant::Pins::pinned, plant::Pins::unpinned);
    auto const face = *rc::gen::element(plant::Face::flat, plant::Face::angled);
    end.plug = setup::plug_of(family, pins, face);
    if (face == plant::Face::angled && *rc::gen::arbitrary<bool>()) end.plug.slope = plant::Slope::up;
    end.pins_exchangeable = *rc::gen::arbitrary<bool>();
    return end;
}

KitItem some_item()
{
    KitItem item;
    item.serial = *words();
    item.sort = static_cast<KitSort>(*rc::gen::inRange(0, 5));
    item.name = *words();
    if (*rc::gen::arbitrary<bool>()) item.calibrated = setup::Day{*rc::gen::inRange(0, 40'000)};
    if (*rc::gen::arbitrary<bool>()) item.calibration_due = setup::Day{*rc::gen::inRange(0, 40'000)};
    auto const family =
        plant::parse_family(*rc::gen::elementOf(std::vector<std::string>{"mpo-12", "mpo-16", "mpo-24"}))
            .value();
    item.family = family.key;
    item.keys = *rc::gen::element(plant::KeyRelation::opposed, plant::KeyRelation::aligned);
    item.count = *rc::gen::inRange(1, 50);
    item.matings_before = *rc::gen::inRange(0, 1000);
    item.pin_changes_before = *rc::gen::inRange(0, 100);
    if (*rc::gen::arbitrary<bool>()) item.matings_limit = *rc::gen::inRange(1, 1000);
    if (*rc::gen::arbitrary<bool>()) item.pin_changes_limit = *rc::gen::inRange(1, 1000);
    item.counts_anew = *rc::gen::arbitrary<bool>();
    if (*rc::gen::arbitrary<bool>()) {
        item.removed = true;
        item.reason = "cracked housing";
    }
    if (item.is_instrument()) {
        item.port = setup::port_of(family, *rc::gen::element(plant::Pins::pinned, plant::Pins::neutral));
        item.wavelengths = *rc::gen::container<std::vector<Nanometres>>(
            rc::gen::map(rc::gen::inRange(600, 1701), [](int nm) { return Nanometres{nm}; }));
    }
    if (item.sort == KitSort::cord) {
        item.cord.id = item.serial;
        item.cord.ends = {some_end(family), some_end(family)};
        item.cord.type = family.rows == 1 ? *rc::gen::elementOf(std::vector<std::string>{"A", "B"}) : "I-B";
        item.cord.grade = *rc::gen::element(facts::CordGrade::reference, facts::CordGrade::standard);
        item.cord.length = Metres{*rc::gen::inRange(0, 3000) / 7.0};
        item.cord.category = *rc::gen::element<std::string>("", "OM4", "OS2");
        item.cord.glass.core_um = *rc::gen::element(0.0, 50.0, 62.5);
        item.cord.glass.kind = *rc::gen::element(facts::FibreKind::multimode, facts::FibreKind::single_mode);
        for (bool& allowed : item.cord.roles.allowed) allowed = *rc::gen::arbitrary<bool>();
    }
    return item;
}

RC_GTEST_PROP(KitBodies, AnItemComesBack, ())
{
    KitItem const put = some_item();
    auto const body = kit_item_body(put);
    RC_ASSERT(body.has_value());
    RC_ASSERT(record::require_canonical(*body).has_value());
    auto const got = kit_item_of(*body);
    RC_ASSERT(got.has_value());
    RC_ASSERT(got->serial == put.serial && got->sort == put.sort && got->name == put.name);
    RC_ASSERT(got->calibrated == put.calibrated && got->calibration_due == put.calibration_due);
    RC_ASSERT(got->family == put.family && got->keys == put.keys && got->count == put.count);
    RC_ASSERT(got->matings_before == put.matings_before && got->pin_changes_before == put.pin_changes_before);
    RC_ASSERT(got->matings_limit == put.matings_limit && got->pin_changes_limit == put.pin_changes_limit);
    RC_ASSERT(got->counts_anew == put.counts_anew && got->removed == put.removed &&
              got->reason == put.reason);
    if (put.is_instrument()) {
        RC_ASSERT(got->port.face == put.port.face && got->port.keys == put.port.keys);
        RC_ASSERT(got->wavelengths == put.wavelengths);
    }
    if (put.sort == KitSort::cord) {
        RC_ASSERT(got->cord.ends == put.cord.ends);
        RC_ASSERT(got->cord.id == put.cord.id && got->cord.type == put.cord.type);
        RC_ASSERT(got->cord.grade == put.cord.grade && got->cord.length == put.cord.length);
        RC_ASSERT(got->cord.category == put.cord.category && got->cord.glass == put.cord.glass);
        RC_ASSERT(got->cord.roles == put.cord.roles);
    }
    RC_ASSERT(kit_item_body(*got).value() == *body);
}

RC_GTEST_PROP(KitBodies, AnInspectionComesBack, ())
{
    FaceInspected put;
    put.seen.item = *words();
    put.seen.end = *rc::gen::inRange(0, 2);
    put.seen.type = "multimode-pc";
    put.edition = "2 (2015)";
    put.cleaned = *rc::gen::arbitrary<bool>();
    put.seen.loose_debris = *rc::gen::arbitrary<bool>();
    put.note = *words();
    put.key = *words();
    auto const sizes = rc::gen::container<std::vector<double>>(
        rc::gen::map(rc::gen::inRange(1, 900), [](int tenth) { return tenth / 10.0; }));
    for (int position = 1; position <= *rc::gen::inRange(1, 5); ++position)
        put.seen.findings.push_back({position, *rc::gen::element<std::string>("A", "B"), *sizes, *sizes});
    auto const body = inspection_body(put);
    RC_ASSERT(body.has_value());
    auto const got = inspection_of(*body);
    RC_ASSERT(got.has_value());
    RC_ASSERT(got->seen.item == put.seen.item && got->seen.end == put.seen.end);
    RC_ASSERT(got->seen.findings.size() == put.seen.findings.size());
    for (std::size_t i = 0; i < put.seen.findings.size(); ++i) {
        RC_ASSERT(got->seen.findings[i].position == put.seen.findings[i].position);
        RC_ASSERT(got->seen.findings[i].scratches_um == put.seen.findings[i].scratches_um);
        RC_ASSERT(got->seen.findings[i].defects_um == put.seen.findings[i].defects_um);
    }
    RC_ASSERT(inspection_body(*got).value() == *body);
}

TEST(KitBodies, OthersComeBack)
{
    PinsChanged change;
    change.item = "T-1";
    change.end = 0;
    change.from = plant::Pins::pinned;
    change.to = plant::Pins::unpinned;
    change.pins_counted = 2;
    change.note = "tool 3";
    change.key = "k";
    auto const back = pin_change_of(*pin_change_body(change));
    ASSERT_TRUE(back.has_value());
    EXPECT_EQ(back->item + back->note + back->key, "T-1tool 3k");
    EXPECT_EQ(back->end, 0);
    EXPECT_EQ(back->from, plant::Pins::pinned);
    EXPECT_EQ(back->to, plant::Pins::unpinned);
    EXPECT_EQ(back->pins_counted, 2);

    setup::RegisterLimits limits;
    limits.matings = 200;
    limits.warn_at = 0.75;
    limits.calibration_warning_days = 14;
    limits.end_faces_required = true;
    auto const said = kit_limits_of(*kit_limits_body(limits));
    ASSERT_TRUE(said.has_value());
    EXPECT_EQ(said->matings, 200);
    EXPECT_FALSE(said->pin_changes.has_value());
    EXPECT_EQ(said->warn_at, 0.75);
    EXPECT_EQ(said->calibration_warning_days, 14);
    EXPECT_TRUE(said->end_faces_required);

    KitOverride decision{"T-1", "spare is on its way", {"matings", "end-face"}, "k"};
    auto const read = kit_override_of(*kit_override_body(decision));
    ASSERT_TRUE(read.has_value());
    EXPECT_EQ(read->item + read->reason + read->key, "T-1spare is on its wayk");
    EXPECT_THAT(read->about, ElementsAre("matings", "end-face"));
}

TEST(KitBodies, WhatDoesNotHoldIsNotWritten)
{
    EXPECT_FALSE(kit_item_body({}).has_value()) << "no serial";
    KitItem gone;
    gone.serial = "X";
    gone.sort = KitSort::pin_tool;
    gone.removed = true;
    EXPECT_FALSE(kit_item_body(gone).has_value()) << "no reason";
    EXPECT_FALSE(kit_override_body({"X", " ", {}, {}}).has_value()) << "no reason";
    setup::RegisterLimits limits;
    limits.matings = 0;
    EXPECT_FALSE(kit_limits_body(limits).has_value());
    limits.matings.reset();
    limits.warn_at = 1.5;
    EXPECT_FALSE(kit_limits_body(limits).has_value());
    PinsChanged change;
    change.to = plant::Pins::neutral;
    EXPECT_FALSE(pin_change_body(change).has_value());
    // A count that no int holds is refused, not cut off.
    auto const read = kit_item_of(R"({"item":"X","matings_before":1e15,"sort":"pin-tool"})");
    ASSERT_FALSE(read.has_value());
    EXPECT_THAT(read.error().message, HasSubstr("matings_before"));
}

TEST(KitBodies, FindingsInWords)
{
    setup::EndFaceInspection inspection;
    for (char const* words : {"3 A scratch 2.5", "3  A  scratch 4", "3 A defect 1", "11 B defect 6"})
        ASSERT_TRUE(add_finding(inspection, words).has_value()) << words;
    ASSERT_EQ(inspection.findings.size(), 2U) << "gathered by position and zone";
    EXPECT_THAT(inspection.findings[0].scratches_um, ElementsAre(2.5, 4));
    EXPECT_THAT(inspection.findings[0].defects_um, ElementsAre(1));
    EXPECT_THAT(finding_words(inspection),
                ElementsAre("3 A scratch 2.5", "3 A scratch 4", "3 A defect 1", "11 B defect 6"));
    for (char const* words : {"", "3 A scratch", "0 A scratch 1", "3 AB scratch 1", "3 a scratch 1",
                              "3 A crack 1", "3 A scratch -1", "3 A scratch 0", "3 A scratch 1e9",
                              "3 A scratch nan", "3 A scratch 1 2", "x A scratch 1"}) {
        auto const wrong = add_finding(inspection, words);
        ASSERT_FALSE(wrong.has_value()) << words;
        EXPECT_THAT(wrong.error().message, HasSubstr("3 A scratch 2.5")) << words;
    }
}

TEST(KitBodies, TheDayIsThatOfTheWallClock)
{
    // 2026-03-02 23:30 UTC is the 3rd at +01:00; days since 1970 by `date -d 2026-03-02 +%s` / 86400.
    auto const at = parse_instant("2026-03-02T23:30:00Z").value();
    EXPECT_EQ(day_of(at).days, 20514);
    EXPECT_EQ(day_of(Instant{at.ms, 60}).days, 20515);
    EXPECT_EQ(day_of(Instant{-1, 0}).days, -1);
}

} // namespace kit_bodies_test
} // namespace guidepin::job
