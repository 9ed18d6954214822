// SPDX-License-Identifier: Apache-2.0
#include "verdict/explain.hpp"
#include "verdict_readings.hpp"

#include <gmock/gmock.h>

namespace guidepin::verdict {
namespace explain_test {

LinkDetail explained(std::vector<Row> const& rows, JudgeTasks const& tasks)
{
    ReadingColumns const readings = columns_of(rows);
    RowsByLink const by_link{readings, tasks.links.size()};
    auto const verdicts = judge(readings, tasks).value();
    return explain(readings, by_link, tasks, verdicts, 0);
}

Finding const* find(LinkDetail const& detail, std::string const& id)
{
    for (Finding const& finding : detail.findings) {
        if (finding.id == id) return &finding;
    }
    return nullptr;
}

TEST(Explain, EveryFibreWithItsNumbers)
{
    auto rows = healthy();
    rows.push_back(Row{"L1", LaunchEnd::b, 10, 3, 850, 0.5, 30});
    auto const detail = explained(rows, tasks_for(1));
    ASSERT_EQ(detail.fibres.size(), 12u);
    FibreDetail const& third = detail.fibres[2];
    EXPECT_EQ(third.position_a, 3);
    EXPECT_EQ(third.expected_b, 10);
    EXPECT_EQ(third.measured_b, 10);
    EXPECT_EQ(third.places[0].row_a, 2u);
    EXPECT_EQ(third.places[0].row_b, 12u);
    EXPECT_DOUBLE_EQ(third.places[0].mean_db, 0.4);
    EXPECT_DOUBLE_EQ(third.places[0].counted_db, 0.5);
    EXPECT_DOUBLE_EQ(third.places[0].margin_db, 0.25);
    EXPECT_EQ(third.places[1].state, State::open);
    EXPECT_EQ(detail.measured.size(), 12);
    EXPECT_TRUE(detail.findings.empty());
}

TEST(Explain, SaysWhatIsWrongWithTheNumbers)
{
    auto rows = healthy();
    rows[3].db = 0.91;
    std::swap(rows[6].far, rows[7].far);
    for (auto& row : rows) row.length = 35;
    rows.pop_back();
    auto const detail = explained(rows, tasks_for(1));
    auto const* const loss = find(detail, "loss-beyond-limit");
    ASSERT_NE(loss, nullptr);
    EXPECT_EQ(loss->text,
              "1 of 12 fibres lose more than their limit. Position 4 at 850 nm, launched from A: 0.91 dB "
              "against a limit of 0.75 dB.");
    EXPECT_THAT(loss->positions, testing::ElementsAre(4));
    auto const* const polarity = find(detail, "polarity-wrong");
    ASSERT_NE(polarity, nullptr);
    EXPECT_THAT(polarity->positions, testing::ElementsAre(7, 8));
    EXPECT_THAT(polarity->text, testing::HasSubstr("2 of 12 fibres do not arrive where the plan sends them"));
    // Position 12 was not measured: missing, not dark.
    EXPECT_THAT(polarity->text, testing::Not(testing::HasSubstr("dark")));
    auto const* const length = find(detail, "length-wrong");
    ASSERT_NE(length, nullptr);
    EXPECT_EQ(length->text, "Measured 35.0 m to 35.0 m, drawn 30.0 m, tolerance 2.0 m.");
    auto const* const missing = find(detail, "readings-missing");
    ASSERT_NE(missing, nullptr);
    EXPECT_EQ(missing->text, "Readings missing: 1, at positions 12.");
}

TEST(Explain, DecidingFindingsComeFirst)
{
    auto rows = healthy();
    rows[0].db = -0.2;
    rows[1].db = 0.9;
    auto const detail = explained(rows, tasks_for(1));
    ASSERT_EQ(detail.findings.size(), 2u);
    EXPECT_EQ(detail.findings[0].id, "loss-beyond-limit");
    EXPECT_EQ(detail.findings[1].id, "gain-impossible");
    EXPECT_FALSE(detail.findings[1].decides);
    EXPECT_THAT(detail.findings[1].positions, testing::ElementsAre(1));
}

} // namespace explain_test
} // namespace guidepin::verdict
