// SPDX-License-Identifier: Apache-2.0
// Oracle: a second implementation of the rules of docs/methods/verdict.md in another language
// (judge_model.py, pandas), run over invented readings of 40 links with faults, holes, holds and retests, in
// shuffled order. States and counts are equal; margins to 1e-12, the rounding of one subtraction.
#include "verdict/judge.hpp"
#include "verdict_readings.hpp"

#include <set>

namespace guidepin::verdict {
namespace judge_test {

struct ModelReading
{
    int link;
    char end;
    int position, far, nm;
    double db, length;
    std::int64_t taken;
    int held;
};
struct ModelVerdict
{
    int link, rule, directions;
    State state;
    double margin;
    std::uint32_t missing, current;
};
#include "judge_table.inc"

TEST(JudgeOracle, AgreesWithTheModelInAnotherLanguage)
{
    ReadingColumns readings;
    std::vector<std::uint8_t> hold;
    for (ModelReading const& row : model_readings) {
        add(readings, Row{"L" + std::to_string(row.link), row.end == 'a' ? LaunchEnd::a : LaunchEnd::b,
                          row.position, row.far, row.nm, row.db, row.length, row.taken});
        hold.push_back(static_cast<std::uint8_t>(row.held));
    }
    std::set<State> seen;
    for (int rule : {0, 1}) {
        for (int directions : {1, 2}) {
            JudgeTasks tasks = tasks_for(readings.links.size());
            tasks.kinds[0].required = 2;
            for (LinkTask& task : tasks.links) task.limit_db = {0.75, 0.60, 0, 0};
            tasks.rules.decision = rule ? DecisionRule::guarded_acceptance : DecisionRule::simple_acceptance;
            tasks.rules.directions = directions;
            auto const verdicts = judge(readings, tasks, hold).value();
            for (ModelVerdict const& expected : model_verdicts) {
                if (expected.rule != rule || expected.directions != directions) continue;
                auto const& link = verdicts.links[readings.links.find("L" + std::to_string(expected.link))];
                EXPECT_EQ(link.state, expected.state)
                    << "link " << expected.link << " rule " << rule << " directions " << directions << ": "
                    << name_of(link.state) << " against " << name_of(expected.state);
                EXPECT_NEAR(link.margin_db, expected.margin, 1e-12) << expected.link;
                EXPECT_EQ(link.missing, expected.missing) << expected.link;
                EXPECT_EQ(link.current, expected.current) << expected.link;
                seen.insert(link.state);
            }
        }
    }
    EXPECT_EQ(seen.size(), 6u) << "the readings no longer bring every state about";
}

} // namespace judge_test
} // namespace guidepin::verdict
