// SPDX-License-Identifier: Apache-2.0
// Oracle: the rules of mating, each row with what must come out. Sources: pins P-U only: IEC 61754-7,
// TIA-604-5; offset key of the 16 family: TIA-604-18; hole occupation: EN 61754-7 drawings, outer eight:
// trade practice; angled faces: IEC 61754-7-1:2014 and 61754-7-2:2017 (slope rule derived, see geometry.cpp);
// pin plans: IEC 61280-4-5:2020, TIA-526-28 (one-cord table derived). Exact: no tolerance.
#include "plant/connector.hpp"
#include "plant/presets.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace guidepin::plant {
namespace mating_test {

using testing::ElementsAre;

ConnectorEnd plug(char const* family, char const* fibres, Pins pins, Slope slope = Slope::none)
{
    ConnectorEnd end;
    end.family = parse_family(family).value();
    end.occupied = parse_occupancy(fibres, end.family).value();
    end.pins = pins;
    end.slope = slope;
    end.face = slope == Slope::none ? Face::flat : Face::angled;
    return end;
}

struct Row
{
    char const* what;
    ConnectorEnd first, second;
    std::optional<KeyRelation> keys;
    std::vector<MateFault> faults;
    bool may_be_attempted;
    bool carries_light;
};

constexpr Pins P = Pins::pinned;
constexpr Pins U = Pins::unpinned;
constexpr auto A = KeyRelation::opposed;
constexpr auto B = KeyRelation::aligned;

TEST(Mating, EachRule)
{
    using F = MateFault;
    for (Row const& row : {
             Row{"P-U", plug("mpo-12", "12", P), plug("mpo-12", "12", U), A, {}, true, true},
             {"no adapter",
              plug("mpo-12", "12", P),
              plug("mpo-12", "12", U),
              {},
              {F::no_adapter},
              false,
              false},
             {"12 against 16",
              plug("mpo-12", "12", P),
              plug("mpo-16", "16", U),
              A,
              {F::wrong_family},
              false,
              false},
             {"24 against 32",
              plug("mpo-24", "24", P),
              plug("mpo-32", "32", U),
              A,
              {F::wrong_family},
              false,
              false},
             {"P-P", plug("mpo-12", "12", P), plug("mpo-12", "12", P), A, {F::pins_both}, false, false},
             // Nothing stops the person here: it latches.
             {"U-U", plug("mpo-12", "12", U), plug("mpo-12", "12", U), A, {F::pins_none}, true, false},
             {"flat against angled",
              plug("mpo-12", "12", P),
              plug("mpo-12", "12", U, Slope::down),
              A,
              {F::face_mixed},
              false,
              false},
             {"12 against 24",
              plug("mpo-12", "12", P),
              plug("mpo-24", "24", U),
              A,
              {F::rows_differ},
              true,
              false},
             {"16 against 32",
              plug("mpo-16", "16", P),
              plug("mpo-32", "32", U),
              A,
              {F::rows_differ},
              true,
              false},
             {"16 with 16", plug("mpo-16", "16", P), plug("mpo-16", "16", U), B, {}, true, true},
             {"12 with outer 8",
              plug("mpo-12", "12", P),
              plug("mpo-12", "8", U),
              A,
              {F::partial},
              true,
              true},
             {"two rows, aligned", plug("mpo-24", "24", P), plug("mpo-24", "24", U), B, {}, true, true},
             {"P-P and flat against angled, worst first",
              plug("mpo-12", "12", P),
              plug("mpo-12", "8", P, Slope::down),
              A,
              {F::pins_both, F::face_mixed, F::partial},
              false,
              false},
         }) {
        MateVerdict const verdict = mate(row.first, row.second, row.keys);
        EXPECT_EQ(verdict.faults, row.faults) << row.what << ": " << verdict.text();
        EXPECT_EQ(verdict.may_be_attempted(), row.may_be_attempted) << row.what;
        EXPECT_EQ(verdict.valid_optical_joint(), row.carries_light) << row.what;
    }
}

TEST(Mating, AngledPlugsByKeysAndSlopes)
{
    struct SlopeRow
    {
        Slope first, second;
        KeyRelation keys;
        bool ok;
    };
    for (SlopeRow const& row : {SlopeRow{Slope::down, Slope::down, A, true},
                                {Slope::down, Slope::down, B, false},
                                {Slope::up, Slope::down, A, false},
                                {Slope::up, Slope::down, B, true},
                                {Slope::up, Slope::up, A, true}}) {
        MateVerdict const verdict =
            mate(plug("mpo-12", "12", P, row.first), plug("mpo-12", "12", U, row.second), row.keys);
        EXPECT_EQ(verdict.ok(), row.ok) << verdict.text();
        if (!row.ok) {
            EXPECT_THAT(verdict.faults, ElementsAre(MateFault::slope));
        }
    }
}

TEST(Mating, OuterEightAgainstCentredEightSharesFour)
{
    MateVerdict const verdict = mate(plug("mpo-12", "8-outer", P), plug("mpo-12", "8-centred", U), A);
    EXPECT_THAT(verdict.lit, ElementsAre(3, 4, 9, 10));
    EXPECT_THAT(verdict.dark, ElementsAre(1, 2, 11, 12));
}

TEST(Mating, TwelveAgainstTwentyFourLightsNothing)
{
    EXPECT_TRUE(mate(plug("mpo-12", "12", P), plug("mpo-24", "24", U), A).lit.empty());
}

TEST(Occupancy, HolesByFibreCount)
{
    struct HoleRow
    {
        char const* family;
        char const* name;
        char const* positions;
    };
    for (HoleRow const& row : {HoleRow{"mpo-12", "12", "1-12"},
                               {"mpo-12", "10-centred", "2-11"},
                               {"mpo-12", "8-centred", "3-10"},
                               {"mpo-12", "8", "1-4,9-12"},
                               {"mpo-12", "8-outer", "1-4,9-12"},
                               {"mpo-12", "4-centred", "5-8"},
                               {"mpo-12", "2-centred", "6-7"},
                               {"mpo-24", "24", "1-24"},
                               {"mpo-24", "20-centred", "2-11,14-23"},
                               {"mpo-24", "16-centred", "3-10,15-22"},
                               {"mpo-16", "16", "1-16"},
                               {"mpo-32", "32", "1-32"}}) {
        Family const family = parse_family(row.family).value();
        EXPECT_EQ(occupancy_text(parse_occupancy(row.name, family).value()), row.positions) << row.name;
    }
}

/// The one-cord method: source S, meter M, ends of the cabling C1 and C2; plug states of the test cords.
struct PinPlan
{
    Pins s, m, c1, c2, tc1_source, tc1_reference, tc1_test, tc2_cabling, tc2_meter;
    bool check_in_reference_state, check_in_test_state;
};

TEST(PinPlans, EveryJointOfTheSixteenCasesIsAMateAndTheChecksAreWhereTheTableSaysThem)
{
    for (PinPlan const& plan : {
             PinPlan{P, P, P, P, U, U, U, U, U, false, false},
             PinPlan{P, P, P, U, U, U, U, P, U, true, true},
             PinPlan{P, P, U, P, U, U, P, U, U, false, true},
             PinPlan{P, P, U, U, U, U, P, P, U, true, false},
             PinPlan{P, U, P, P, U, P, U, U, P, true, false},
             PinPlan{P, U, P, U, U, P, U, P, P, false, true},
             PinPlan{P, U, U, P, U, P, P, U, P, true, true},
             PinPlan{P, U, U, U, U, P, P, P, P, false, false},
             PinPlan{U, P, P, P, P, U, U, U, U, false, false},
             PinPlan{U, P, P, U, P, U, U, P, U, true, true},
             PinPlan{U, P, U, P, P, U, P, U, U, false, true},
             PinPlan{U, P, U, U, P, U, P, P, U, true, false},
             PinPlan{U, U, P, P, P, P, U, U, P, true, false},
             PinPlan{U, U, P, U, P, P, U, P, P, false, true},
             PinPlan{U, U, U, P, P, P, P, U, P, true, true},
             PinPlan{U, U, U, U, P, P, P, P, P, false, false},
         }) {
        auto const joins = [](Pins a, Pins b) {
            return mate(plug("mpo-12", "12", a), plug("mpo-12", "12", b), A).ok();
        };
        EXPECT_TRUE(joins(plan.s, plan.tc1_source));
        EXPECT_TRUE(joins(plan.tc1_reference, plan.m));
        EXPECT_TRUE(joins(plan.tc1_test, plan.c1));
        EXPECT_TRUE(joins(plan.c2, plan.tc2_cabling));
        EXPECT_TRUE(joins(plan.tc2_meter, plan.m));
        EXPECT_EQ(joins(plan.tc1_reference, plan.tc2_cabling), plan.check_in_reference_state);
        EXPECT_EQ(joins(plan.tc1_test, plan.tc2_cabling), plan.check_in_test_state);
        EXPECT_EQ(plan.tc1_test, complement(plan.c1));
    }
}

TEST(PinPlans, EqualEndsRefuseTwoCordsAndTakeThree)
{
    // Vector 11: with pinned cabling both cords are unpinned; a pinned substitution cord fits between them.
    EXPECT_THAT(mate(plug("mpo-12", "12", U), plug("mpo-12", "12", U), A).faults,
                ElementsAre(MateFault::pins_none));
    EXPECT_TRUE(mate(plug("mpo-12", "12", U), plug("mpo-12", "12", P), A).ok());
}

} // namespace mating_test
} // namespace guidepin::plant
