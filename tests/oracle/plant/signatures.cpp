// SPDX-License-Identifier: Apache-2.0
// Oracle: generated data with known answer. Each fault is built as a thing (a wrong part put into the chain,
// two fibres crossed, a ribbon moved), the reading is multiplied out, and the words must name what was done.
// Patterns: derived from the tables of TIA-568.3 (docs/methods/mating-and-maps.md#signatures). Colours:
// TIA-598-D. No tolerance.
#include "chain_text.hpp"
#include "plant/map_view.hpp"
#include "plant/presets.hpp"
#include "plant/signature.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace guidepin::plant {
namespace signatures_test {

using testing::Contains;
using testing::ElementsAre;
using testing::UnorderedElementsAre;

Family const mpo12{Family::Key::mpo12, 1, 12};
Family const mpo24{Family::Key::mpo12, 2, 12};

PositionMap panel(std::string const& trunk, char const* near = "opposed", char const* far = "opposed",
                  Family const& family = mpo12)
{
    ChainOptions options;
    options.family = family;
    Result<Chain> const chain =
        build_chain("adapter:" + std::string{near} + " trunk:" + trunk + " adapter:" + far, options);
    if (!chain) ADD_FAILURE() << chain.error().message;
    return chain ? *chain->map.single() : PositionMap{};
}

constexpr std::array<char const*, signature_kinds> signature_ids{
    "wrong-test-cord",   "wrong-adapter",     "wrong-trunk-type", "turned-key",   "crossed-pair",
    "crossed-fibres",    "shifted-row",       "swapped-blocks",   "swapped-rows", "one-leg-wrong",
    "base-8-population", "occupancy-differs", "dark-fibres",      "extra-fibres", "all-dark"};

std::vector<std::string> ids(std::vector<Signature> const& signatures)
{
    std::vector<std::string> names;
    for (Signature const& signature : signatures) {
        EXPECT_FALSE(signature.cause.empty());
        EXPECT_FALSE(signature.check.empty());
        names.emplace_back(signature_ids[static_cast<std::size_t>(signature.kind)]);
    }
    return names;
}

PositionMap exchanged(std::vector<std::pair<int, int>> const& swaps, int positions)
{
    std::vector<int> far;
    for (int p = 1; p <= positions; ++p) far.push_back(p);
    for (auto const& swap : swaps) {
        std::swap(far[static_cast<std::size_t>(swap.first - 1)],
                  far[static_cast<std::size_t>(swap.second - 1)]);
    }
    PositionMap map;
    for (int p = 1; p <= positions; ++p) map.connect(p, far[static_cast<std::size_t>(p - 1)]);
    return map;
}

TEST(Signatures, NothingWhenTheMapIsRight)
{
    EXPECT_TRUE(signature_of(mpo12, panel("B"), panel("B")).empty());
}

TEST(Signatures, OneReversalNamesEveryPartThatCouldBeItAndAccusesNone)
{
    for (PositionMap const& measured : {panel("B"), panel("A", "aligned"), panel("A", "opposed", "aligned"),
                                        panel("A,turn=near"), panel("A,turn=far")}) {
        std::vector<Signature> const found = signature_of(mpo12, panel("A"), measured);
        EXPECT_THAT(ids(found), UnorderedElementsAre("wrong-test-cord", "wrong-adapter", "wrong-trunk-type",
                                                     "turned-key"));
        for (Signature const& signature : found) EXPECT_TRUE(signature.one_of_several);
    }
}

TEST(Signatures, TwoReversalsCancelAndLeaveNoTrace)
{
    EXPECT_TRUE(signature_of(mpo12, panel("A"), panel("B", "opposed", "aligned")).empty());
}

TEST(Signatures, TypeCForAOrB)
{
    EXPECT_THAT(ids(signature_of(mpo12, panel("A"), panel("C"))), ElementsAre("wrong-trunk-type"));
    EXPECT_THAT(ids(signature_of(mpo12, panel("C"), panel("A"))), ElementsAre("wrong-trunk-type"));
    EXPECT_THAT(ids(signature_of(mpo12, panel("B"), panel("C"))), ElementsAre("wrong-trunk-type")); // d = RW
}

TEST(Signatures, TwoFibresCrossed)
{
    for (char const* type : {"A", "B", "C"}) {
        PositionMap const pair = exchanged({{3, 4}}, 12).then(panel(type));
        std::vector<Signature> const inside = signature_of(mpo12, panel(type), pair);
        ASSERT_THAT(ids(inside), ElementsAre("crossed-pair")) << type;
        EXPECT_THAT(inside[0].positions, ElementsAre(3, 4));

        PositionMap const apart = exchanged({{4, 5}}, 12).then(panel(type));
        std::vector<Signature> const outside = signature_of(mpo12, panel(type), apart);
        ASSERT_THAT(ids(outside), ElementsAre("crossed-fibres")) << type;
        EXPECT_THAT(outside[0].positions, ElementsAre(4, 5));
    }
}

TEST(Signatures, ThreeFibresInACircle)
{
    PositionMap const measured = exchanged({{1, 2}, {2, 3}}, 12);
    std::vector<Signature> const found = signature_of(mpo12, panel("A"), measured);
    ASSERT_THAT(ids(found), ElementsAre("crossed-fibres"));
    EXPECT_THAT(found[0].positions, ElementsAre(1, 2, 3));
}

TEST(Signatures, RibbonSeatedOffByOneHole)
{
    PositionMap measured;
    for (int p = 1; p <= 11; ++p) measured.connect(p, p + 1);
    EXPECT_THAT(ids(signature_of(mpo12, panel("A"), measured)), ElementsAre("shifted-row"));
    EXPECT_THAT(ids(signature_of(mpo12, panel("A"), measured.inverse())), ElementsAre("shifted-row"));
}

TEST(Signatures, BlocksOfFourExchanged)
{
    Occupancy const outer = parse_occupancy("8", mpo12).value();
    PositionMap measured;
    for (int p = 1; p <= 4; ++p) {
        measured.connect(p, p + 8);
        measured.connect(p + 8, p);
    }
    EXPECT_THAT(ids(signature_of(mpo12, panel("A").restricted_near(outer), measured)),
                ElementsAre("swapped-blocks"));
}

TEST(Signatures, TwoRowsExchangedOrOneLegWrong)
{
    PositionMap const planned = panel("I-A", "opposed", "opposed", mpo24);
    // Family mixed up; and one bare adapter left out of the path.
    EXPECT_THAT(ids(signature_of(mpo24, planned, panel("II-A", "opposed", "opposed", mpo24))),
                ElementsAre("swapped-rows"));
    EXPECT_THAT(ids(signature_of(mpo24, planned, planned.then(adapter_map(KeyRelation::opposed, mpo24)))),
                ElementsAre("swapped-rows"));

    PositionMap leg;
    for (int p = 1; p <= 12; ++p) {
        leg.connect(p, p);
        leg.connect(12 + p, 25 - p);
    }
    std::vector<Signature> const found = signature_of(mpo24, planned, leg);
    ASSERT_THAT(ids(found), ElementsAre("one-leg-wrong"));
    EXPECT_EQ(found[0].positions.front(), 13);
    EXPECT_EQ(found[0].positions.back(), 24);
}

TEST(Signatures, Darkness)
{
    EXPECT_THAT(ids(signature_of(mpo12, panel("A"), PositionMap{})), ElementsAre("all-dark"));
    Occupancy const outer = parse_occupancy("8-outer", mpo12).value();
    Occupancy const centred = parse_occupancy("8-centred", mpo12).value();
    EXPECT_THAT(ids(signature_of(mpo12, panel("A"), panel("A").restricted_near(outer))),
                ElementsAre("base-8-population"));
    EXPECT_THAT(
        ids(signature_of(mpo12, panel("A").restricted_near(outer), panel("A").restricted(outer, centred))),
        ElementsAre("occupancy-differs"));
    PositionMap one = panel("A");
    one.disconnect(7);
    std::vector<Signature> const found = signature_of(mpo12, panel("A"), one);
    ASSERT_THAT(ids(found), ElementsAre("dark-fibres"));
    EXPECT_THAT(found[0].positions, ElementsAre(7));
    EXPECT_THAT(ids(signature_of(mpo12, one, panel("A"))), ElementsAre("extra-fibres"));
}

TEST(Signatures, ReversalAndADarkFibreAreBothNamed)
{
    PositionMap measured = panel("B");
    measured.disconnect(5);
    std::vector<std::string> const found = ids(signature_of(mpo12, panel("A"), measured));
    EXPECT_THAT(found, Contains("wrong-trunk-type"));
    EXPECT_THAT(found, Contains("dark-fibres"));
}

TEST(Colours, FarFaceIsReadOffTheMap)
{
    // Blue (1) at the far end: type A at 1, B at 12, C at 2; II-A: blue with tracer at 1, plain blue at 13.
    auto const seen_at = [](std::string const& trunk, Family const& family, int fibre) {
        ChainOptions options;
        options.family = family;
        Chain const chain = build_chain("trunk:" + trunk, options).value();
        return chain.map.at(Place{0, fibre}).value_or(Place{0, 0}).position;
    };
    EXPECT_EQ(seen_at("A", mpo12, 1), 1);
    EXPECT_EQ(seen_at("B", mpo12, 1), 12);
    EXPECT_EQ(seen_at("C", mpo12, 1), 2);
    EXPECT_EQ(seen_at("II-A", mpo24, 1), 13);
    EXPECT_EQ(seen_at("II-A", mpo24, 13), 1);
    // Fibre n: colour ((n-1) mod 12)+1, one more tracer for each twelve (TIA-598).
    ConnectorEnd end;
    end.family = Family{Family::Key::mpo16, 2, 16};
    end.occupied = all_positions(end.family);
    std::vector<MapRow> const rows = map_rows(FibreMap{1, 1}, {end});
    ASSERT_EQ(rows.size(), 32U);
    EXPECT_EQ(rows[11].shade, (FibreShade{12, 0}));
    EXPECT_EQ(rows[12].shade, (FibreShade{1, 1}));
    EXPECT_EQ(rows[31].shade, (FibreShade{8, 2}));
}

} // namespace signatures_test
} // namespace guidepin::plant
