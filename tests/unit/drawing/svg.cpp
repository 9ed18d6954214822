// SPDX-License-Identifier: Apache-2.0
#include "drawing/svg.hpp"

#include "drawing/theme.hpp"
#include "drawing_samples.hpp"
#include "strict_xml.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

using namespace guidepin;
using namespace guidepin::drawing;
using guidepin::samples::StrictXml;
using guidepin::samples::XmlElement;

namespace svg_test {

std::vector<Scene> every_drawing()
{
    EndFace face;
    face.name = "Launch cord, far end";
    face.end.family = plant::parse_family("mpo-32").value();
    face.end.occupied = plant::parse_occupancy("all", face.end.family).value();
    return {row_drawing(samples::row_of_twelve(), RowSize::compact),
            row_drawing(samples::row_of_twelve(), RowSize::normal),
            row_drawing(samples::row_of_twenty_four(), RowSize::large),
            light_path_drawing(samples::test_phase(), 900),
            light_path_drawing(samples::forbidden_phase(), 340),
            end_face_drawing(face),
            polarity_drawing(samples::crossed_map(), 560),
            bar_drawing(samples::bars(), 560),
            control_drawing(samples::control(), 560),
            site_drawing(samples::site(), 560),
            mark_drawing(64),
            sign_drawing(Standing::fail)};
}

Scene with_text(std::string text)
{
    Scene scene;
    scene.width = scene.height = 100;
    scene.name = text;
    scene.description = text;
    Group group;
    group.name = text;
    group.children.push_back(
        Node{Text{{1, 20}, text, 12, Face::regular, Anchor::start, paint(Token::ink), false}});
    scene.add(std::move(group));
    return scene;
}

TEST(Svg, EveryDrawingIsWellFormedAndSelfContained)
{
    for (Scene const& scene : every_drawing()) {
        for (std::string const& text : {svg(scene).text(), svg_file(scene)}) {
            XmlElement root;
            ASSERT_NO_THROW(root = StrictXml::read(text)) << scene.name;
            EXPECT_EQ(root.name, "svg");
            EXPECT_EQ(root.attributes.at("role"), "img") << scene.name;
            EXPECT_FALSE(root.attributes.at("aria-label").empty());
            ASSERT_FALSE(root.children.empty());
            EXPECT_EQ(root.children[0].name, "title");
            EXPECT_EQ(root.children[0].text, scene.name);
            // Nothing is fetched, nothing runs, nothing needs a unique name on the page.
            for (char const* forbidden :
                 {"href", "url(", "<script", "<image", "<foreignObject", " id=", " style=", "@import"}) {
                EXPECT_EQ(text.find(forbidden), std::string::npos) << scene.name << " has " << forbidden;
            }
        }
    }
}

TEST(Svg, NoElementListensForEvents)
{
    auto const looks = [](auto const& self, XmlElement const& element) -> void {
        for (auto const& [name, value] : element.attributes)
            EXPECT_FALSE(name.starts_with("on")) << element.name << ' ' << name << value;
        for (XmlElement const& child : element.children) self(self, child);
    };
    for (Scene const& scene : every_drawing()) looks(looks, StrictXml::read(svg(scene).text()));
}

TEST(Svg, SameSceneSameBytes)
{
    auto const once = every_drawing();
    auto const again = every_drawing();
    for (std::size_t i = 0; i < once.size(); ++i) EXPECT_EQ(svg_file(once[i]), svg_file(again[i]));
}

TEST(Svg, HostileTextStaysText)
{
    std::string const hostile = "</text><script>alert(1)</script>\" onload=\"x' & <b>]]>";
    XmlElement const root = StrictXml::read(svg(with_text(hostile)).text());
    EXPECT_EQ(root.all("text").at(0)->text, hostile);
    EXPECT_TRUE(root.all("script").empty());
    EXPECT_EQ(root.all("title").at(1)->text, hostile);
    EXPECT_EQ(root.attributes.count("onload"), 0U);
}

TEST(Svg, ForbiddenLettersAreReplaced)
{
    // XML 1.0, 2.2: no control letters, no surrogates, not U+FFFE or U+FFFF; here the first become spaces.
    XmlElement const root = StrictXml::read(svg(with_text(std::string("a\0b\x01"
                                                                      "c\x7f"
                                                                      "d\xff"
                                                                      "e\xEF\xBF\xBF"
                                                                      "f\xED\xA0\x80",
                                                                      16)))
                                                .text());
    EXPECT_EQ(root.all("text").at(0)->text.substr(0, 7), "a b c d");
}

RC_GTEST_PROP(SvgProperties, AnyBytesGiveWellFormedMarkup, (std::string const& bytes))
{
    XmlElement root;
    RC_ASSERT_FALSE([&] {
        try {
            root = StrictXml::read(svg_file(with_text(bytes)));
            return false;
        } catch (std::runtime_error const&) {
            return true;
        }
    }());
    RC_ASSERT(root.all("text").size() == 1U);
}

TEST(Svg, ClassesAreAllInTheStyleSheet)
{
    std::string const sheet = stylesheet();
    for (Scene const& scene : every_drawing()) {
        XmlElement const root = StrictXml::read(svg(scene).text());
        for (char const* shape : {"rect", "line", "circle", "path", "text"}) {
            for (XmlElement const* element : root.all(shape)) {
                std::string const& classes = element->attributes.at("class");
                std::size_t start = 0;
                while (start < classes.size()) {
                    std::size_t const end = std::min(classes.find(' ', start), classes.size());
                    std::string const one = "." + classes.substr(start, end - start) + "{";
                    EXPECT_NE(sheet.find(one), std::string::npos) << one;
                    start = end + 1;
                }
            }
        }
    }
}

TEST(Svg, ClipIsAnInnerViewport)
{
    Scene scene;
    scene.width = scene.height = 10;
    Group group;
    group.clip = Box{1, 2, 3, 4};
    group.children.push_back(Node{Rect{{0, 0, 9, 9}, 0, paint(Token::ink), {}}});
    scene.add(std::move(group));
    XmlElement const root = StrictXml::read(svg(scene).text());
    auto const inner = root.all("svg");
    ASSERT_EQ(inner.size(), 2U);
    EXPECT_EQ(inner[1]->attributes.at("viewBox"), "1 2 3 4");
    EXPECT_EQ(inner[1]->attributes.at("width"), "3");
}

TEST(Svg, ACompactRowIsShort)
{
    // A list of fifty links must stay light.
    Row row = samples::row_of_twelve();
    row.layers.resize(1);
    EXPECT_LT(svg(row_drawing(row, RowSize::compact)).text().size(), 2000U);
}

} // namespace svg_test
