// SPDX-License-Identifier: Apache-2.0
#include "cli/print.hpp"

#include <limits>

#include <gtest/gtest.h>

using namespace guidepin;
using namespace guidepin::cli;

TEST(PrintTable, columns_line_up_by_characters_not_bytes)
{
    Table table({{"name"}, {"dB", Align::right}});
    table.add({"é…", "1.25"});
    table.add({"abc", "10.5"});
    EXPECT_EQ(table.text(1), " name    dB\n é…    1.25\n abc   10.5\n");
}

TEST(PrintTable, nothing_stands_behind_the_last_cell)
{
    Table table({{"a"}, {"b"}});
    table.add({"x"});
    EXPECT_EQ(table.text(0), "a  b\nx\n");
    EXPECT_EQ(Table({{"a"}}).text(), "");
}

TEST(PrintColour, only_on_a_terminal_and_not_against_the_wish_of_its_owner)
{
    SystemClock const clock;
    World world{clock};
    EXPECT_EQ(painted(world, "x", "#102030"), "x");
    world.terminal = true;
    EXPECT_EQ(painted(world, "x", "#102030"), "\033[38;2;16;32;48mx\033[0m");
    EXPECT_EQ(columns_of(painted(world, "xy", "#102030")), 2U);
    EXPECT_EQ(painted(world, "x", "blue"), "x");
    EXPECT_EQ(painted(world, "x", ""), "x");
    world.environment["NO_COLOR"] = "1";
    EXPECT_EQ(painted(world, "x", "#102030"), "x");
}
