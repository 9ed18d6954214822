// SPDX-License-Identifier: Apache-2.0
// What the motifs draw, measured in the shapes: levels, caps, order, sides.
#include "drawing_samples.hpp"

#include "drawing/font_metrics.hpp"
#include "drawing/hatching.hpp"
#include "drawing/lengths.hpp"
#include "drawing/light_joint.hpp"
#include "drawing/svg.hpp"
#include "drawing/tank.hpp"
#include "drawing/theme.hpp"
#include "strict_xml.hpp"

#include <cmath>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

using namespace guidepin;
using namespace guidepin::drawing;
using samples::StrictXml;

namespace motifs_test {

/// Boxes of one fill among the shapes, groups opened.
std::vector<Box> boxes_of(std::vector<Node> const& nodes, Token fill)
{
    std::vector<Box> found;
    for (Node const& node : nodes) {
        if (auto const* rect = std::get_if<Rect>(&node.shape); rect && rect->fill.token == fill)
            found.push_back(rect->box);
        if (auto const* group = std::get_if<Group>(&node.shape)) {
            for (Box const& box : boxes_of(group->children, fill)) found.push_back(box);
        }
    }
    return found;
}

std::vector<Text> texts_of(std::vector<Node> const& nodes)
{
    std::vector<Text> found;
    for (Node const& node : nodes) {
        if (auto const* text = std::get_if<Text>(&node.shape)) found.push_back(*text);
        if (auto const* group = std::get_if<Group>(&node.shape)) {
            for (Text const& text : texts_of(group->children)) found.push_back(text);
        }
    }
    return found;
}

Text const* text_said(std::vector<Text> const& texts, std::string_view said)
{
    for (Text const& text : texts) {
        if (text.text == said) return &text;
    }
    return nullptr;
}

constexpr Box vessel{0, 20, 20, 40};

RC_GTEST_PROP(Tank, LevelIsTheShareOfTheLimit, ())
{
    double const level = *rc::gen::inRange(1, 1000) / 1000.0;
    auto const boxes = boxes_of(tank_shapes({Standing::pass, level, ""}, vessel, 10), Token::pass);
    RC_ASSERT(boxes.size() == 1U);
    RC_ASSERT(std::fabs(boxes[0].height - 40 * level) < 1e-9);
    RC_ASSERT(std::fabs(boxes[0].bottom() - vessel.bottom()) < 1e-9);
}

TEST(Tank, OnlyFailsRiseAboveTheBrim)
{
    for (Standing const standing :
         {Standing::pass, Standing::marginal_pass, Standing::held, Standing::open}) {
        for (Node const& node : tank_shapes({standing, 0.9, ""}, vessel, 10)) {
            if (auto const* rect = std::get_if<Rect>(&node.shape)) {
                EXPECT_GE(rect->box.y, vessel.y) << word_of(standing);
            }
        }
        EXPECT_EQ(cap_height_of({standing, 2.0, ""}, 10), 0) << word_of(standing);
    }
    auto const fail = boxes_of(tank_shapes({Standing::fail, 1.5, ""}, vessel, 10), Token::fail);
    ASSERT_EQ(fail.size(), 2U);
    EXPECT_EQ(fail[0].height, 40) << "full to the brim";
    EXPECT_LT(fail[1].y, vessel.y);
    EXPECT_EQ(fail[1].bottom(), vessel.y) << "the cap sits on the brim";
    EXPECT_LT(fail[1].x, vessel.x) << "and overhangs the walls: seen without colour";
    EXPECT_GT(fail[1].right(), vessel.right());
}

RC_GTEST_PROP(Tank, TheCapGrowsWithTheExcessAndStaysInItsRoom, ())
{
    double const a = 1 + *rc::gen::inRange(0, 3000) / 1000.0;
    double const b = a + *rc::gen::inRange(0, 1000) / 1000.0;
    double const low = cap_height_of({Standing::fail, a, ""}, 12);
    double const high = cap_height_of({Standing::fail, b, ""}, 12);
    RC_ASSERT(low >= 4 - 1e-9);
    RC_ASSERT(low <= high);
    RC_ASSERT(high <= 12);
}

TEST(Tank, UnusedIsAGapAndOpenAnOutline)
{
    EXPECT_TRUE(tank_shapes({Standing::unused, {}, ""}, vessel, 10).empty());
    auto const open = tank_shapes({Standing::open, {}, ""}, vessel, 10);
    ASSERT_EQ(open.size(), 1U);
    EXPECT_TRUE(std::get<Path>(open[0].shape).stroke.dashed);
}

RC_GTEST_PROP(Hatching, EveryLineEndsOnTheEdgeAtFortyFiveDegrees, ())
{
    Hatch hatch;
    hatch.box = {*rc::gen::inRange(-50, 50) * 1.0, *rc::gen::inRange(-50, 50) * 1.0,
                 *rc::gen::inRange(1, 80) * 1.0, *rc::gen::inRange(1, 80) * 1.0};
    hatch.spacing = *rc::gen::inRange(2, 9) * 1.0;
    Box const& box = hatch.box;
    auto const on = [](double a, double b) { return std::fabs(a - b) < 1e-9; };
    for (HatchLine const& line : hatch_lines(hatch)) {
        RC_ASSERT(on(line.to.x - line.from.x, line.from.y - line.to.y));
        RC_ASSERT(on(line.from.x, box.x) || on(line.from.y, box.bottom()));
        RC_ASSERT(on(line.to.x, box.right()) || on(line.to.y, box.y));
        for (Point const& p : {line.from, line.to})
            RC_ASSERT(p.x >= box.x - 1e-9 && p.x <= box.right() + 1e-9 && p.y >= box.y - 1e-9 &&
                      p.y <= box.bottom() + 1e-9);
    }
}

TEST(Row, SaysWhatItShows)
{
    EXPECT_EQ(row_in_words(samples::row_of_twenty_four()),
              "850 nm: 23 pass, 1 fail, worst at position 19: 0.74 dB of 0.62 dB");
    Row const row = samples::row_of_twelve();
    std::string const words = row_in_words(row);
    EXPECT_NE(words.find("2 fail"), std::string::npos) << words;
    EXPECT_EQ(words.find("unused"), std::string::npos);
}

TEST(Row, PositionsStandInOrderOnTheirRows)
{
    auto const texts = texts_of(row_drawing(samples::row_of_twenty_four(), RowSize::normal).nodes);
    for (int p = 1; p < 24; ++p) {
        Text const* const a = text_said(texts, fmt::format("{}", p));
        Text const* const b = text_said(texts, fmt::format("{}", p + 1));
        ASSERT_TRUE(a && b) << p;
        if (p == 12) {
            EXPECT_GT(b->at.y, a->at.y) << "13 begins the second row";
        } else {
            EXPECT_LT(a->at.x, b->at.x) << p;
            EXPECT_EQ(a->at.y, b->at.y) << p;
        }
    }
}

TEST(Row, EveryPositionCanBeRead)
{
    auto const root = StrictXml::read(svg(row_drawing(samples::row_of_twelve(), RowSize::normal)).text());
    auto const titles = root.all("title");
    ASSERT_EQ(titles.size(), 25U) << "the drawing and 2 x 12 positions";
    EXPECT_EQ(titles[4]->text, "Position 4: 0.88 dB of 0.62 dB, fail");
    EXPECT_EQ(titles[5]->text, "Position 5: unused");
}

TEST(LightPath, WordsNameEveryJoint)
{
    std::string const words = light_path_in_words(samples::test_phase());
    for (char const* said : {"Source SRC-0031 (pinned, key up, flat) takes Launch cord TRC-0412 (unpinned, "
                             "key down, flat), and stays shut.",
                             "Launch cord TRC-0412 (pinned, key up, flat) meets Link F2-014 (unpinned, key "
                             "down, flat) in an adapter with opposed keys, changed.",
                             "Pins fitted to the far end of TRC-0412"}) {
        EXPECT_NE(words.find(said), std::string::npos) << said << "\nin " << words;
    }
    EXPECT_NE(light_path_in_words(samples::forbidden_phase()).find("not allowed, pinned to pinned"),
              std::string::npos);
}

/// An up-angled plug must not be taken for the usual one, nor what nobody recorded for a plug without pins.
TEST(LightPath, WhatIsNotTheUsualPlugOrNotRecordedIsToldApart)
{
    auto const drawn = [](LightPath const& path) { return svg(light_path_drawing(path, 900)).text(); };
    LightPath path = samples::test_phase(plant::Face::angled);
    LightEnd& end = *path.bodies[1].right;
    end.slope = plant::Slope::down;
    std::string const usual = drawn(path);
    EXPECT_EQ(light_path_in_words(path).find("up-angled"), std::string::npos);
    end.slope = plant::Slope::up;
    EXPECT_NE(light_path_in_words(path).find("up-angled"), std::string::npos);
    EXPECT_NE(drawn(path), usual);
    end.known = false;
    EXPECT_NE(light_path_in_words(path).find("Launch cord TRC-0412 (not recorded) meets"), std::string::npos)
        << light_path_in_words(path);
    EXPECT_NE(drawn(path).find("not recorded"), std::string::npos);
}

TEST(LightPath, FoldsToAnyWidthAndStaysInside)
{
    for (double const width : {300.0, 340.0, 420.0, 560.0, 720.0, 900.0, 1400.0}) {
        Scene const scene = light_path_drawing(samples::test_phase(plant::Face::angled), width);
        EXPECT_EQ(scene.width, width);
        for (Text const& text : texts_of(scene.nodes)) {
            double const wide = text_width(text.text, text.size, text.face);
            double const left = text.anchor == Anchor::start    ? text.at.x
                                : text.anchor == Anchor::middle ? text.at.x - wide / 2
                                                                : text.at.x - wide;
            EXPECT_GE(left, -8) << text.text << " at width " << width;
            EXPECT_LE(left + wide, width + 8) << text.text << " at width " << width;
            EXPECT_LE(text.at.y, scene.height) << text.text;
        }
        // Every joint and every body is there, however it folds.
        auto const texts = texts_of(scene.nodes);
        for (char const* said :
             {"J1", "J2", "J3", "J4", "Source", "Meter", "Launch cord", "Tail cord", "End A", "End B"}) {
            EXPECT_TRUE(text_said(texts, said)) << said << " at " << width;
        }
        EXPECT_TRUE(text_said(texts, "Link F2-014") ||
                    (text_said(texts, "Link") && text_said(texts, "F2-014")))
            << width;
    }
}

TEST(LightPath, LightStopsAtAFault)
{
    Scene const scene = light_path_drawing(samples::forbidden_phase(), 1000);
    int lit_after = 0;
    double fault_x = 0;
    for (Node const& node : scene.nodes) {
        auto const* line = std::get_if<Line>(&node.shape);
        if (line && line->stroke.paint.token == Token::fail && line->from.x != line->to.x &&
            line->from.y != line->to.y)
            fault_x = line->from.x;
    }
    ASSERT_GT(fault_x, 0);
    for (Node const& node : scene.nodes) {
        auto const* line = std::get_if<Line>(&node.shape);
        if (line && line->stroke.paint.token == Token::accent && line->stroke.width == 2 &&
            line->from.x > fault_x)
            ++lit_after;
    }
    EXPECT_EQ(lit_after, 0);
}

TEST(LightPath, MatedAngledFacesAreParallel)
{
    // Both plugs lean down against their own key; an opposed-key joint turns one over, so the faces meet
    // flush. (IEC 61754-7: angled plugs mate key up to key down.)
    auto const slope_of = [](LightEnd const& end, int facing) {
        Scene scene;
        draw_end(scene, end, {0, 0}, facing);
        for (Node const& node : scene.nodes) {
            auto const* path = std::get_if<Path>(&node.shape);
            if (!path || path->steps.size() != 5) continue;
            Point const top = std::get<Path::LineTo>(path->steps[1]).to;
            Point const bottom = std::get<Path::LineTo>(path->steps[2]).to;
            return bottom.x - top.x;
        }
        return 0.0;
    };
    double const up = slope_of(samples::end(plant::Pins::pinned, true, plant::Face::angled), 1);
    double const down = slope_of(samples::end(plant::Pins::unpinned, false, plant::Face::angled), -1);
    EXPECT_NE(up, 0);
    EXPECT_EQ(up, down);
    double const wrong = slope_of(samples::end(plant::Pins::unpinned, true, plant::Face::angled), -1);
    EXPECT_EQ(wrong, -up) << "aligned keys: the faces gape";
}

TEST(EndFaceDrawing, PositionOneIsLeftWithTheKeyUp)
{
    // IEC 61754-7: looking at the face, key up, position 1 at the left.
    for (char const* family : {"mpo-12", "mpo-16", "mpo-24", "mpo-32"}) {
        for (bool const key_up : {true, false}) {
            EndFace face;
            face.end.family = plant::parse_family(family).value();
            face.end.occupied = plant::parse_occupancy("all", face.end.family).value();
            face.key_up = key_up;
            Scene const scene = end_face_drawing(face);
            auto const texts = texts_of(scene.nodes);
            Text const* const first = text_said(texts, "1");
            Text const* const last = text_said(texts, fmt::format("{}", face.end.family.columns));
            ASSERT_TRUE(first && last);
            EXPECT_EQ(first->at.x < last->at.x, key_up) << family;
            // The key is above with the key up, below otherwise.
            Box key{};
            for (Box const& box : boxes_of(scene.nodes, Token::ink)) key = box;
            EXPECT_EQ(key.y < first->at.y, key_up) << family;
            bool const centred = std::fabs(key.x + key.width / 2 - scene.width / 2) < 1e-6;
            EXPECT_EQ(centred, face.end.family.key == plant::Family::Key::mpo12) << family;
            if (face.end.family.rows == 2) {
                Text const* const second = text_said(texts, fmt::format("{}", face.end.family.columns + 1));
                ASSERT_TRUE(second);
                EXPECT_EQ(second->at.y > first->at.y, key_up) << family;
            }
        }
    }
}

TEST(PolarityDrawing, ThreadsRunFromNearToFarAndDifferencesStandOut)
{
    Scene const scene = polarity_drawing(samples::crossed_map(), 560);
    int strong = 0;
    int thin = 0;
    for (Node const& node : scene.nodes) {
        auto const* path = std::get_if<Path>(&node.shape);
        if (!path || path->stroke.paint.token != Token::fibre) continue;
        ++(path->stroke.width > 3 ? strong : thin);
    }
    EXPECT_EQ(strong, 2) << "3 and 4; 7 is dark and has no thread";
    EXPECT_EQ(thin, 12 + 9);
    auto const texts = texts_of(scene.nodes);
    EXPECT_TRUE(text_said(texts, "dark"));
    EXPECT_TRUE(text_said(texts, "3 and 4 exchanged; 7 dark"));
    EXPECT_NE(scene.description.find("3 to 9 (differs)"), std::string::npos);
    EXPECT_GT(polarity_drawing(samples::crossed_map(), 320).height, scene.height * 1.5)
        << "one below the other where it is narrow";
}

TEST(BarDrawing, HeightsAreProportional)
{
    BarChart chart;
    chart.panels = {{"850 nm",
                     1.0,
                     {{1, Standing::pass, 0.2, {}, {}, {}, {}},
                      {2, Standing::pass, 0.4, {}, {}, {}, {}},
                      {3, Standing::pass, 0.8, {}, {}, {}, {}}}}};
    chart.fibre_colours = false;
    auto const boxes = boxes_of(bar_drawing(chart, 500).nodes, Token::pass);
    ASSERT_EQ(boxes.size(), 3U);
    EXPECT_NEAR(boxes[1].height / boxes[0].height, 2, 1e-6);
    EXPECT_NEAR(boxes[2].height / boxes[0].height, 4, 1e-6);
}

TEST(BarDrawing, OneReadingFarOutDoesNotFlattenTheRest)
{
    BarChart chart;
    chart.panels = {{"850 nm",
                     1.0,
                     {{1, Standing::pass, 0.5, {}, {}, {}, {}}, {2, Standing::fail, 60.0, {}, {}, {}, {}}}}};
    auto const boxes = boxes_of(bar_drawing(chart, 500, 120).nodes, Token::pass);
    ASSERT_FALSE(boxes.empty());
    EXPECT_GT(boxes[0].height, 10);
}

TEST(ControlDrawing, PointsOutsideAreDiamondsAndTheChangeIsMarked)
{
    Scene const scene = control_drawing(samples::control(), 560);
    auto const texts = texts_of(scene.nodes);
    EXPECT_TRUE(text_said(texts, "change near F2-027"));
    int diamonds = 0;
    int dots = 0;
    for (Node const& node : scene.nodes) {
        auto const* group = std::get_if<Group>(&node.shape);
        if (!group) continue;
        for (Node const& inner : group->children) {
            diamonds += std::holds_alternative<Path>(inner.shape) ? 1 : 0;
            dots += std::holds_alternative<Circle>(inner.shape) ? 1 : 0;
        }
    }
    ControlChart const chart = samples::control();
    int outside = 0;
    for (double const value : chart.values) outside += value > chart.upper || value < chart.lower ? 1 : 0;
    EXPECT_EQ(diamonds, outside);
    EXPECT_EQ(diamonds + dots, 40);
}

TEST(SiteDrawing, ZonesFlowAndNothingLeavesTheWidth)
{
    for (double const width : {330.0, 560.0, 1000.0}) {
        Scene const scene = site_drawing(samples::site(), width);
        auto const texts = texts_of(scene.nodes);
        for (char const* said : {"Floor 1", "Floor 2", "Floor 3", "F1-001", "F3-018"})
            ASSERT_TRUE(text_said(texts, said)) << said;
        for (Text const& text : texts) EXPECT_LE(text.at.x, width) << text.text;
    }
    EXPECT_NE(site_drawing(samples::site(), 560).description.find("fail"), std::string::npos);
}

TEST(SiteDrawing, ALinkThatFailsWhereNoLevelShowsItIsBarred)
{
    SiteMap map = samples::site();
    map.each_cell = true;
    auto const bars = [](SiteMap const& of) {
        std::string const text = svg(site_drawing(of, 560)).text();
        auto const root = StrictXml::read(text);
        return std::pair(root.all("rect").size(), text);
    };
    auto const before = bars(map);
    map.zones.front().lines[3].fails = "3 and 4 exchanged";
    auto const after = bars(map);
    EXPECT_EQ(after.first, before.first + 1);
    EXPECT_NE(after.second.find("F1-004, position 1: "), std::string::npos);
    EXPECT_NE(after.second.find("; the link fails: 3 and 4 exchanged</title>"), std::string::npos);
    EXPECT_EQ(before.second.find("the link fails"), std::string::npos);
}

TEST(SiteDrawing, EachCellCanTellItsReading)
{
    SiteMap map = samples::site();
    map.each_cell = true;
    std::string const text = svg(site_drawing(map, 560)).text();
    auto const root = StrictXml::read(text);
    int cells = 0;
    for (SiteZone const& zone : map.zones) {
        for (SiteLine const& line : zone.lines) cells += static_cast<int>(line.cells.size());
    }
    EXPECT_EQ(root.all("title").size(), static_cast<std::size_t>(cells) + 1 + map.zones.size());
    EXPECT_NE(text.find("<title>F3-018, position 16: open</title>"), std::string::npos);
    map.each_cell = false;
    // Merged paths keep the map of a large site light: under 75 bytes a cell.
    std::string const merged = svg(site_drawing(map, 560)).text();
    EXPECT_LT(merged.size(), static_cast<std::size_t>(cells) * 75);
    EXPECT_LT(merged.size() * 2, text.size());
}
TEST(Lengths, BarsAreAsLongAsTheLinks)
{
    LengthChart chart;
    chart.name = "Measured and drawn length";
    chart.links = {{"S-17", 38, 70.6, 2, "38 m", "70.6 m"}, {"S-18", 71, 71, 3.6, "71 m", "71.0 m"}};
    Scene const scene = length_drawing(chart, 600);
    auto const off = boxes_of(scene.nodes, Token::fail);
    auto const right = boxes_of(scene.nodes, Token::pass);
    auto const drawn = boxes_of(scene.nodes, Token::paper);
    ASSERT_EQ(off.size(), 1u);
    ASSERT_EQ(right.size(), 1u);
    ASSERT_EQ(drawn.size(), 2u);
    // Oracle: one scale for all, so lengths of bars are as lengths of links.
    EXPECT_NEAR(off[0].width / right[0].width, 70.6 / 71, 1e-9);
    EXPECT_NEAR(drawn[0].width / off[0].width, 38 / 70.6, 1e-9);
    EXPECT_NEAR(drawn[1].width, right[0].width, 1e-9);
}

} // namespace motifs_test
