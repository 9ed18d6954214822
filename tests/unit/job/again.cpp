// SPDX-License-Identifier: Apache-2.0
// Judging and explaining what a new test moves, and nothing else. Oracle: everything judged anew, on
// simulated sites large enough that a job no longer learns from every test, with drifts that hold readings
// and retests that release them; batch by batch the holds, the watch, the verdicts and the derived rows have
// to be the same.
#include "job/assess/assess.hpp"
#include "job/doubt/doubt_text.hpp"
#include "job/findings/explain.hpp"
#include "simulated_job.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <map>

#include <fmt/format.h>

namespace guidepin::job {
namespace again_test {

/// Rows of a link that follow each other: its test.
struct Measured
{
    std::uint32_t first, rows;
};

struct Growing
{
    JobState all; ///< what will have been measured
    std::vector<Measured> runs;
    JobState state; ///< what has been so far

    explicit Growing(std::uint64_t seed, std::size_t links, char const* faults)
    {
        simulate::Design design;
        design.seed = seed;
        design.links = links;
        design.faults = simulate::parse_wishes(faults).value();
        all = support::job_of(simulate::simulate(design).value());
        for (std::uint32_t row = 0; row < all.readings.size(); ++row) {
            bool const goes_on = row > 0 && all.readings.link[row] == all.readings.link[row - 1];
            if (!goes_on) runs.push_back({row, 0});
            ++runs.back().rows;
        }
        state = all;
        state.readings = {};
        state.readings.links = all.readings.links;
    }

