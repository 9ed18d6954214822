// SPDX-License-Identifier: Apache-2.0
// Oracle: the tables of cable types, adapters and transitions, typed out number by number.
// Sources: types A, B, C and their twelve positions: TIA-568-B.1-7 (2006), TIA-568.3-D (2016) and -E (2022);
// adapters: IEC 61754-7, TIA-604-5, TIA-604-18; U1 and U2: TIA-568.3-E, pairing derived from its component
// list (order inside a pair from memory); two-row families: derived, both are in use. Values are whole
// numbers: no tolerance.
#include "plant/presets.hpp"

#include <gtest/gtest.h>

namespace guidepin::plant {
namespace maps_test {

Family const mpo12{Family::Key::mpo12, 1, 12};
Family const mpo24{Family::Key::mpo12, 2, 12};
Family const mpo16{Family::Key::mpo16, 1, 16};
Family const mpo32{Family::Key::mpo16, 2, 16};

std::vector<int> row_of(PositionMap const& map, int count)
{
    std::vector<int> row;
    for (int p = 1; p <= count; ++p) row.push_back(map.at(p));
    return row;
}

struct Row
{
    char const* type;
    std::vector<int> far;
};

void expect_rows(std::vector<Row> const& rows, Family const& family)
{
    for (Row const& row : rows) {
        Result<PositionMap> const map = cable_map(row.type, family);
        ASSERT_TRUE(map) << row.type;
        EXPECT_EQ(row_of(*map, family.positions()), row.far) << row.type << " " << family.name();
    }
}

TEST(CableTypes, TwelvePositions)
{
    expect_rows(
        {
            {"A", {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}},
            {"B", {12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1}},
            {"C", {2, 1, 4, 3, 6, 5, 8, 7, 10, 9, 12, 11}},
            {"RW", {11, 12, 9, 10, 7, 8, 5, 6, 3, 4, 1, 2}},
        },
        mpo12);
}

TEST(CableTypes, CThenBInEitherOrderIsRw)
{
    for (Family const& family : {mpo12, mpo16}) {
        PositionMap const b = cable_map("B", family).value();
        PositionMap const c = cable_map("C", family).value();
        EXPECT_EQ(b.then(c), cable_map("RW", family).value());
        EXPECT_EQ(c.then(b), cable_map("RW", family).value());
    }
}

TEST(CableTypes, EightOuterPositions)
{
    // Eight fibres in the outer holes keep the numbers of the twelve-hole grid: B is 13-p, never 9-p.
    Occupancy const outer = parse_occupancy("8", mpo12).value();
    std::vector<int> const near{1, 2, 3, 4, 9, 10, 11, 12};
    std::vector<Row> const rows{
        {"A", {1, 2, 3, 4, 9, 10, 11, 12}},
        {"B", {12, 11, 10, 9, 4, 3, 2, 1}},
        {"C", {2, 1, 4, 3, 10, 9, 12, 11}},
    };
    for (Row const& row : rows) {
        PositionMap const map = cable_map(row.type, mpo12)->restricted(outer, outer);
        ASSERT_EQ(map.size(), 8) << row.type;
        for (std::size_t i = 0; i < near.size(); ++i) EXPECT_EQ(map.at(near[i]), row.far[i]) << row.type;
    }
}

TEST(CableTypes, SixteenPositions)
{
    expect_rows(
        {
            {"A", {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16}},
            {"B", {16, 15, 14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1}},
            {"C", {2, 1, 4, 3, 6, 5, 8, 7, 10, 9, 12, 11, 14, 13, 16, 15}},
            {"RW", {15, 16, 13, 14, 11, 12, 9, 10, 7, 8, 5, 6, 3, 4, 1, 2}},
        },
        mpo16);
}

TEST(CableTypes, TwentyFourPositionsInBothFamilies)
{
    expect_rows(
        {
            {"I-A", {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24}},
            {"I-B", {24, 23, 22, 21, 20, 19, 18, 17, 16, 15, 14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1}},
            {"II-A", {13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}},
            {"II-B", {12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1, 24, 23, 22, 21, 20, 19, 18, 17, 16, 15, 14, 13}},
            {"C", {2, 1, 4, 3, 6, 5, 8, 7, 10, 9, 12, 11, 14, 13, 16, 15, 18, 17, 20, 19, 22, 21, 24, 23}},
        },
        mpo24);
}

TEST(CableTypes, ThirtyTwoPositions)
{
    for (int p = 1; p <= 32; ++p) {
        EXPECT_EQ(cable_map("I-A", mpo32)->at(p), p);
        EXPECT_EQ(cable_map("I-B", mpo32)->at(p), 33 - p);
        EXPECT_EQ(cable_map("II-A", mpo32)->at(p), p <= 16 ? p + 16 : p - 16);
        EXPECT_EQ(cable_map("II-B", mpo32)->at(p), p <= 16 ? 17 - p : 49 - p);
    }
}

TEST(CableTypes, ALetterAloneIsRefusedForTwoRows)
{
    Result<PositionMap> const a = cable_map("A", mpo24);
    ASSERT_FALSE(a);
    EXPECT_NE(a.error().message.find("I-A"), std::string::npos);
    EXPECT_NE(a.error().message.find("II-A"), std::string::npos);
}

TEST(CableTypes, AAndCTurnTheKey)
{
    // TIA-568.3: A and C lead from key up to key down, B from key up to key up.
    for (char const* const type : {"A", "C", "I-A", "II-A"}) EXPECT_TRUE(turns_key(type)) << type;
    for (char const* const type : {"B", "I-B", "II-B", ""}) EXPECT_FALSE(turns_key(type)) << type;
}

TEST(CableTypes, TurningOneKeyExchangesAAndB)
{
    // Plugs whose key side can be changed: TIA-568.3-E, trade practice.
    for (Family const& family : {mpo12, mpo16}) {
        EXPECT_EQ(cable_map("A", family)->then(key_turn_map(family)), cable_map("B", family).value());
        EXPECT_EQ(cable_map("C", family)->then(key_turn_map(family)), cable_map("RW", family).value());
    }
    for (Family const& family : {mpo24, mpo32}) {
        EXPECT_EQ(cable_map("I-A", family)->then(key_turn_map(family)), cable_map("I-B", family).value());
        EXPECT_EQ(cable_map("II-A", family)->then(key_turn_map(family)), cable_map("II-B", family).value());
        EXPECT_EQ(key_turn_map(family).then(*cable_map("II-B", family)), cable_map("II-A", family).value());
    }
}

TEST(Adapters, PositionsMet)
{
    Family const eight{Family::Key::mpo12, 1, 8};
    for (int p = 1; p <= 8; ++p) {
        EXPECT_EQ(met_position(eight, KeyRelation::opposed, p), p);
        EXPECT_EQ(met_position(eight, KeyRelation::aligned, p), 9 - p);
    }
    for (int p = 1; p <= 12; ++p) {
        EXPECT_EQ(met_position(mpo12, KeyRelation::opposed, p), p);
        EXPECT_EQ(met_position(mpo12, KeyRelation::aligned, p), 13 - p);
    }
    for (int p = 1; p <= 16; ++p) {
        EXPECT_EQ(met_position(mpo16, KeyRelation::opposed, p), p);
        EXPECT_EQ(met_position(mpo16, KeyRelation::aligned, p), 17 - p);
    }
    EXPECT_EQ(row_of(adapter_map(KeyRelation::opposed, mpo24), 24),
              (std::vector<int>{13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24,
                                1,  2,  3,  4,  5,  6,  7,  8,  9,  10, 11, 12}));
    EXPECT_EQ(row_of(adapter_map(KeyRelation::aligned, mpo24), 24),
              (std::vector<int>{12, 11, 10, 9,  8,  7,  6,  5,  4,  3,  2,  1,
                                24, 23, 22, 21, 20, 19, 18, 17, 16, 15, 14, 13}));
    EXPECT_EQ(met_position(mpo32, KeyRelation::opposed, 1), 17);
    EXPECT_EQ(met_position(mpo32, KeyRelation::opposed, 32), 16);
    EXPECT_EQ(met_position(mpo32, KeyRelation::aligned, 1), 16);
    EXPECT_EQ(met_position(mpo32, KeyRelation::aligned, 17), 32);
}

TEST(Modules, PlugPositionBehindEachLcPort)
{
    struct ModuleRow
    {
        char const* type;
        std::vector<int> positions;
    };
    std::vector<ModuleRow> const rows{
        {"straight", {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}},
        {"U1", {1, 12, 2, 11, 3, 10, 4, 9, 5, 8, 6, 7}},
        {"U2", {12, 1, 11, 2, 10, 3, 9, 4, 8, 5, 7, 6}},
        {"U1-8", {1, 12, 2, 11, 3, 10, 4, 9}}, // universal module for eight outer fibres
    };
    for (ModuleRow const& row : rows) {
        PositionMap const ports = module_map(row.type, mpo12)->inverse();
        EXPECT_EQ(row_of(ports, static_cast<int>(row.positions.size())), row.positions) << row.type;
        EXPECT_EQ(ports.size(), static_cast<int>(row.positions.size())) << row.type;
    }
}

TEST(Modules, IdenticalModulesNeedPairsHoldingPAndItsImage)
{
    // With A-to-B cords and identical modules at both ends every pair works on its own number exactly when
    // each LC pair holds {p, sigma(p)}: sigma = R gives U1 and U2, sigma = W the straight module (method C).
    struct Case
    {
        char const* module;
        char const* trunk;
        Family family;
    };
    for (Case const& c : {Case{"U1", "B", mpo12}, Case{"U2", "B", mpo12}, Case{"straight", "C", mpo12},
                          Case{"U1", "B", mpo16}, Case{"U1", "I-B", mpo24}, Case{"U1-II", "II-B", mpo24},
                          Case{"straight", "C", mpo24}}) {
        PositionMap const ports = module_map(c.module, c.family)->inverse();
        PositionMap const sigma = cable_map(c.trunk, c.family).value();
        for (int k = 1; 2 * k <= c.family.positions(); ++k) {
            EXPECT_EQ(sigma.at(ports.at(2 * k - 1)), ports.at(2 * k)) << c.module << " pair " << k;
        }
    }
}

TEST(Harnesses, LegsHoldThePrintedPositions)
{
    PositionMap const straight = harness_map("straight", mpo12)->inverse();
    PositionMap const four = harness_map("breakout-4", mpo12)->inverse();
    PositionMap const eight = harness_map("breakout-8", mpo16)->inverse();
    for (int i = 1; i <= 6; ++i) {
        EXPECT_EQ(straight.at(2 * i - 1), 2 * i - 1);
        EXPECT_EQ(straight.at(2 * i), 2 * i);
    }
    EXPECT_EQ(four.size(), 8);
    for (int i = 1; i <= 4; ++i) {
        EXPECT_EQ(four.at(2 * i - 1), i);
        EXPECT_EQ(four.at(2 * i), 13 - i);
    }
    EXPECT_EQ(eight.size(), 16);
    for (int i = 1; i <= 8; ++i) {
        EXPECT_EQ(eight.at(2 * i - 1), i);
        EXPECT_EQ(eight.at(2 * i), 17 - i);
    }
}

TEST(DuplexCords, HalvesAsLettered)
{
    PositionMap const ab = duplex_cord_map("A-to-B", 12).value();
    PositionMap const aa = duplex_cord_map("a-to-a", 12).value();
    EXPECT_EQ(ab.at(1), 2);
    EXPECT_EQ(ab.at(2), 1);
    EXPECT_EQ(ab.at(12), 11);
    EXPECT_EQ(aa.at(1), 1);
    EXPECT_EQ(aa.at(12), 12);
    EXPECT_FALSE(duplex_cord_map("crossover", 12));
}

} // namespace maps_test
} // namespace guidepin::plant
