// SPDX-License-Identifier: Apache-2.0
#include "base/text.hpp"
#include "base/result.hpp"
#include "base/safe_text.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin {
namespace text_test {

TEST(Number, ReadsWholeTextOnly)
{
    EXPECT_EQ(*parse_number("+0.35"), 0.35);
    for (char const* text : {"", "0,35", "1 ", "nan", "inf", "++1", "0x1", "1e999"})
        EXPECT_FALSE(parse_number(text)) << text;
}

RC_GTEST_PROP(Number, TextReadsBackAsTheSameDouble, (double value))
{
    RC_PRE(std::isfinite(value));
    RC_ASSERT(*parse_number(number_text(value)) == value);
}

TEST(FixedText, NeverShowsMinusZero)
{
    EXPECT_EQ(fixed_text(-0.001, 2), "0.00");
    EXPECT_EQ(fixed_text(-0.006, 2), "-0.01");
    EXPECT_EQ(fixed_text(1.005, 1), "1.0");
}

// Oracle: the valid and invalid sequences of The Unicode Standard 15.0, table 3-7.
TEST(Utf8, KnowsWellFormedSequences)
{
    EXPECT_TRUE(is_utf8("fibre \xC2\xB5m \xE2\x82\xAC \xF0\x9F\x94\xA6"));
    for (char const* text :
         {"\xC0\xAF", "\xED\xA0\x80", "\xF5\x80\x80\x80", "\xE2\x82", "\x80", "\xF0\x80\x80\x80"}) {
        EXPECT_FALSE(is_utf8(text));
    }
}

TEST(SafeText, EscapesTextAndNestsMarkup)
{
    std::string const name = "<b>\"R&D\"'";
    Html const cell = html("<td title=\"{}\">{}</td>", name, 12);
    EXPECT_EQ(cell.text(), "<td title=\"&lt;b&gt;&quot;R&amp;D&quot;&#39;\">12</td>");
    EXPECT_EQ(html("<tr>{}</tr>", cell).text(), "<tr>" + cell.text() + "</tr>");
    EXPECT_EQ(url_escaped("a b/c?"), "a%20b%2Fc%3F");
}

TEST(Nearest, FindsWhatWasMeant)
{
    EXPECT_EQ(nearest("OM44", {"OM3", "OM4", "OS2"}).front(), "OM4");
    EXPECT_TRUE(nearest("banana", {"OM3", "OM4"}).empty());
}

TEST(Nearest, AQuestionOnlyWhereThereIsOne)
{
    EXPECT_EQ(did_you_mean("OM44", {"OM4", "OS2"}), "; did you mean OM4?");
    EXPECT_EQ(did_you_mean("R-11", {"R-1", "R-2", "R-12"}), "; did you mean R-1, R-12, R-2?");
    EXPECT_EQ(did_you_mean("banana", {"OM3", "OM4"}), "");
    EXPECT_EQ(did_you_mean("banana", {"OM3", "OM4"}, "."), ".");
}

TEST(Counted, OneHasNoEnding)
{
    EXPECT_EQ(counted(0, "record"), "0 records");
    EXPECT_EQ(counted(1, "record"), "1 record");
    EXPECT_EQ(counted(2, "record"), "2 records");
    EXPECT_EQ(counted(-1, "day"), "-1 days");
    EXPECT_EQ(counted(1, "entry", "entries"), "1 entry");
    EXPECT_EQ(counted(3, "entry", "entries"), "3 entries");
    EXPECT_EQ(plural_ending(1), "");
    EXPECT_EQ(plural_ending(11), "s");
}

Result<int> halved(int value)
{
    if (value % 2 != 0) return Error{Errc::invalid_input, "odd"};
    return value / 2;
}
Result<int> quartered(int value)
{
    TRY_ASSIGN(int const half, halved(value));
    TRY_ASSIGN(int const quarter, halved(half));
    return quarter;
}

TEST(Result, CarriesTheFirstFailure)
{
    EXPECT_EQ(*quartered(8), 2);
    EXPECT_EQ(quartered(6).error().message, "odd");
    EXPECT_EQ(exit_code(Errc::invalid_input), 3);
}

} // namespace text_test
} // namespace guidepin
