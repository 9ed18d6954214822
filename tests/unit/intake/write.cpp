// SPDX-License-Identifier: Apache-2.0
#include "intake/write.hpp"

#include "intake/cells.hpp"
#include "intake/csv.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::intake {
namespace {

TEST(Write, TextCells)
{
    EXPECT_EQ(csv_text_cell("plain text"), "plain text");
    EXPECT_EQ(csv_text_cell(""), "");
    EXPECT_EQ(csv_text_cell("a,b"), "\"a,b\"");
    EXPECT_EQ(csv_text_cell("a\"b"), "\"a\"\"b\"");
    EXPECT_EQ(csv_text_cell("a\nb"), "\"a\nb\"");
    EXPECT_EQ(csv_text_cell("=1+1"), "'=1+1");
    EXPECT_EQ(csv_text_cell("-12"), "'-12");
    EXPECT_EQ(csv_text_cell("@x,y"), "\"'@x,y\"");
    EXPECT_EQ(csv_text_cell("'=x"), "''=x");
    EXPECT_EQ(csv_text_cell("'x"), "'x");
}

RC_GTEST_PROP(Write, NoCellStartsAFormulaAndAllReadBack, ())
{
    auto const text = *rc::gen::container<std::string>(rc::gen::elementOf(std::string("ab=+-@'\",;\t\r\n ")));
    std::string const cell = csv_text_cell(text);
    std::string const line = cell + ",end\r\n";
    CsvCursor kept(line, ',');
    CsvRow row;
    RC_ASSERT(kept.next(row));
    RC_ASSERT(row.fault == nullptr);
    RC_ASSERT(row.fields.size() == 2u);
    RC_ASSERT(row.fields[0].empty() ||
              std::string_view("=+-@\t\r").find(row.fields[0].front()) == std::string_view::npos);
    RC_ASSERT(without_guard(row.fields[0]) == text);
}

TEST(Write, NumbersAreNotGuarded)
{
    verdict::ReadingColumns rows;
    rows.link = {rows.links.index_of("L")};
    rows.launch_end = {verdict::LaunchEnd::b};
    rows.position = {3};
    rows.far_position = {verdict::far_dark};
    rows.wavelength_nm = {1310};
    rows.value = {-0.05};
    rows.length_m = {12.25};
    rows.taken_ms = {0};
    rows.offset_minutes = {-60};
    rows.reference = {verdict::Dictionary::missing};
    rows.operator_name = {verdict::Dictionary::missing};
    rows.line = {2};
    EXPECT_EQ(readings_csv(rows), "link,launch_end,position,far_position,wavelength_nm,attenuation_db,length_"
                                  "m,taken_at,reference,operator\r\n"
                                  "L,b,3,0,1310,-0.05,12.25,1969-12-31T23:00:00-01:00,,\r\n");
}

} // namespace
} // namespace guidepin::intake
