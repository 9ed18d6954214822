// SPDX-License-Identifier: Apache-2.0
// Oracles: the rule of docs/formats/csv.md by hand; a reader of CSV written here, which knows no guard and
// reads with any separator, as a spreadsheet of another locale does; and the round trip.
#include "base/csv_cell.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <vector>

namespace guidepin {
namespace csv_cell_test {

/// The cells that a spreadsheet makes of a line: RFC 4180 with the separator it was set to. A quote opens
/// only at the front of a cell; text behind a closing quote is appended.
std::vector<std::string> cells(std::string_view text, char separator)
{
    std::vector<std::string> result(1);
    bool quoted = false;
    bool front = true;
    for (std::size_t i = 0; i < text.size(); ++i) {
        char const letter = text[i];
        if (quoted) {
            if (letter != '"') {
                result.back() += letter;
            } else if (i + 1 < text.size() && text[i + 1] == '"') {
                result.back() += text[++i];
            } else {
                quoted = false;
            }
        } else if (letter == '"' && front) {
            quoted = true;
            front = false;
        } else if (letter == separator || letter == '\n' || letter == '\r') {
            result.emplace_back();
            front = true;
        } else {
            result.back() += letter;
            front = false;
        }
    }
    return result;
}

/// A cell that a spreadsheet calculates; white space in front does not hinder all of them.
bool runs(std::string const& cell)
{
    auto const first = cell.find_first_not_of("\t\r\n");
    if (first == std::string::npos) return false;
    return std::string_view("=+-@").find(cell[first]) != std::string_view::npos ||
           cell.substr(first).starts_with("\xEF\xBC\x9D");
}

TEST(CsvCell, ByHand)
{
    struct Row
    {
        char const* text;
        char const* guarded;
    };
    for (Row const& row : std::initializer_list<Row>{
             {"", ""},
             {"plain", "plain"},
             {"=1+1", "'=1+1"},
             {"-A12", "'-A12"},
             {"+44", "'+44"},
             {"@sum", "'@sum"},
             {"\tx", "'\tx"},
             {"\rx", "'\rx"},
             {"\nx", "'\nx"},
             {"\xEF\xBC\x9D"
              "1",
              "'\xEF\xBC\x9D"
              "1"},
             {"'=1", "''=1"},
             {"'x", "'x"},
             {"''", "''"},
             {"x;=1", "x;'=1"},
             {"x\t@y", "x\t'@y"},
             {"x\n-1", "x\n'-1"},
             {"x\";\"=1", "x\";\"'=1"},
             {"a-b=c", "a-b=c"},
             {"x; -1", "x; -1"},
             {"x,=1", "x,=1"},
         }) {
        EXPECT_EQ(formula_guarded(row.text), row.guarded) << row.text;
        EXPECT_EQ(formula_unguarded(row.guarded), row.text) << row.guarded;
    }
    EXPECT_EQ(formula_unguarded("-0.31"), "-0.31") << "a file of another program has no guard";
}

TEST(CsvCell, QuotesAsInRfc4180)
{
    EXPECT_EQ(csv_cell("a,b"), "\"a,b\"");
    EXPECT_EQ(csv_cell("a;b"), "\"a;b\"");
    EXPECT_EQ(csv_cell("a\"b"), "\"a\"\"b\"");
    EXPECT_EQ(csv_cell("a\nb"), "\"a\nb\"");
    EXPECT_EQ(csv_cell(" led"), "\" led\"");
    EXPECT_EQ(csv_cell("@x,y"), "\"'@x,y\"");
    EXPECT_EQ(csv_cell("a b"), "a b");
}

rc::Gen<std::string> texts()
{
    return rc::gen::oneOf(
        rc::gen::arbitrary<std::string>(),
        rc::gen::container<std::string>(rc::gen::elementOf(std::string("ab1=+-@'\",;\t\r\n \xEF\xBC\x9D"))));
}

RC_GTEST_PROP(CsvCell, AnyTextComesBackUnchanged, ())
{
    std::string const text = *texts();
    RC_ASSERT(formula_unguarded(formula_guarded(text)) == text);
    auto const read = cells(csv_cell(text) + ",end", ',');
    RC_ASSERT(read.size() == 2u);
    RC_ASSERT(formula_unguarded(read[0]) == text);
}

RC_GTEST_PROP(CsvCell, NoCellRunsWhicheverSeparatorASpreadsheetReadsWith, ())
{
    std::string const line = "first," + csv_cell(*texts()) + "," + csv_cell(*texts()) + ",last";
    for (char const separator : {',', ';', '\t'}) {
        for (std::string const& cell : cells(line, separator)) {
            RC_ASSERT(!runs(cell));
            RC_ASSERT(separator != ',' || cell.empty() ||
                      std::string_view("\t\r\n").find(cell.front()) == std::string_view::npos);
        }
    }
}

} // namespace csv_cell_test
} // namespace guidepin
