// SPDX-License-Identifier: Apache-2.0
// Oracle: HarfBuzz's shaping through Pango of the font file itself.
#include "drawing/font_metrics.hpp"

#include "drawing/canvas.hpp"
#include "drawing/font_widths.hpp"
#include "drawing/letters.hpp"
#include "drawing/type_inside.hpp"

#include <pango/pangofc-font.h>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

using namespace guidepin::drawing;

namespace font_metrics_test {
std::string utf8(char32_t letter)
{
    std::string text;
    if (letter < 0x80) return std::string(1, static_cast<char>(letter));
    if (letter < 0x800)
        return {static_cast<char>(0xC0 | (letter >> 6)), static_cast<char>(0x80 | (letter & 0x3F))};
    return {static_cast<char>(0xE0 | (letter >> 12)), static_cast<char>(0x80 | ((letter >> 6) & 0x3F)),
            static_cast<char>(0x80 | (letter & 0x3F))};
}

TEST(FontMetrics, WidthsAreThoseOfTheFontFile)
{
    auto const typeface = Typeface::load();
    ASSERT_TRUE(typeface) << typeface.error().message;
    Typeface::Inside& inside = (*typeface)->inside();
    int compared = 0;
    for (FontWidth const& width : font_widths) {
        for (std::size_t f = 0; f < 4; ++f) {
            PangoFont* const font = inside.faces[f].font;
            auto const glyph =
                static_cast<PangoGlyph>(pango_fc_font_get_glyph(PANGO_FC_FONT(font), width.letter));
            ASSERT_NE(glyph, 0U) << width.letter;
            PangoRectangle logical;
            pango_font_get_glyph_extents(font, glyph, nullptr, &logical);
            // The faces are loaded at 1000 units of the device: a unit of Pango is 1/1024 of one.
            double const told = static_cast<double>(logical.width) / PANGO_SCALE;
            EXPECT_NEAR(text_width(utf8(width.letter), 1000, static_cast<Face>(f)), told, 1.0)
                << width.letter << " face " << f;
            ++compared;
        }
    }
    EXPECT_GT(compared, 1500);
}

TEST(FontMetrics, DigitsAreTabular)
{
    for (Face const face : {Face::regular, Face::bold, Face::italic, Face::mono}) {
        for (char digit = '0'; digit <= '9'; ++digit)
            EXPECT_EQ(text_width(std::string(1, digit), 10, face), text_width("0", 10, face));
    }
}

TEST(FontMetrics, FittedKeepsBothEnds)
{
    std::string const name = "BUILDING-NORTH/HALL-2/ROW-17/RACK-042/PORT-0012";
    std::string const shown = fitted(name, 120, 10);
    EXPECT_LE(text_width(shown, 10), 120);
    EXPECT_GT(text_width(shown, 10), 100);
    EXPECT_TRUE(shown.starts_with("BUIL")) << shown;
    EXPECT_TRUE(shown.ends_with("12")) << shown;
    EXPECT_EQ(fitted("F2-014", 120, 10), "F2-014");
}

TEST(FontMetrics, WrappedBreaksAtSpacesThenJoints)
{
    for (std::string const& line : wrapped("HDA-3/07/A12-EAST/PANEL-0001 and more words after it", 60, 10))
        EXPECT_LE(text_width(line, 10), 60) << line;
    EXPECT_EQ(wrapped("one\ntwo", 500, 10), (std::vector<std::string>{"one", "two"}));
    EXPECT_EQ(wrapped("", 500, 10), (std::vector<std::string>{""}));
}

RC_GTEST_PROP(FontMetricsProperties, WrappingLosesNoLetterAndHoldsTheWidth, (std::string const& bytes))
{
    std::string const text = clean_text(bytes);
    std::string kept;
    for (std::string const& line : wrapped(text, 40, 10)) {
        std::size_t letters = 0;
        for (std::size_t i = 0; i < line.size(); ++letters) next_letter(line, i);
        RC_ASSERT(text_width(line, 10) <= 40 + 1e-9 || letters == 1U);
        for (char const c : line) {
            if (c != ' ') kept += c;
        }
    }
    std::string all;
    for (char const c : text) {
        if (c != ' ') all += c;
    }
    RC_ASSERT(kept == all);
}

} // namespace font_metrics_test
