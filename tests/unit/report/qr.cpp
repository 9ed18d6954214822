// SPDX-License-Identifier: Apache-2.0
// Oracle: ISO/IEC 18004: a finder pattern of 7 x 7 modules in three corners (dark ring, light ring, dark core
// of 3 x 3), timing patterns of alternating modules between them, a quiet zone of four modules; 17 + 4 v
// modules a side. That another program reads the code back: tests/cli/package.py.
#include "report/qr.hpp"

#include <cmath>
#include <gtest/gtest.h>

using namespace guidepin;
using namespace guidepin::report;

namespace qr_test {

// The drawing's boxes back as a grid of modules, quiet zone included.
std::vector<std::vector<bool>> modules_of(drawing::Scene const& scene, std::size_t across)
{
    double const unit = scene.width / static_cast<double>(across);
    std::vector grid(across, std::vector<bool>(across));
    auto const index = [&](double x) { return static_cast<std::size_t>(std::lround(x / unit)); };
    auto const& path = std::get<drawing::Path>(scene.nodes.at(1).shape);
    for (std::size_t step = 0; step + 4 < path.steps.size(); step += 5) {
        auto const from = std::get<drawing::Path::Move>(path.steps[step]).to;
        auto const to = std::get<drawing::Path::LineTo>(path.steps[step + 2]).to;
        for (std::size_t y = index(from.y); y < index(to.y); ++y)
            for (std::size_t x = index(from.x); x < index(to.x); ++x) grid.at(y).at(x) = true;
    }
    return grid;
}

// Side in modules: the first row's finder pattern is 7 wide, so its box tells the size of one.
std::size_t across_of(drawing::Scene const& scene)
{
    auto const& path = std::get<drawing::Path>(scene.nodes.at(1).shape);
    auto const from = std::get<drawing::Path::Move>(path.steps.at(0)).to;
    auto const to = std::get<drawing::Path::LineTo>(path.steps.at(2)).to;
    return static_cast<std::size_t>(std::lround(scene.width / ((to.x - from.x) / 7)));
}

TEST(QrCode, SaysTheHashInCapitals)
{
    EXPECT_EQ(qr_text("00ff9a"), "GUIDEPIN:SHA256:00FF9A");
}

TEST(QrCode, HasFindersTimingAndAQuietZone)
{
    auto const drawn = qr_drawing(qr_text(std::string(64, 'a')), 90);
    ASSERT_TRUE(drawn);
    EXPECT_EQ(drawn->width, 90);
    EXPECT_EQ(drawn->height, 90);
    std::size_t const across = across_of(*drawn);
    std::size_t const side = across - 8;
    ASSERT_EQ((side - 17) % 4, 0U) << side;
    auto const grid = modules_of(*drawn, across);
    for (std::size_t i = 0; i < across; ++i) {
        for (std::size_t edge = 0; edge < 4; ++edge) {
            EXPECT_FALSE(grid[edge][i] || grid[across - 1 - edge][i] || grid[i][edge] ||
                         grid[i][across - 1 - edge]);
        }
    }
    for (auto const& [left, top] : {std::pair{4UL, 4UL}, {4 + side - 7, 4UL}, {4UL, 4 + side - 7}}) {
        for (std::size_t y = 0; y < 7; ++y) {
            for (std::size_t x = 0; x < 7; ++x) {
                bool const ring = x == 0 || y == 0 || x == 6 || y == 6;
                bool const core = x >= 2 && x <= 4 && y >= 2 && y <= 4;
                EXPECT_EQ(grid[top + y][left + x], ring || core)
                    << left << ' ' << top << ' ' << x << ' ' << y;
            }
        }
    }
    for (std::size_t i = 8; i < side - 8; ++i) {
        EXPECT_EQ(grid[4 + 6][4 + i], i % 2 == 0) << i;
        EXPECT_EQ(grid[4 + i][4 + 6], i % 2 == 0) << i;
    }
}

TEST(QrCode, RefusesWhatDoesNotFit)
{
    EXPECT_FALSE(qr_drawing(std::string(4000, 'a'), 90));
    EXPECT_FALSE(qr_drawing("", 90));
}

} // namespace qr_test
