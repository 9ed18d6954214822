// SPDX-License-Identifier: Apache-2.0
// Guards, not oracles: the drawings as they were last looked at and approved. To approve a change, look at
// the new picture, run this program with GUIDEPIN_APPROVE=1, and commit the difference.
#include "drawing_samples.hpp"

#include "drawing/svg.hpp"
#include "strict_xml.hpp"

#include <cstdlib>
#include <fstream>
#include <iterator>

#include <gtest/gtest.h>

using namespace guidepin;
using namespace guidepin::drawing;

namespace drawings_test {

void expect_golden(std::string const& name, Scene const& scene)
{
    std::string const path =
        std::string(GUIDEPIN_SOURCE_DIR) + "/tests/golden/drawing/expected/" + name + ".svg";
    std::string text = svg_file(scene);
    // One element a line, so that a difference can be read.
    for (std::size_t at = 1; (at = text.find('<', at)) != std::string::npos; at += 2) {
        if (text[at + 1] != '/' && text[at - 1] == '>') text.insert(at, "\n");
    }
    ASSERT_NO_THROW(samples::StrictXml::read(text)) << name;
    if (std::getenv("GUIDEPIN_APPROVE")) std::ofstream(path, std::ios::binary) << text;
    std::ifstream file(path, std::ios::binary);
    ASSERT_TRUE(file) << path << " is missing: run with GUIDEPIN_APPROVE=1 and look at it.";
    std::string const expected((std::istreambuf_iterator<char>(file)), std::istreambuf_iterator<char>());
    if (text == expected) return;
    std::size_t const at = static_cast<std::size_t>(
        std::mismatch(text.begin(), text.end(), expected.begin(), expected.end()).first - text.begin());
    FAIL() << name << " differs from byte " << at << ": now \"" << text.substr(at, 80) << "\", approved \""
           << expected.substr(std::min(at, expected.size()), 80) << '"';
}

TEST(GoldenDrawing, RowCompact)
{
    expect_golden("row-compact", row_drawing(samples::row_of_twelve(), RowSize::compact));
}
TEST(GoldenDrawing, RowNormal)
{
    expect_golden("row-normal", row_drawing(samples::row_of_twelve(), RowSize::normal));
}
TEST(GoldenDrawing, RowLargeOfTwoRows)
{
    expect_golden("row-large-24", row_drawing(samples::row_of_twenty_four(), RowSize::large));
}
TEST(GoldenDrawing, Mark)
{
    expect_golden("mark", mark_drawing(256));
}
TEST(GoldenDrawing, LightPathReference)
{
    expect_golden("light-path-reference", light_path_drawing(samples::reference_phase(), 900));
}
TEST(GoldenDrawing, LightPathTest)
{
    expect_golden("light-path-test", light_path_drawing(samples::test_phase(), 900));
}
TEST(GoldenDrawing, LightPathFolded)
{
    expect_golden("light-path-folded", light_path_drawing(samples::test_phase(plant::Face::angled), 360));
}
TEST(GoldenDrawing, LightPathForbidden)
{
    expect_golden("light-path-forbidden", light_path_drawing(samples::forbidden_phase(), 900));
}
TEST(GoldenDrawing, Polarity)
{
    expect_golden("polarity", polarity_drawing(samples::crossed_map(), 560));
}
TEST(GoldenDrawing, Bars)
{
    expect_golden("bars", bar_drawing(samples::bars(), 560));
}
TEST(GoldenDrawing, Control)
{
    expect_golden("control", control_drawing(samples::control(), 560));
}
TEST(GoldenDrawing, Site)
{
    expect_golden("site", site_drawing(samples::site(), 560));
}
TEST(GoldenDrawing, EndFace)
{
    EndFace face;
    face.name = "Launch cord TRC-0412, far end";
    face.end.family = plant::parse_family("mpo-16").value();
    face.end.occupied = plant::parse_occupancy("all", face.end.family).value();
    face.end.pins = plant::Pins::pinned;
    face.end.face = plant::Face::angled;
    face.end.slope = plant::Slope::down;
    face.marked = {7};
    expect_golden("end-face", end_face_drawing(face));
}

} // namespace drawings_test
