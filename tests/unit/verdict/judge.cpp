// SPDX-License-Identifier: Apache-2.0
// What a link's readings add up to, case by case.
#include "verdict/judge.hpp"
#include "verdict_readings.hpp"

namespace guidepin::verdict {
namespace judge_test {

Verdicts judged(std::vector<Row> const& rows, JudgeTasks const& tasks,
                std::vector<std::uint8_t> const& hold = {})
{
    ReadingColumns const readings = columns_of(rows);
    auto verdicts = judge(readings, tasks, hold);
    EXPECT_TRUE(verdicts.has_value());
    return std::move(*verdicts);
}

TEST(Judge, HealthyLinkPasses)
{
    auto rows = healthy();
    rows[6].db = 0.61;
    auto const verdicts = judged(rows, tasks_for(1));
    LinkVerdict const& link = verdicts.links[0];
    EXPECT_EQ(link.state, State::pass);
    EXPECT_EQ(link.polarity, State::pass);
    EXPECT_EQ(link.length, State::pass);
    EXPECT_EQ(link.completeness, State::pass);
    EXPECT_EQ(link.findings, 0u);
    EXPECT_EQ(link.fibres, 12);
    EXPECT_EQ(link.fibres_accepted, 12);
    EXPECT_EQ(link.worst_position, 7);
    EXPECT_EQ(link.worst_wavelength_nm, 850);
    EXPECT_DOUBLE_EQ(link.margin_db, 0.75 - 0.61);
    EXPECT_NEAR(link.p_conform, normal_cdf(0.14 / 0.05), 1e-12);
    EXPECT_FLOAT_EQ(verdicts.ratio[verdicts.cell(0, 0, 7)], 0.61f / 0.75f);
    EXPECT_TRUE(std::isnan(verdicts.ratio[verdicts.cell(0, 1, 7)]));
    EXPECT_EQ(verdicts.cell_state[verdicts.cell(0, 0, 1)], State::pass);
}

TEST(Judge, OneFibreBeyondTheLimitFailsTheLink)
{
    auto rows = healthy();
    rows[3].db = 0.76;
    auto const verdicts = judged(rows, tasks_for(1));
    EXPECT_EQ(verdicts.links[0].state, State::fail);
    EXPECT_EQ(verdicts.links[0].fibres_accepted, 11);
    EXPECT_TRUE(verdicts.links[0].findings & loss_beyond);
    EXPECT_EQ(verdicts.reading_state[3], State::fail);
    EXPECT_EQ(verdicts.reading_state[4], State::pass);
}

TEST(Judge, GuardedRulesNameTheMargin)
{
    // w = 1.6449 * 0.05 = 0.0822: 0.70 is within the limit, not by the guard band; 0.80 beyond, not by it
    // either.
    struct
    {
        double db;
        State guarded, simple;
    } const rows[] = {{0.66, State::pass, State::pass},
                      {0.70, State::marginal_pass, State::pass},
                      {0.75, State::marginal_pass, State::pass},
                      {0.80, State::marginal_fail, State::fail},
                      {0.84, State::fail, State::fail}};
    for (auto const& row : rows) {
        auto readings = healthy();
        readings[0].db = row.db;
        auto tasks = tasks_for(1);
        EXPECT_EQ(judged(readings, tasks).links[0].state, row.simple) << row.db;
        for (auto const rule : {DecisionRule::guarded_acceptance, DecisionRule::guarded_rejection}) {
            tasks.rules.decision = rule;
            EXPECT_EQ(judged(readings, tasks).links[0].state, row.guarded) << row.db;
        }
    }
}

TEST(Judge, NothingMeasuredIsOpen)
{
    JudgeTasks const tasks = tasks_for(2);
    auto const verdicts = judged(healthy(), tasks);
    EXPECT_EQ(verdicts.links[1].state, State::open);
    EXPECT_EQ(verdicts.links[1].missing, 12u);
    EXPECT_EQ(verdicts.links[1].worst_position, 0);
    EXPECT_TRUE(std::isnan(verdicts.links[1].margin_db));
    EXPECT_TRUE(verdicts.links[1].findings & readings_missing);
}

TEST(Judge, MissingPositionWavelengthOrDirectionIsOpen)
{
    auto rows = healthy();
    rows.pop_back();
    auto verdicts = judged(rows, tasks_for(1));
    EXPECT_EQ(verdicts.links[0].state, State::open);
    EXPECT_EQ(verdicts.links[0].missing, 1u);

    auto tasks = tasks_for(1);
    tasks.kinds[0].required = 2; // 1300 nm too
    verdicts = judged(healthy(), tasks);
    EXPECT_EQ(verdicts.links[0].state, State::open);
    EXPECT_EQ(verdicts.links[0].missing, 12u);

    tasks = tasks_for(1);
    tasks.rules.directions = 2;
    verdicts = judged(healthy(), tasks);
    EXPECT_EQ(verdicts.links[0].state, State::open);
    EXPECT_EQ(verdicts.links[0].missing, 12u);
    rows = healthy();
    for (int p = 1; p <= 12; ++p) rows.push_back(Row{"L1", LaunchEnd::b, p, 13 - p, 850, 0.4});
    EXPECT_EQ(judged(rows, tasks).links[0].state, State::pass);
}

TEST(Judge, AFailIsAFailThoughReadingsAreMissing)
{
    auto rows = healthy();
    rows.resize(3);
    rows[0].db = 2;
    EXPECT_EQ(judged(rows, tasks_for(1)).links[0].state, State::fail);
}

TEST(Judge, ExtraWavelengthIsJudgedButNotRequired)
{
    auto rows = healthy();
    rows.push_back(Row{"L1", LaunchEnd::a, 5, 8, 1300, 0.9, 30});
    auto const verdicts = judged(rows, tasks_for(1));
    EXPECT_EQ(verdicts.links[0].state, State::fail);
    EXPECT_EQ(verdicts.links[0].worst_wavelength_nm, 1300);
}

TEST(Judge, PolarityIsJudgedFromBothEnds)
{
    auto rows = healthy();
    std::swap(rows[2].far, rows[3].far);
    auto verdicts = judged(rows, tasks_for(1));
    EXPECT_EQ(verdicts.links[0].polarity, State::fail);
    EXPECT_EQ(verdicts.links[0].state, State::fail);
    EXPECT_EQ(verdicts.links[0].fibres_polarity_wrong, 2);
    EXPECT_TRUE(verdicts.reading_flags[2] & wrong_far);

    // Type C is not its own mirror image on every family; here from B: 1 -> 2.
    rows.clear();
    for (int p = 1; p <= 12; ++p) {
        rows.push_back(Row{"L1", LaunchEnd::b, p, p % 2 ? p + 1 : p - 1, 850, 0.3, 30});
    }
    EXPECT_EQ(judged(rows, tasks_for(1, "C")).links[0].state, State::pass);
    EXPECT_EQ(judged(rows, tasks_for(1, "A")).links[0].polarity, State::fail);
}

TEST(Judge, DarkFibreFails)
{
    auto rows = healthy();
    rows[7].far = far_dark;
    rows[7].db = 60;
    auto const verdicts = judged(rows, tasks_for(1));
    EXPECT_EQ(verdicts.links[0].state, State::fail);
    EXPECT_EQ(verdicts.links[0].fibres_polarity_wrong, 1);
}

TEST(Judge, PolarityNotMeasuredIsOpenUnlessTheJobSaysSo)
{
    auto rows = healthy();
    for (auto& row : rows) row.far = far_not_stated;
    auto tasks = tasks_for(1);
    EXPECT_EQ(judged(rows, tasks).links[0].state, State::open);
    EXPECT_TRUE(judged(rows, tasks).links[0].findings & polarity_missing);
    tasks.rules.require_polarity = false;
    EXPECT_EQ(judged(rows, tasks).links[0].state, State::pass);
}

TEST(Judge, LengthAgainstTheDrawing)
{
    struct
    {
        double measured;
        State state;
    } const cases[] = {
        {30, State::pass}, {32, State::pass}, {28, State::pass}, {32.1, State::fail}, {27.9, State::fail}};
    for (auto const& one : cases) {
        auto rows = healthy();
        for (auto& row : rows) row.length = one.measured;
        EXPECT_EQ(judged(rows, tasks_for(1)).links[0].state, one.state) << one.measured;
    }
    auto rows = healthy();
    for (auto& row : rows) row.length = std::nan("");
    auto tasks = tasks_for(1);
    EXPECT_EQ(judged(rows, tasks).links[0].state, State::pass);
    tasks.rules.require_length = true;
    EXPECT_EQ(judged(rows, tasks).links[0].state, State::open);
    rows = healthy();
    rows[0].length = 31.9; // within the tolerance, but far from the other fibres
    auto const verdicts = judged(rows, tasks_for(1));
    EXPECT_EQ(verdicts.links[0].state, State::pass);
    EXPECT_TRUE(verdicts.links[0].findings & length_scattered);
}

TEST(Judge, PartialRetestSupersedesOnlyItsPlaces)
{
    auto rows = healthy();
    for (auto& row : rows) row.taken = 1000;
    rows[4].db = 1.5;
    rows.push_back(Row{"L1", LaunchEnd::a, 5, 8, 850, 0.35, 30, 2000});
    auto const verdicts = judged(rows, tasks_for(1));
    EXPECT_EQ(verdicts.links[0].state, State::pass);
    EXPECT_EQ(verdicts.links[0].current, 12u);
    EXPECT_EQ(verdicts.links[0].readings, 13u);
    EXPECT_TRUE(verdicts.links[0].findings & retested);
    EXPECT_TRUE(verdicts.reading_flags[4] & superseded);
    EXPECT_EQ(verdicts.reading_state[4], State::fail); // what it said stays
    EXPECT_EQ(verdicts.reading_state[12], State::pass);
    // The same file the other way round: time decides, not the row.
    std::swap(rows[4], rows[12]);
    EXPECT_EQ(judged(rows, tasks_for(1)).links[0].state, State::pass);
    // Without times the later row stands.
    for (auto& row : rows) row.taken = ReadingColumns::no_time;
    EXPECT_EQ(judged(rows, tasks_for(1)).links[0].state, State::fail);
}

TEST(Judge, HeldReadingsHoldTheLink)
{
    auto rows = healthy();
    rows[0].db = 3; // would fail, but nobody knows
    std::vector<std::uint8_t> hold(12, 0);
    hold[0] = 1;
    auto verdicts = judged(rows, tasks_for(1), hold);
    EXPECT_EQ(verdicts.links[0].state, State::held);
    EXPECT_EQ(verdicts.links[0].held, 1u);
    EXPECT_EQ(verdicts.reading_state[0], State::held);
    // A sure fail elsewhere is one.
    rows[5].db = 3;
    EXPECT_EQ(judged(rows, tasks_for(1), hold).links[0].state, State::fail);
    // A wrong map seen only by held readings may be the test cord's.
    rows = healthy();
    rows[0].far = 1;
    verdicts = judged(rows, tasks_for(1), hold);
    EXPECT_EQ(verdicts.links[0].state, State::held);
    EXPECT_EQ(verdicts.links[0].polarity, State::held);
    rows = healthy();
    rows[0].length = 99;
    EXPECT_EQ(judged(rows, tasks_for(1), hold).links[0].state, State::held);
}

TEST(Judge, NegativeValuesAreKeptAndFlagged)
{
    auto rows = healthy();
    rows[0].db = -0.04;
    rows[1].db = -0.06;
    auto const verdicts = judged(rows, tasks_for(1));
    EXPECT_EQ(verdicts.links[0].state, State::pass);
    EXPECT_EQ(verdicts.reading_flags[0], below_zero);
    EXPECT_EQ(verdicts.reading_flags[1], below_zero | impossible_gain);
    EXPECT_TRUE(verdicts.links[0].findings & gain_seen);
    EXPECT_TRUE(verdicts.links[0].findings & gain_impossible);
    EXPECT_LT(verdicts.ratio[verdicts.cell(0, 0, 2)], 0);
}

TEST(Judge, MeanOfDirectionsOnlyWhereTheJobSaysSo)
{
    auto rows = healthy();
    rows[0].db = 0.80;
    rows.push_back(Row{"L1", LaunchEnd::b, 12, 1, 850, 0.60, 30});
    auto tasks = tasks_for(1);
    EXPECT_EQ(judged(rows, tasks).links[0].state, State::fail);
    tasks.rules.two = TwoDirections::mean;
    auto const verdicts = judged(rows, tasks);
    EXPECT_EQ(verdicts.links[0].state, State::pass);
    EXPECT_TRUE(verdicts.links[0].worst_is_mean);
    EXPECT_NEAR(verdicts.links[0].worst_attenuation_db, 0.70, 1e-15);
    EXPECT_NEAR(verdicts.links[0].u_db, 0.05 / std::sqrt(2), 1e-12);
}

TEST(Judge, PositionsThatTheLinkDoesNotHave)
{
    auto tasks = tasks_for(1);
    auto const family = plant::parse_family("mpo-12").value();
    auto const outer = plant::parse_occupancy("8-outer", family).value();
    LinkKind kind = kind_of(plant::cable_map("B", family).value().restricted(outer, outer));
    kind.wavelength_nm = tasks.kinds[0].wavelength_nm;
    kind.uncertainty = tasks.kinds[0].uncertainty;
    kind.wavelengths = kind.required = 1;
    tasks.kinds[0] = kind;
    auto rows = healthy(); // 5 to 8 carry light though the link has eight fibres
    auto verdicts = judged(rows, tasks);
    EXPECT_EQ(verdicts.links[0].state, State::fail);
    EXPECT_TRUE(verdicts.links[0].findings & light_where_dark);
    EXPECT_TRUE(verdicts.reading_flags[4] & not_planned);
    EXPECT_EQ(verdicts.links[0].fibres, 8);
    // Dark there is as planned; a later reading that finds it dark takes the light back.
    for (int p = 5; p <= 8; ++p)
        rows.push_back(Row{"L1", LaunchEnd::a, p, far_dark, 850, 60, std::nan(""), 1});
    verdicts = judged(rows, tasks);
    EXPECT_EQ(verdicts.links[0].state, State::pass);
    EXPECT_TRUE(verdicts.links[0].findings & some_not_planned);
    // An unknown wavelength or position number says nothing.
    rows.push_back(Row{"L1", LaunchEnd::a, 1, 12, 1625, 5});
    rows.push_back(Row{"L1", LaunchEnd::a, 77, far_not_stated, 850, 5});
    EXPECT_EQ(judged(rows, tasks).links[0].state, State::pass);
}

TEST(Judge, OnlyCountedPositionsDecideWhereTheJobSaysSo)
{
    auto rows = healthy();
    rows[5].db = 4;
    auto tasks = tasks_for(1);
    EXPECT_EQ(judged(rows, tasks).links[0].state, State::fail);
    tasks.links[0].counted =
        plant::parse_occupancy("1-4,9-12", plant::parse_family("mpo-12").value()).value();
    auto const verdicts = judged(rows, tasks);
    EXPECT_EQ(verdicts.links[0].state, State::pass);
    EXPECT_EQ(verdicts.links[0].fibres, 8);
    EXPECT_EQ(verdicts.cell_state[verdicts.cell(0, 0, 6)], State::fail); // still shown
}

TEST(Judge, WhatCannotBeJudged)
{
    auto tasks = tasks_for(1);
    tasks.links[0].limit_db[0] = std::nan("");
    auto const verdicts = judged(healthy(), tasks);
    EXPECT_EQ(verdicts.links[0].state, State::open);
    EXPECT_TRUE(verdicts.links[0].findings & no_limit);
    auto rows = healthy();
    rows[0].db = std::nan("");
    EXPECT_EQ(judged(rows, tasks_for(1)).links[0].state, State::open);
    ReadingColumns readings = columns_of(healthy());
    readings.is_power = true;
    EXPECT_FALSE(judge(readings, tasks_for(1)).has_value());
    EXPECT_FALSE(judge(columns_of(healthy()), tasks_for(0)).has_value());
    tasks.links[0].kind = 3;
    EXPECT_FALSE(judge(columns_of(healthy()), tasks).has_value());
}

TEST(Judge, WithoutAMapFibresKeepTheirNumberAndPolarityIsNotJudged)
{
    auto tasks = tasks_for(1);
    tasks.kinds[0].a_to_b = tasks.kinds[0].b_to_a = {};
    auto rows = healthy();
    rows.push_back(Row{"L1", LaunchEnd::b, 3, 99, 850, 0.9});
    auto const verdicts = judged(rows, tasks);
    EXPECT_EQ(verdicts.links[0].state, State::fail);
    EXPECT_EQ(verdicts.links[0].worst_position, 3);
    EXPECT_EQ(verdicts.links[0].worst_end, LaunchEnd::b);
    EXPECT_EQ(verdicts.links[0].polarity, State::open);
    rows.pop_back();
    EXPECT_EQ(judged(rows, tasks).links[0].state, State::pass);
}

} // namespace judge_test
} // namespace guidepin::verdict
