// SPDX-License-Identifier: Apache-2.0
// Against the plain statement of the rule over all pairs of rows.
#include "intake/repetition.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::intake {
namespace repetition_test {

RC_GTEST_PROP(Repetition, AsAllPairsSay, ())
{
    struct Row
    {
        std::size_t owner;
        std::uint64_t key;
        std::int64_t time;
        int said;
    };
    std::vector<Row> rows;
    auto const count = *rc::gen::inRange<std::size_t>(0, 120);
    bool const together = *rc::gen::arbitrary<bool>();
    for (std::size_t i = 0; i < count; ++i) {
        rows.push_back(Row{together ? i * 5 / count : *rc::gen::inRange<std::size_t>(0, 5),
                           *rc::gen::inRange<std::uint64_t>(0, 6), *rc::gen::inRange<std::int64_t>(-1, 2),
                           *rc::gen::inRange(0, 2)});
    }
    auto const found = find_repetitions(
        ComparedRows{rows.size(), 5, [&](std::size_t i) { return rows[i].owner; },
                     [&](std::size_t i) { return rows[i].key; }, [&](std::size_t i) { return rows[i].time; },
                     [&](std::size_t a, std::size_t b) { return rows[a].said == rows[b].said; }},
        *rc::gen::inRange(1, 4));
    std::size_t next = 0;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        std::size_t first = i;
        bool contradicts = false;
        for (std::size_t j = rows.size(); j-- > 0;) {
            if (rows[j].owner != rows[i].owner || rows[j].key != rows[i].key || rows[j].time != rows[i].time)
                continue;
            first = std::min(first, j);
            contradicts = contradicts || rows[j].said != rows[i].said;
        }
        if (first == i && !contradicts) continue;
        RC_ASSERT(next < found.size());
        RC_ASSERT(found[next].row == i);
        RC_ASSERT(found[next].first == first);
        RC_ASSERT(found[next].contradicts == contradicts);
        ++next;
    }
    RC_ASSERT(next == found.size());
}

TEST(Repetition, ManyContradictionsStayLinear)
{
    // 200,000 rows about one thing, all different: a quadratic rule would not end within the test's time.
    auto const found = find_repetitions(ComparedRows{200'000, 1, [](std::size_t) { return std::size_t{0}; },
                                                     [](std::size_t) { return std::uint64_t{7}; },
                                                     [](std::size_t) { return std::int64_t{1}; },
                                                     [](std::size_t, std::size_t) { return false; }},
                                        1);
    EXPECT_EQ(found.size(), 200'000u);
}

} // namespace repetition_test
} // namespace guidepin::intake
