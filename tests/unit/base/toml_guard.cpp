// SPDX-License-Identifier: Apache-2.0
#include "base/toml_guard.hpp"

#include <gtest/gtest.h>

namespace guidepin {
namespace toml_guard_test {

int line_of(std::string_view text)
{
    auto const fault = toml_fault(text);
    return fault ? fault->line : 0;
}

TEST(TomlGuard, LetsOrdinaryTextPass)
{
    for (char const* const text :
         {"", "a = 1\n[b]\nc = [[1, 2],\n[3, 4],\n [ \"x\" ]]\n[[d]]\n[ e . 'f' ]\n", "# °C µm\na = \"°\"\n",
          "a = '''\n[=\n'''\n[b]\n", "a = \"\"\"x\\\"\"\"\"\"\n[\"µ\"]\n", "[]\n", "a = {b = [\n], c = 1}\n",
          "\xEF\xBB\xBF"
          "a = 1"}) {
        EXPECT_EQ(line_of(text), 0) << text;
    }
}

TEST(TomlGuard, StopsWhatTheLibraryCannotBear)
{
    EXPECT_EQ(line_of("a = 1\n[=b]\n"), 2);
    EXPECT_EQ(line_of("a = 1\n\n[[ \n"), 3);
    EXPECT_EQ(line_of("[#]\n"), 1);
    EXPECT_EQ(line_of("a = '''\n\n'''\n[.]\n"), 4);
    EXPECT_EQ(line_of("a = 1\n§ = 2\n"), 2);
    EXPECT_EQ(line_of("a = \"\n\x80\""), 1);
    EXPECT_EQ(line_of("\n" + std::string(61, '.')), 2);
    EXPECT_EQ(line_of(std::string(4'000'001, ' ')), 1);
}

} // namespace toml_guard_test
} // namespace guidepin