    void add(Measured run, std::string const& reference = {}, double by = 0)
    {
        auto const first = static_cast<std::uint32_t>(state.readings.size());
        for (std::uint32_t row = run.first; row < run.first + run.rows; ++row) {
            state.readings.append_row_of(all.readings, row);
            state.readings.value.back() += by;
            if (reference.empty()) continue;
            state.readings.reference.back() = state.readings.references.index_of(reference);
            state.readings.taken_ms.back() += 3'600'000;
        }
        state.tests.push_back({state.readings.links.text(state.readings.link[first]),
                               "S",
                               static_cast<std::int64_t>(state.tests.size() + 1),
                               {},
                               {},
                               first,
                               run.rows});
    }
};

std::string told(JobState const& state, Assessment const& assessment)
{
    std::string text;
    for (WatchedReference const& reference : assessment.watching->references) {
        for (watch::ChartPoint const& point : reference.chart) text += fmt::format("{} ", point.offset_db);
        for (Doubt const& doubt : reference.doubts)
            text += fmt::format("{}: {}. {}\n", doubt.id, doubt_text(state, reference, doubt),
                                doubt_action(state, reference, doubt));
    }
    return text;
}

using Progress = std::map<std::tuple<std::string, std::string, std::string>, std::int64_t>;

Progress progress_of(record::DerivedTables const& tables)
{
    Progress progress;
    for (auto const& row : tables.progress) progress[{row.scope, row.name, row.state}] = row.links;
    return progress;
}

RC_GTEST_PROP(AssessAgain, IsAsAllAnew, ())
{
    static Growing const whole(2040, 420,
                               "reference-drift:2@0.30,test-cord-position:1,dirty-or-damaged-end-face:6");
    Growing growing = whole;
    std::size_t next = *rc::gen::inRange<std::size_t>(250, growing.runs.size() - 60);
    for (std::size_t i = 0; i < next; ++i) growing.add(growing.runs[i]);
    JobState const& state = growing.state;
    Assessment kept = assess(state).value();
    record::DerivedTables tables = derive(state, kept);
    std::size_t again = 0;
    for (int batch = 0; batch < 12; ++batch) {
        std::size_t const before = state.tests.size();
        for (int i = *rc::gen::inRange(1, 5); i > 0; --i) {
            if (*rc::gen::inRange(0, 3) > 0 && next < growing.runs.size()) {
                growing.add(growing.runs[next++]);
            } else {
                auto const which = *rc::gen::inRange<std::size_t>(0, next);
                auto const reference = *rc::gen::inRange<std::size_t>(0, state.references.size());
                growing.add(growing.runs[which], state.references[reference].id,
                            *rc::gen::inRange(-40, 41) / 100.0);
            }
        }
        std::vector<std::uint32_t> moved;
        bool const only = assess_again(state, kept, before, moved).value();
        Assessment anew = assess(state).value();
        record::DerivedTables const wanted = derive(state, anew);
        if (!only) {
            kept = std::move(anew);
            tables = wanted;
            continue;
        }
        ++again;
        RC_ASSERT(kept.hold == anew.hold);
        RC_ASSERT(told(state, kept) == told(state, anew));
        RC_ASSERT(kept.last_test == anew.last_test);
        RC_ASSERT(kept.verdicts.reading_flags == anew.verdicts.reading_flags);
        RC_ASSERT(kept.verdicts.reading_state == anew.verdicts.reading_state);
        record::DerivedTables const old = tables;
        auto const change = derive_again(state, kept, before, moved, tables);
        if (!change) {
            // Only where a count went away.
            Progress const now = progress_of(wanted);
            RC_ASSERT(std::any_of(old.progress.begin(), old.progress.end(), [&](auto const& row) {
                return now.count({row.scope, row.name, row.state}) == 0;
            }));
            tables = wanted;
            continue;
        }
        RC_ASSERT(tables.links == wanted.links);
        RC_ASSERT(tables.tests == wanted.tests);
        RC_ASSERT(tables.progress == wanted.progress);
        // The change, written over the old rows, says the same.
        std::map<std::string, record::DerivedLink> links;
        for (auto const& row : old.links) links[row.link] = row;
        for (auto const& row : change->links) links[row.link] = row;
        for (auto const& row : wanted.links) RC_ASSERT(links[row.link] == row);
        std::map<std::int64_t, record::DerivedTest> tests;
        for (auto const& row : old.tests) tests[row.sequence] = row;
        for (auto const& row : change->tests) tests[row.sequence] = row;
        for (auto const& row : wanted.tests) RC_ASSERT(tests[row.sequence] == row);
        Progress counts = progress_of(old);
        for (auto const& row : change->progress) counts[{row.scope, row.name, row.state}] = row.links;
        RC_ASSERT(counts == progress_of(wanted));
    }
    RC_ASSERT(again > 0u);
}

TEST(AssessAgain, AsksForAllAnewWhereItHasTo)
{
    Growing growing(2041, 300, "");
    for (std::size_t i = 0; i < 255; ++i) growing.add(growing.runs[i]);
    JobState const& state = growing.state;
    Assessment kept = assess(state).value();
    std::vector<std::uint32_t> moved;
    growing.add(growing.runs[255]);
    EXPECT_FALSE(assess_again(state, kept, 255, moved).value()) << "a small job learns from every test";
    kept = assess(state).value();
    growing.add(growing.runs[256]);
    EXPECT_TRUE(assess_again(state, kept, 256, moved).value());
    EXPECT_EQ(moved.size(), 1U) << "a healthy link moves itself alone";
    std::size_t const before = state.tests.size();
    growing.add(growing.runs[257]);
    growing.state.readings.links.index_of("not in the schedule");
    EXPECT_FALSE(assess_again(state, kept, before, moved).value());
}

RC_GTEST_PROP(LearnedFrom, GrowsInStepsOfASixteenthAtMost, ())
{
    auto const tests = *rc::gen::inRange<std::size_t>(0, 3'000'000);
    std::size_t const learned = learned_from(tests);
    RC_ASSERT(learned <= tests);
    RC_ASSERT((tests - learned) * 16 <= tests);
    RC_ASSERT(tests > 256u || learned == tests);
    RC_ASSERT(learned_from(learned) == learned);
    RC_ASSERT(learned_from(tests + 1) >= learned);
}

/// Id, evidence and probability of each.
std::vector<std::string> said(std::vector<cause::Finding> const& findings)
{
    std::vector<std::string> words;
    for (cause::Finding const& finding : findings)
        words.push_back(fmt::format("{} {} {}", finding.id, finding.probability, finding.evidence));
    return words;
}

TEST(Explaining, RenewedWithoutNewsSaysTheSame)
{
    Growing growing(2042, 300,
                    "dirty-or-damaged-end-face:6,reference-drift:1@0.30,crossed-fibres:2,"
                    "copied-measurement:1,test-cord-position:1");
    for (Measured const& run : growing.runs) growing.add(run);
    Assessment const assessment = assess(growing.state).value();
    Explaining explaining = Explaining::of(growing.state, assessment).value();
    auto const before = explaining.findings();
    ASSERT_GE(before.size(), 8U);
    for (std::uint32_t link = 0; link < 300; link += 7)
        ASSERT_TRUE(explaining.renew(growing.state, assessment, link));
    EXPECT_EQ(said(explaining.findings()), said(before));
    EXPECT_FALSE(explaining.renew(growing.state, assessment, 300)) << "a link that it does not know";
}

TEST(Explaining, WhatComesInIsExplainedByWhatWasLearned)
{
    // The last hundred tests come one by one; what is sure then is what is sure when all is learned anew.
    Growing growing(2043, 400,
                    "dirty-or-damaged-end-face:12,macrobend:3,reference-drift:1@0.30,crossed-fibres:3,"
                    "broken-fibre:4,test-cord-position:1");
    std::size_t const first = growing.runs.size() - 100;
    for (std::size_t i = 0; i < first; ++i) growing.add(growing.runs[i]);
    Assessment assessment = assess(growing.state).value();
    Explaining explaining = Explaining::of(growing.state, assessment).value();
    int learned = 0;
    for (std::size_t i = first; i < growing.runs.size(); ++i) {
        growing.add(growing.runs[i]);
        assessment = assess(growing.state).value();
        // The first link of a kind is learned from.
        if (!explaining.renew(growing.state, assessment,
                              growing.state.readings.link[growing.state.tests.back().first_row])) {
            explaining = Explaining::of(growing.state, assessment).value();
            ++learned;
        }
    }
    EXPECT_LT(learned, 8);
    std::map<std::string, double> renewed;
    for (cause::Finding const& finding : explaining.findings()) renewed[finding.id] = finding.probability;
    std::size_t sure = 0;
    auto const anew = explain_job(growing.state, assessment).value();
    for (cause::Finding const& finding : anew) {
        if (finding.probability < 0.95) continue;
        ++sure;
        EXPECT_GT(renewed[finding.id], 0.9) << finding.evidence;
        renewed.erase(finding.id);
    }
    EXPECT_GE(sure, 15U);
    for (auto const& [id, probability] : renewed) EXPECT_LT(probability, 0.98) << id;
}

} // namespace again_test
} // namespace guidepin::job
