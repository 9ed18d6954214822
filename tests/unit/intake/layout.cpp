// SPDX-License-Identifier: Apache-2.0
#include "intake/layout.hpp"

#include "base/text.hpp"

#include <fstream>

#include <fmt/format.h>
#include <gtest/gtest.h>

namespace guidepin::intake {
namespace layout_test {

TEST(Layout, TheDocumentListsExactlyTheseColumns)
{
    std::ifstream file(std::string(GUIDEPIN_SOURCE_DIR) + "/docs/formats/csv.md");
    std::string document{std::istreambuf_iterator<char>(file), {}};
    ASSERT_FALSE(document.empty());
    for (LayoutKind const kind :
         {LayoutKind::schedule, LayoutKind::reference, LayoutKind::cord_check, LayoutKind::readings}) {
        std::string table =
            fmt::format("### {}\n\n| column | needed | meaning |\n|---|---|---|\n", name_of(kind));
        for (Column const& column : columns_of(kind)) {
            std::string needed = column.required ? "yes" : "";
            if (!column.group.empty())
                needed += fmt::format("{}({})", needed.empty() ? "" : " ", column.group);
            std::string meaning;
            for (char const letter : column.meaning)
                meaning += letter == '|' ? std::string("\\|") : std::string(1, letter);
            table +=
                fmt::format("| `{}` |{} | {} |\n", column.name, needed.empty() ? "" : " " + needed, meaning);
        }
        EXPECT_NE(document.find(table + "\n"), std::string::npos) << table;
    }
}

TEST(Layout, HeadersAsPeopleWriteThem)
{
    for (char const* const header :
         {"launch_end", " Launch End ", "LAUNCH-END", "launch  end", "Launch\nEnd"}) {
        EXPECT_EQ(normal_header(header), "launch_end") << header;
    }
    EXPECT_EQ(normal_header("Length (ft)"), "length_(ft)");
    EXPECT_EQ(normal_header("  "), "");
}

TEST(Layout, Names)
{
    for (LayoutKind const kind :
         {LayoutKind::schedule, LayoutKind::reference, LayoutKind::cord_check, LayoutKind::readings}) {
        EXPECT_EQ(parse_layout_kind(name_of(kind)), kind);
    }
    EXPECT_FALSE(parse_layout_kind("reading").has_value());
}

} // namespace layout_test
} // namespace guidepin::intake
