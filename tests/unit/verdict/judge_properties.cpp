// SPDX-License-Identifier: Apache-2.0
// What must hold for any readings.
#include "verdict/judge.hpp"
#include "verdict_readings.hpp"

#include <algorithm>
#include <random>

namespace guidepin::verdict {
namespace judge_properties_test {

/// Readings of three links with distinct times, faults and holes of every kind.
std::vector<Row> any_rows()
{
    auto const count = *rc::gen::inRange(0, 150);
    std::vector<Row> rows;
    for (int i = 0; i < count; ++i) {
        Row row;
        row.link = "L" + std::to_string(*rc::gen::inRange(0, 3));
        row.end = *rc::gen::arbitrary<bool>() ? LaunchEnd::a : LaunchEnd::b;
        row.position = *rc::gen::inRange(0, 15);
        row.far = *rc::gen::weightedOneOf<int>({{4, rc::gen::just(13 - row.position)},
                                                {1, rc::gen::inRange(-1, 14)},
                                                {1, rc::gen::just<int>(far_not_stated)}});
        row.wavelength = *rc::gen::element(850, 1300, 1310);
        row.db = *rc::gen::inRange(-20, 100) / 100.0;
        row.length = *rc::gen::element(std::nan(""), 30.0, 31.0, 40.0);
        row.taken = 1000 + i;
        rows.push_back(row);
    }
    return rows;
}

JudgeTasks any_tasks()
{
    JudgeTasks tasks = tasks_for(3, *rc::gen::element("A", "B", "C"));
    tasks.rules.decision = *rc::gen::element(
        DecisionRule::simple_acceptance, DecisionRule::guarded_acceptance, DecisionRule::guarded_rejection);
    tasks.rules.directions = *rc::gen::inRange(1, 3);
    tasks.rules.two = *rc::gen::element(TwoDirections::each, TwoDirections::mean);
    tasks.rules.require_polarity = *rc::gen::arbitrary<bool>();
    tasks.kinds[0].required = *rc::gen::inRange<std::size_t>(1, 3);
    return tasks;
}

LinkVerdict const* of(ReadingColumns const& readings, Verdicts const& verdicts, std::string const& link)
{
    auto const index = readings.links.find(link);
    return index == Dictionary::missing ? nullptr : &verdicts.links[index];
}

void expect_equal(LinkVerdict const& a, LinkVerdict const& b)
{
    RC_ASSERT(a.state == b.state);
    RC_ASSERT(a.loss == b.loss);
    RC_ASSERT(a.polarity == b.polarity);
    RC_ASSERT(a.length == b.length);
    RC_ASSERT(a.findings == b.findings);
    RC_ASSERT(a.current == b.current);
    RC_ASSERT(a.missing == b.missing);
    RC_ASSERT(a.fibres_accepted == b.fibres_accepted);
    RC_ASSERT(a.worst_position == b.worst_position);
    RC_ASSERT(std::isnan(a.margin_db) == std::isnan(b.margin_db));
    if (!std::isnan(a.margin_db)) RC_ASSERT(a.margin_db == b.margin_db);
}

RC_GTEST_PROP(JudgeProperty, OrderOfRowsDoesNotChangeVerdicts, ())
{
    auto rows = any_rows();
    auto const tasks = any_tasks();
    ReadingColumns const before = columns_of(rows);
    auto const first = judge(before, tasks).value();
    std::shuffle(rows.begin(), rows.end(), std::mt19937{*rc::gen::arbitrary<std::uint32_t>()});
    ReadingColumns const after = columns_of(rows);
    auto const second = judge(after, tasks).value();
    for (auto const* const link : {"L0", "L1", "L2"}) {
        if (auto const* const verdict = of(before, first, link)) {
            expect_equal(*verdict, *of(after, second, link));
        }
    }
}

RC_GTEST_PROP(JudgeProperty, RangesGiveTheSameAsTheWhole, ())
{
    ReadingColumns const readings = columns_of(any_rows());
    auto const tasks = any_tasks();
    auto const whole = judge(readings, tasks).value();
    auto parts = prepare_verdicts(readings, tasks).value();
    RowsByLink const rows{readings, 3};
    for (std::size_t link : {2, 0, 1}) judge_links({readings, rows, tasks}, link, link + 1, parts);
    for (std::size_t link = 0; link < 3; ++link) expect_equal(whole.links[link], parts.links[link]);
    RC_ASSERT(whole.reading_state == parts.reading_state);
    RC_ASSERT(whole.reading_flags == parts.reading_flags);
    RC_ASSERT(whole.cell_state == parts.cell_state);
}

RC_GTEST_PROP(JudgeProperty, NamingTheEndsTheOtherWayChangesNothing, ())
{
    // Exchange A and B everywhere: the same light, so the same verdict, the worst fibre at its other end.
    // Only the maps' inverse is used; B and C are their own.
    auto rows = any_rows();
    auto tasks = any_tasks();
    ReadingColumns const before = columns_of(rows);
    auto const first = judge(before, tasks).value();
    for (auto& row : rows) row.end = row.end == LaunchEnd::a ? LaunchEnd::b : LaunchEnd::a;
    std::swap(tasks.kinds[0].a_to_b, tasks.kinds[0].b_to_a);
    std::swap(tasks.kinds[0].occupied_a, tasks.kinds[0].occupied_b);
    auto const second = judge(columns_of(rows), tasks).value();
    for (std::size_t link = 0; link < 3; ++link) {
        RC_ASSERT(first.links[link].state == second.links[link].state);
        RC_ASSERT(first.links[link].loss == second.links[link].loss);
        RC_ASSERT(first.links[link].polarity == second.links[link].polarity);
        RC_ASSERT(first.links[link].missing == second.links[link].missing);
        RC_ASSERT(first.links[link].findings == second.links[link].findings);
        if (!std::isnan(first.links[link].margin_db)) {
            RC_ASSERT(first.links[link].margin_db == second.links[link].margin_db);
        }
    }
}

RC_GTEST_PROP(JudgeProperty, GuardedAcceptanceIsStricterThanSimpleIsStricterThanGuardedRejection, ())
{
    ReadingColumns const readings = columns_of(any_rows());
    auto tasks = any_tasks();
    std::vector<std::vector<bool>> taken;
    for (auto const rule : {DecisionRule::guarded_acceptance, DecisionRule::simple_acceptance,
                            DecisionRule::guarded_rejection}) {
        tasks.rules.decision = rule;
        auto const verdicts = judge(readings, tasks).value();
        taken.emplace_back();
        for (auto const& link : verdicts.links) taken.back().push_back(accepted(link.state, rule));
        for (auto const state : verdicts.reading_state) taken.back().push_back(accepted(state, rule));
    }
    for (std::size_t i = 0; i < taken[0].size(); ++i) {
        RC_ASSERT(!taken[0][i] || taken[1][i]);
        RC_ASSERT(!taken[1][i] || taken[2][i]);
    }
}

RC_GTEST_PROP(JudgeProperty, MoreLossNeverImprovesALink, ())
{
    auto rows = any_rows();
    RC_PRE(!rows.empty());
    auto tasks = any_tasks();
    tasks.rules.decision = DecisionRule::guarded_acceptance;
    auto const before = judge(columns_of(rows), tasks).value();
    auto const which = *rc::gen::inRange<std::size_t>(0, rows.size());
    rows[which].db += *rc::gen::inRange(1, 100) / 100.0;
    auto const after = judge(columns_of(rows), tasks).value();
    for (std::size_t link = 0; link < 3; ++link) {
        RC_ASSERT(worse(before.links[link].state, after.links[link].state) == after.links[link].state);
    }
}

RC_GTEST_PROP(JudgeProperty, HoldingAReadingNeverTurnsAnythingIntoAPass, ())
{
    auto const rows = any_rows();
    auto const tasks = any_tasks();
    ReadingColumns const readings = columns_of(rows);
    auto const before = judge(readings, tasks).value();
    std::vector<std::uint8_t> hold;
    for (std::size_t i = 0; i < rows.size(); ++i) hold.push_back(*rc::gen::arbitrary<bool>());
    auto const after = judge(readings, tasks, hold).value();
    for (std::size_t link = 0; link < 3; ++link) {
        if (after.links[link].state != State::held)
            RC_ASSERT(after.links[link].state == before.links[link].state);
    }
}

} // namespace judge_properties_test
} // namespace guidepin::verdict
