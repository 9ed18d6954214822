// SPDX-License-Identifier: Apache-2.0
// Oracle: applied by key to the old rows, the change gives the new rows, whatever they are.
// tests/unit/job/job.cpp also rebuilds a job that was written in this way and finds the same digest.
#include "job/assess/derived_change.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <map>
#include <tuple>

namespace guidepin::job {
namespace derived_change_test {

record::DerivedTables tables_of(std::vector<int> const& states, int tests)
{
    static constexpr char const* words[] = {"pass", "fail", "open"};
    record::DerivedTables tables;
    std::map<std::string, std::int64_t> counts;
    for (std::size_t i = 0; i < states.size(); ++i) {
        record::DerivedLink link;
        link.link = "L" + std::to_string(i);
        link.state = words[states[i] % 3];
        ++counts[link.state];
        tables.links.push_back(link);
    }
    for (int i = 0; i < tests; ++i) {
        record::DerivedTest test;
        test.station = "s";
        test.sequence = i;
        test.link = "L0";
        tables.tests.push_back(test);
    }
    for (auto const& [state, links] : counts) tables.progress.push_back({"job", "", state, links});
    return tables;
}

std::map<std::string, record::DerivedLink> links(record::DerivedTables const& tables)
{
    std::map<std::string, record::DerivedLink> rows;
    for (auto const& row : tables.links) rows[row.link] = row;
    return rows;
}

std::map<std::string, std::int64_t> counts(record::DerivedTables const& tables)
{
    std::map<std::string, std::int64_t> rows;
    for (auto const& row : tables.progress) rows[row.state] = row.links;
    return rows;
}

RC_GTEST_PROP(DerivedChange, AppliedToTheOldRowsGivesTheNew,
              (std::vector<std::uint8_t> const& before, std::uint8_t more))
{
    std::vector<int> old(before.begin(), before.end());
    std::vector<int> now = old;
    int const flips = *rc::gen::inRange(0, 4);
    for (int i = 0; i < flips && !now.empty(); ++i) now[*rc::gen::inRange<std::size_t>(0, now.size())] += 1;
    for (int i = 0; i < more % 3; ++i) now.push_back(i);
    auto const first = tables_of(old, 5), second = tables_of(now, 5 + more % 2);
    auto const change = derived_change(first, second);
    if (!change) {
        // Only where a count went away, or most of a longer list moved.
        bool gone = false;
        for (auto const& [state, n] : counts(first)) gone = gone || !counts(second).contains(state);
        RC_ASSERT(gone || flips + more % 3 > 2 || second.links.size() >= 16 || second.tests.size() >= 16);
        return;
    }
    auto rows = links(first);
    for (auto const& row : change->links) rows[row.link] = row;
    RC_ASSERT(rows == links(second));
    auto numbers = counts(first);
    for (auto const& row : change->progress) numbers[row.state] = row.links;
    RC_ASSERT(numbers == counts(second));
    RC_ASSERT(first.tests.size() + change->tests.size() >= second.tests.size());
}

TEST(DerivedChange, OneLinkOfManyIsOneRow)
{
    std::vector<int> states(1000, 0);
    states[7] = 2;
    auto const before = tables_of(states, 20);
    states[500] = 1;
    states.push_back(2);
    auto const change = derived_change(before, tables_of(states, 21));
    ASSERT_TRUE(change.has_value());
    EXPECT_EQ(change->links.size(), 2U);
    EXPECT_EQ(change->tests.size(), 1U);
    EXPECT_EQ(change->progress.size(), 3U) << "a new word, and two counts that moved";
}

TEST(DerivedChange, WhatWentAwayAsksForAllRows)
{
    auto const before = tables_of({0, 0, 2}, 1);
    EXPECT_FALSE(derived_change(before, tables_of({0, 0, 0}, 1)).has_value()) << "no link is open any more";
    EXPECT_FALSE(derived_change(before, tables_of({0, 0}, 1)).has_value()) << "a link went";
    EXPECT_FALSE(derived_change(before, tables_of({0, 0, 2}, 0)).has_value()) << "a test went";
}

} // namespace derived_change_test
} // namespace guidepin::job
