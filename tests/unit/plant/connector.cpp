// SPDX-License-Identifier: Apache-2.0
// Oracle: round trips and identities; which positions each name means is checked in
// tests/oracle/plant/mating.cpp.
#include "plant/link.hpp"
#include "plant/presets.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::plant {
namespace connector_test {

ConnectorEnd any_end()
{
    ConnectorEnd end;
    end.family =
        parse_family(*rc::gen::element(std::string{"mpo-12"}, std::string{"mpo-24"}, std::string{"mpo-16"},
                                       std::string{"mpo-32"}, std::string{"duplex-12"}))
            .value();
    end.occupied = Occupancy{*rc::gen::arbitrary<std::uint64_t>()} & all_positions(end.family);
    end.pins = *rc::gen::element(Pins::pinned, Pins::unpinned, Pins::neutral);
    end.slope = *rc::gen::element(Slope::none, Slope::down, Slope::up);
    end.face = end.slope == Slope::none ? Face::flat : Face::angled;
    end.kind = *rc::gen::element(EndKind::plug, EndKind::port);
    return end;
}

RC_GTEST_PROP(Mate, IsSymmetric, ())
{
    ConnectorEnd const a = any_end();
    ConnectorEnd const b = any_end();
    std::optional<KeyRelation> const keys =
        *rc::gen::element(std::optional<KeyRelation>{}, std::optional<KeyRelation>{KeyRelation::opposed},
                          std::optional<KeyRelation>{KeyRelation::aligned});
    MateVerdict const forth = mate(a, b, keys);
    MateVerdict const back = mate(b, a, keys);
    RC_ASSERT(forth.faults == back.faults);
    RC_ASSERT(forth.lit.size() == back.lit.size());
    RC_ASSERT(forth.lit.size() + forth.dark.size() == a.occupied.count());
    if (forth.ok()) RC_ASSERT(forth.may_be_attempted() && forth.valid_optical_joint());
}

RC_GTEST_PROP(Mate, AdaptersUndoThemselves, ())
{
    ConnectorEnd const end = any_end();
    int const p = *rc::gen::inRange(1, end.family.positions() + 1);
    for (KeyRelation const keys : {KeyRelation::opposed, KeyRelation::aligned}) {
        RC_ASSERT(met_position(end.family, keys, met_position(end.family, keys, p)) == p);
    }
}

RC_GTEST_PROP(Occupancy, ReadsBackFromItsText, ())
{
    Family const family = any_end().family;
    Occupancy const set = Occupancy{*rc::gen::arbitrary<std::uint64_t>()} & all_positions(family);
    RC_PRE(set.any());
    Result<Occupancy> const again = parse_occupancy(occupancy_text(set), family);
    RC_ASSERT(again.has_value());
    RC_ASSERT(*again == set);
}

TEST(Occupancy, ReadsBackEverySinglePosition)
{
    for (char const* name : {"mpo-12", "mpo-24", "mpo-16", "mpo-32"}) {
        Family const family = parse_family(name).value();
        for (int p = 1; p <= family.positions(); ++p) {
            Occupancy one;
            one.set(static_cast<std::size_t>(p - 1));
            Result<Occupancy> const again = parse_occupancy(occupancy_text(one), family);
            ASSERT_TRUE(again) << name << " " << p;
            EXPECT_EQ(*again, one) << name << " " << p;
        }
    }
}

TEST(Occupancy, RefusesWithTheWayOut)
{
    Family const mpo12 = parse_family("mpo-12").value();
    Family const mpo16 = parse_family("mpo-16").value();
    EXPECT_NE(parse_occupancy("4", mpo12).error().message.find("4-centred"), std::string::npos);
    EXPECT_NE(parse_occupancy("8", mpo16).error().message.find("8-8"), std::string::npos);
    EXPECT_NE(parse_occupancy("1-13", mpo12).error().message.find("1 to 12"), std::string::npos);
    EXPECT_FALSE(parse_occupancy("4-1", mpo12));
    EXPECT_FALSE(parse_occupancy("", mpo12));
    EXPECT_FALSE(parse_occupancy("1,,2", mpo12));
    EXPECT_FALSE(parse_occupancy("99999999999999999999", mpo12));
}

TEST(Family, NamesReadBack)
{
    for (char const* name : {"mpo-12", "mpo-24", "mpo-16", "mpo-32", "duplex-2", "duplex-12", "duplex-64"}) {
        ASSERT_TRUE(parse_family(name)) << name;
        EXPECT_EQ(parse_family(name)->name(), name);
    }
    for (char const* name : {"mpo-8", "mpo12", "duplex-3", "duplex-66", "duplex-0", ""})
        EXPECT_FALSE(parse_family(name)) << name;
    EXPECT_NE(parse_family("mpo-8").error().message.find("8-outer"), std::string::npos);
    EXPECT_NE(parse_family("mpo-42").error().message.find("did you mean"), std::string::npos);
}

TEST(Names, ReadBack)
{
    for (Pins const pins : {Pins::pinned, Pins::unpinned, Pins::neutral})
        EXPECT_EQ(*parse_pins(name_of(pins)), pins);
    for (Face const face : {Face::flat, Face::angled}) EXPECT_EQ(*parse_face(name_of(face)), face);
    for (KeyRelation const keys : {KeyRelation::opposed, KeyRelation::aligned}) {
        EXPECT_EQ(*parse_key_relation(name_of(keys)), keys);
    }
    for (EndFitting const f :
         {EndFitting::opposed_adapter, EndFitting::aligned_adapter, EndFitting::bare_plug}) {
        EXPECT_EQ(*parse_end_fitting(name_of(f)), f);
    }
    EXPECT_FALSE(parse_pins("male"));
    EXPECT_FALSE(parse_end_fitting("straight"));
}

TEST(Mate, SaysThatUnpinnedPlugsLatchAndPinnedOnesBreak)
{
    ConnectorEnd end;
    end.occupied = all_positions(end.family);
    end.pins = Pins::unpinned;
    EXPECT_NE(mate(end, end, KeyRelation::opposed).text().find("latches"), std::string::npos);
    end.pins = Pins::pinned;
    EXPECT_NE(mate(end, end, KeyRelation::opposed).text().find("do not push"), std::string::npos);
}

} // namespace connector_test
} // namespace guidepin::plant
