// SPDX-License-Identifier: Apache-2.0
// Oracle: RFC 4180 (October 2005), section 2, rules 1 to 7: each example of the rules as it is printed there.
// Exact: no tolerance.
#include "intake/csv.hpp"

#include <gtest/gtest.h>

namespace guidepin::intake {
namespace rfc4180_test {

using Rows = std::vector<std::vector<std::string>>;

Rows rows_of(std::string_view text, char separator = ',')
{
    CsvCursor cursor(text, separator);
    CsvRow row;
    Rows rows;
    while (cursor.next(row)) {
        EXPECT_EQ(row.fault, nullptr) << text;
        rows.emplace_back(row.fields.begin(), row.fields.end());
    }
    return rows;
}

TEST(Rfc4180, Rule1EachRecordOnItsOwnLineEndedByCrlf)
{
    EXPECT_EQ(rows_of("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"),
              (Rows{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}));
}

TEST(Rfc4180, Rule2LastRecordMayLackTheLineBreak)
{
    EXPECT_EQ(rows_of("aaa,bbb,ccc\r\nzzz,yyy,xxx"), (Rows{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}));
}

TEST(Rfc4180, Rule3HeaderHasTheFormOfARecord)
{
    EXPECT_EQ(
        rows_of("field_name,field_name,field_name\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"),
        (Rows{{"field_name", "field_name", "field_name"}, {"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}));
}

TEST(Rfc4180, Rule4SpacesArePartOfAField)
{
    EXPECT_EQ(rows_of("aaa, bbb ,ccc"), (Rows{{"aaa", " bbb ", "ccc"}}));
}

TEST(Rfc4180, Rule5FieldsMayBeInQuotesOrNot)
{
    EXPECT_EQ(rows_of("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx"),
              (Rows{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}));
}

TEST(Rfc4180, Rule5NoQuoteInsideAFieldWithoutQuotes)
{
    CsvCursor cursor("aaa,b\"b,ccc\r\nzzz,yyy,xxx\r\n", ',');
    CsvRow row;
    ASSERT_TRUE(cursor.next(row));
    ASSERT_NE(row.fault, nullptr);
    EXPECT_EQ(row.fault_field, 1u);
    ASSERT_TRUE(cursor.next(row)); // and the next record is whole again
    EXPECT_EQ(row.fault, nullptr);
    EXPECT_EQ(row.fields[0], "zzz");
    EXPECT_EQ(row.line, 2u);
}

TEST(Rfc4180, Rule6AsPrinted)
{
    EXPECT_EQ(rows_of("\"aaa\",\"b \r\nbb\",\"ccc\"\r\nzzz,yyy,xxx"),
              (Rows{{"aaa", "b \r\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}));
    EXPECT_EQ(rows_of("\"a,b\",c"), (Rows{{"a,b", "c"}}));
}

TEST(Rfc4180, Rule7AQuoteInsideQuotesIsDoubled)
{
    EXPECT_EQ(rows_of("\"aaa\",\"b\"\"bb\",\"ccc\""), (Rows{{"aaa", "b\"bb", "ccc"}}));
    EXPECT_EQ(rows_of("\"\"\"\",\"\""), (Rows{{"\"", ""}}));
}

TEST(Rfc4180, LinesAreCountedThroughQuotedBreaks)
{
    CsvCursor cursor("a,\"1\n2\r\n3\"\nb,c\n\n\nd,e", ',');
    CsvRow row;
    std::vector<std::uint32_t> lines;
    while (cursor.next(row)) lines.push_back(row.line);
    EXPECT_EQ(lines, (std::vector<std::uint32_t>{1, 4, 7}));
}

TEST(Rfc4180, FaultsOfQuotes)
{
    CsvRow row;
    CsvCursor open("a,\"bc\nd,e\n", ',');
    ASSERT_TRUE(open.next(row));
    ASSERT_NE(row.fault, nullptr);
    EXPECT_NE(std::string(row.fault).find("never closed"), std::string::npos);
    EXPECT_FALSE(open.next(row));
    CsvCursor after("\"a\"b,c\nd,e\n", ',');
    ASSERT_TRUE(after.next(row));
    ASSERT_NE(row.fault, nullptr);
    EXPECT_NE(std::string(row.fault).find("after the closing quote"), std::string::npos);
    ASSERT_TRUE(after.next(row));
    EXPECT_EQ(row.fault, nullptr);
}

TEST(Rfc4180, OtherSeparatorsByTheSameRules)
{
    EXPECT_EQ(rows_of("a;\"b;\"\"c\";1,5\n", ';'), (Rows{{"a", "b;\"c", "1,5"}}));
    EXPECT_EQ(rows_of("a\t\"b\tc\"\t\n", '\t'), (Rows{{"a", "b\tc", ""}}));
}

} // namespace rfc4180_test
} // namespace guidepin::intake
