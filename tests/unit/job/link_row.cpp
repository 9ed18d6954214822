// SPDX-License-Identifier: Apache-2.0
// The row of a link in the derived tables. Oracles: what was written comes back, whatever it is; one row as
// docs show it, by hand.
#include "job/assess/link_row.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::job {
namespace link_row_test {

std::string written(std::vector<WavelengthCells> const& row)
{
    RowWriter writer;
    for (WavelengthCells const& wavelength : row) {
        writer.wavelength(wavelength.wavelength_nm);
        for (RowCell const& cell : wavelength.cells) writer.cell(cell);
    }
    return writer.take();
}

TEST(LinkRow, IsWrittenAsTheTablesKeepIt)
{
    std::vector<WavelengthCells> const row{
        {850, {{CellMark::pass, 350}, {CellMark::marginal_pass, 990}, {CellMark::unused, {}}}},
        {1300, {{CellMark::dark, 0}, {CellMark::fail, -40}, {CellMark::open, {}}, {CellMark::held, 1200}}}};
    EXPECT_EQ(written(row), "850:350p,990q,-;1300:0d,-40f,o,1200h");
    EXPECT_EQ(read_row("850:350p,990q,-;1300:0d,-40f,o,1200h"), row);
    EXPECT_TRUE(says_dark(written(row), 1300, 1));
    EXPECT_FALSE(says_dark(written(row), 1300, 2));
    EXPECT_FALSE(says_dark(written(row), 850, 1));
    EXPECT_FALSE(says_dark(written(row), 1300, 5));
}

TEST(LinkRow, WhatNoRowSaysIsLeftOutOrOpen)
{
    EXPECT_TRUE(read_row("").empty());
    EXPECT_TRUE(read_row("pass").empty());
    auto const read = read_row("x:1p;850:7?");
    ASSERT_EQ(read.size(), 1U);
    EXPECT_EQ(read.front().cells, (std::vector<RowCell>{{CellMark::open, 7}}));
}

TEST(LinkRow, EachStateHasItsWordAndItsMark)
{
    using verdict::State;
    for (State const state :
         {State::pass, State::marginal_pass, State::marginal_fail, State::fail, State::held, State::open}) {
        EXPECT_EQ(state_of_id(state_id(state)), state);
        EXPECT_EQ(read_row(written({{850, {{mark_of(state), 1}}}})).front().cells.front().mark,
                  mark_of(state));
    }
    EXPECT_EQ(state_of_id("unheard of"), State::open);
}

RC_GTEST_PROP(LinkRow, ComesBackAsItWasWritten,
              (std::vector<std::vector<std::pair<std::uint8_t, std::int32_t>>> const& any))
{
    std::vector<WavelengthCells> row;
    for (auto const& cells : any) {
        WavelengthCells& wavelength = row.emplace_back();
        wavelength.wavelength_nm = 850 + static_cast<std::int64_t>(row.size());
        for (auto const& [mark, level] : cells) {
            RowCell cell{static_cast<CellMark>(mark % 8), {}};
            if (cell.mark != CellMark::unused && level % 5 != 0) cell.level = level;
            wavelength.cells.push_back(cell);
        }
        if (wavelength.cells.empty()) wavelength.cells.emplace_back();
    }
    RC_ASSERT(read_row(written(row)) == row);
}

} // namespace link_row_test
} // namespace guidepin::job
