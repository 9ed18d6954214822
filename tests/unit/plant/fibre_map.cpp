// SPDX-License-Identifier: Apache-2.0
// Oracle: the laws of partial one-to-one maps (associative, inverse undoes) and of the group of four.
#include "chain_text.hpp"
#include "plant/chain.hpp"
#include "plant/presets.hpp"
#include "plant/test_cords.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::plant {
namespace fibre_map_test {

Family const mpo12{Family::Key::mpo12, 1, 12};

std::vector<Family> const families{{Family::Key::mpo12, 1, 12},
                                   {Family::Key::mpo12, 2, 12},
                                   {Family::Key::mpo16, 1, 16},
                                   {Family::Key::mpo16, 2, 16}};

/// Any partial one-to-one map on 1 … positions: tries to connect pairs drawn at random, taken ones are left
/// out.
PositionMap any_map(int positions)
{
    PositionMap map;
    auto const pairs = *rc::gen::container<std::vector<std::pair<int, int>>>(
        rc::gen::pair(rc::gen::inRange(1, positions + 1), rc::gen::inRange(1, positions + 1)));
    for (auto const& pair : pairs) map.connect(pair.first, pair.second);
    return map;
}

Place any_place(int connectors)
{
    return Place{*rc::gen::inRange(0, connectors), *rc::gen::inRange(1, 25)};
}

FibreMap any_fibre_map(int near, int far)
{
    FibreMap map{near, far};
    int const count = *rc::gen::inRange(0, 60);
    for (int i = 0; i < count; ++i) {
        Place const from = any_place(near);
        map.connect(from, any_place(far));
    }
    return map;
}

RC_GTEST_PROP(PositionMap, CompositionIsAssociative, ())
{
    PositionMap const a = any_map(24);
    PositionMap const b = any_map(24);
    PositionMap const c = any_map(24);
    RC_ASSERT(a.then(b).then(c) == a.then(b.then(c)));
}

RC_GTEST_PROP(PositionMap, InverseUndoesOnWhatIsLit, ())
{
    PositionMap const a = any_map(32);
    RC_ASSERT(a.then(a.inverse()) == PositionMap::identity(a.near_positions()));
    RC_ASSERT(a.inverse().then(a) == PositionMap::identity(a.far_positions()));
    RC_ASSERT(a.inverse().inverse() == a);
}

RC_GTEST_PROP(PositionMap, InverseOfAChainIsTheChainOfInversesBackwards, ())
{
    PositionMap const a = any_map(16);
    PositionMap const b = any_map(16);
    RC_ASSERT(a.then(b).inverse() == b.inverse().then(a.inverse()));
}

RC_GTEST_PROP(FibreMap, LawsHoldWithSeveralConnectors, ())
{
    FibreMap const a = any_fibre_map(1, 3);
    FibreMap const b = any_fibre_map(3, 2);
    FibreMap const c = any_fibre_map(2, 2);
    RC_ASSERT(a.then(b).then(c) == a.then(b.then(c)));
    RC_ASSERT(a.then(b).inverse() == b.inverse().then(a.inverse()));
    RC_ASSERT(a.inverse().inverse() == a);
}

RC_GTEST_PROP(FibreMap, AgreesWithPositionMap, ())
{
    PositionMap const a = any_map(24);
    PositionMap const b = any_map(24);
    RC_ASSERT(FibreMap{a}.then(FibreMap{b}).single() == a.then(b));
    RC_ASSERT(FibreMap{a}.inverse() == FibreMap{a.inverse()});
}

RC_GTEST_PROP(Difference, RebuildsTheMeasuredMap, ())
{
    // Expected plus its differences is the measured map again: nothing is lost and nothing is made up.
    PositionMap const expected = any_map(12);
    PositionMap const measured = any_map(12);
    Difference const d = difference(expected, measured);
    PositionMap moved = PositionMap::identity(expected.far_positions());
    for (Place const near : d.dark) moved.disconnect(expected.at(near.position));
    std::vector<std::pair<int, int>> moves;
    for (auto const& cycle : d.cycles) {
        for (std::size_t i = 0; i < cycle.size(); ++i) {
            moves.emplace_back(cycle[i].position, cycle[(i + 1) % cycle.size()].position);
        }
    }
    for (auto const& path : d.paths) {
        for (std::size_t i = 0; i + 1 < path.size(); ++i)
            moves.emplace_back(path[i].position, path[i + 1].position);
    }
    for (auto const& move : moves) moved.disconnect(move.first);
    for (auto const& move : moves) RC_ASSERT(moved.connect(move.first, move.second));
    PositionMap rebuilt = expected.then(moved);
    for (Place const near : d.extra) RC_ASSERT(rebuilt.connect(near.position, measured.at(near.position)));
    RC_ASSERT(rebuilt == measured);
    RC_ASSERT(d.none() == (expected == measured));
}

TEST(PositionMap, RefusesWhatIsTakenOrOutside)
{
    PositionMap map;
    EXPECT_TRUE(map.connect(1, 12));
    EXPECT_FALSE(map.connect(1, 11));
    EXPECT_FALSE(map.connect(2, 12));
    EXPECT_FALSE(map.connect(0, 1));
    EXPECT_FALSE(map.connect(1, 65));
    EXPECT_EQ(map.size(), 1);
    EXPECT_EQ(map.at(99), 0);
    EXPECT_EQ(sizeof(PositionMap), 64U);
}

TEST(Class, FewLitPositionsMayFitSeveral)
{
    PositionMap map;
    map.connect(6, 7);
    EXPECT_EQ(class_name(map, mpo12), "B");
    PositionMap none;
    EXPECT_EQ(class_name(none, mpo12), "dark");
    PositionMap odd;
    odd.connect(1, 5);
    EXPECT_EQ(class_name(odd, mpo12), "other");
    Family const mpo24{Family::Key::mpo12, 2, 12};
    PositionMap one;
    one.connect(12, 13); // I-B: 25-12
    one.connect(1, 24);
    EXPECT_EQ(class_name(one, mpo24), "I-B");
}

/// A healthy one-row chain in words, with what decides its class.
struct RandomChain
{
    std::string text;
    int reversals = 0;
    int pair_flips = 0;
};

RandomChain any_chain()
{
    RandomChain chain;
    int const cables = *rc::gen::inRange(1, 6);
    auto const adapter = [&chain] {
        bool const aligned = *rc::gen::arbitrary<bool>();
        chain.reversals += aligned ? 1 : 0;
        chain.text += aligned ? "adapter:aligned " : "adapter:opposed ";
    };
    adapter();
    for (int i = 0; i < cables; ++i) {
        std::string const type = *rc::gen::element(std::string{"A"}, std::string{"B"}, std::string{"C"});
        bool const turned = *rc::gen::arbitrary<bool>();
        chain.reversals += (type == "B" ? 1 : 0) + (turned ? 1 : 0);
        chain.pair_flips += type == "C" ? 1 : 0;
        chain.text += "trunk:" + type + (turned ? ",turn=far " : " ");
        adapter();
    }
    return chain;
}

RC_GTEST_PROP(Chain, OneRowChainsFormTheGroupOfFourByParity, ())
{
    RandomChain const chain = any_chain();
    char const* const expected[2][2] = {{"A", "C"}, {"B", "RW"}};
    for (Family const& family : families) {
        if (family.rows != 1) continue;
        ChainOptions options;
        options.family = family;
        Result<Chain> const built = build_chain(chain.text, options);
        RC_ASSERT(built.has_value());
        RC_ASSERT(built->class_name() == expected[chain.reversals % 2][chain.pair_flips % 2]);
        // The direction of reading never changes the class.
        PositionMap const map = *built->map.single();
        RC_ASSERT(class_name(map.inverse(), family) == class_name(map, family));
        RC_ASSERT(map.inverse() == map);
    }
}

RC_GTEST_PROP(Chain, ReadBackwardsIsTheInverse, ())
{
    RandomChain const chain = any_chain();
    std::vector<Element> elements = parse_chain_text(chain.text).value();
    Chain const forth = build_chain(std::span<Element const>{elements}, {}).value();
    std::reverse(elements.begin(), elements.end());
    for (Element& element : elements) std::swap(element.turned_near, element.turned_far);
    Chain const back = build_chain(std::span<Element const>{elements}, {}).value();
    RC_ASSERT(back.map == forth.map.inverse());
}

RC_GTEST_PROP(TestCords, TakingOutUndoesPuttingIn, ())
{
    Family const family = *rc::gen::elementOf(families);
    auto const any_cord = [&family] {
        TestCord cord;
        cord.type = *rc::gen::elementOf(cable_types(family));
        cord.port = *rc::gen::element(KeyRelation::opposed, KeyRelation::aligned);
        if (*rc::gen::arbitrary<bool>())
            cord.adapter = *rc::gen::element(KeyRelation::opposed, KeyRelation::aligned);
        return cord;
    };
    PositionMap const launch = launch_map(any_cord(), family).value();
    PositionMap const receive = receive_map(any_cord(), family).value();
    PositionMap const cabling = any_map(family.positions());
    RC_ASSERT(launch.inverse().then(shown_by_instrument(cabling, launch, receive)).then(receive.inverse()) ==
              cabling);
}

} // namespace fibre_map_test
} // namespace guidepin::plant
