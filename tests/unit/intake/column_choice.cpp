// SPDX-License-Identifier: Apache-2.0
// Choosing columns without writing TOML. Oracles: read_column_map() on the text that came out; what was not
// chosen is still there, letter for letter.
#include "intake/column_choice.hpp"

#include "intake/column_map.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::intake {
namespace column_choice_test {

using ::testing::HasSubstr;
using ::testing::Not;

constexpr std::string_view file = "Cable;Fibre;Wave;Loss\nN-07;1;850;0,31\nN-07;2;850;0,29\n";

ColumnChoice find(std::string_view map, std::string_view column)
{
    for (ColumnChoice const& choice : column_choices(map, LayoutKind::readings)) {
        if (choice.column == column) return choice;
    }
    return {};
}

TEST(ColumnChoice, aProposedMapIsCompletedByChoices)
{
    auto const proposed = propose_column_map(file, LayoutKind::readings, "other.csv");
    ASSERT_TRUE(proposed.has_value()) << proposed.error().message;
    EXPECT_EQ(*headers_of(file), (std::vector<std::string>{"Cable", "Fibre", "Wave", "Loss"}));
    EXPECT_EQ(find(*proposed, "link").header, "Cable");
    EXPECT_EQ(find(*proposed, "position").header, "Fibre");
    EXPECT_EQ(find(*proposed, "launch_end").header, "");
    ASSERT_FALSE(read_column_map(*proposed).has_value()) << "launch_end and wavelength_nm are not found";
    std::string map = with_choice(*proposed, {"launch_end", "", "a", false});
    map = with_choice(map, {"wavelength_nm", "Wave", "", false});
    auto const read = read_column_map(map);
    ASSERT_TRUE(read.has_value()) << read.error().message << map;
    EXPECT_EQ(read->columns.at("launch_end").constant, "a");
    EXPECT_EQ(read->columns.at("wavelength_nm").from, std::vector<std::string>{"Wave"});
    EXPECT_EQ(read->columns.at("link").from, std::vector<std::string>{"Cable"}) << "the rest stays";
}

TEST(ColumnChoice, otherEntriesOfARuleStay)
{
    std::string const map = "layout = \"readings\"\n\n[column.wavelength_nm]   # first value: 0.85\nfrom = "
                            "\"Wave\"\nunit = \"um\"\n\n"
                            "[column.link]\nfrom = \"Cable\"\n";
    std::string const changed = with_choice(map, {"wavelength_nm", "Lambda", "", false});
    EXPECT_THAT(changed, HasSubstr("from = \"Lambda\"\nunit = \"um\"\n"));
    EXPECT_THAT(changed, Not(HasSubstr("\"Wave\"")));
    EXPECT_THAT(changed, HasSubstr("[column.link]\nfrom = \"Cable\"\n"));
    std::string const gone = with_choice(map, {"wavelength_nm", "", "", false});
    EXPECT_THAT(gone, Not(HasSubstr("wavelength_nm")));
    EXPECT_THAT(gone, Not(HasSubstr("\"um\"")));
}

TEST(ColumnChoice, whatOnlyTheTextSaysIsToldSo)
{
    EXPECT_TRUE(find("[column.taken_at]\nfrom = [\"Date\", \"Time\"]\n", "taken_at").as_written);
    std::string const wide = "[wide]\nfills = \"attenuation_db\"\nheader = \"F{position}@{wavelength_nm}\"\n";
    EXPECT_TRUE(find(wide, "attenuation_db").as_written);
    EXPECT_TRUE(find(wide, "position").as_written);
    EXPECT_FALSE(find(wide, "link").as_written);
}

RC_GTEST_PROP(ColumnChoice, AnyHeaderReadsBack, ())
{
    // A header is one line of text without control characters; the reader of the file sees to that.
    auto const header =
        *rc::gen::nonEmpty(rc::gen::container<std::string>(rc::gen::inRange<char>(' ', 0x7F)));
    std::string const map = with_choice("layout = \"readings\"\n", {"link", header, "", false});
    RC_ASSERT(find(map, "link").header == header);
    std::string const again = with_choice(map, {"link", header, "", false});
    RC_ASSERT(again == map);
}

} // namespace column_choice_test
} // namespace guidepin::intake
