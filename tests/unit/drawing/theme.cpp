// SPDX-License-Identifier: Apache-2.0
// Oracles: contrast ratio of WCAG 2.1 (relative luminance); protanopia and deuteranopia after
// Vienot, Brettel, Mollon, Color Research and Application 24 (1999), 243 (linear RGB).
#include "drawing/theme.hpp"

#include <array>
#include <cmath>

#include <gtest/gtest.h>

using namespace guidepin::drawing;

namespace theme_test {

double linear(std::uint8_t value)
{
    double const v = value / 255.0;
    return v <= 0.03928 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
}
double luminance(Colour c)
{
    return 0.2126 * linear(c.red) + 0.7152 * linear(c.green) + 0.0722 * linear(c.blue);
}
double contrast(Colour a, Colour b)
{
    double const x = luminance(a);
    double const y = luminance(b);
    return (std::max(x, y) + 0.05) / (std::min(x, y) + 0.05);
}

using Linear = std::array<double, 3>;
Linear seen(Colour c, bool protan)
{
    double const r = linear(c.red);
    double const g = linear(c.green);
    double const b = linear(c.blue);
    // Vienot et al. 1999: red and green fall together, blue stays.
    double const mixed = protan ? 0.11238 * r + 0.88762 * g : 0.29275 * r + 0.70725 * g;
    double const blue = protan ? 0.00401 * r - 0.00401 * g + b : -0.02234 * r + 0.02234 * g + b;
    return {mixed, mixed, blue};
}

TEST(Theme, TheContrastFormulaItself)
{
    // WCAG 2.1: black on white is 21 : 1; #777777 on white 4.48 : 1 (W3C, Understanding SC 1.4.3).
    EXPECT_NEAR(contrast({0, 0, 0}, {255, 255, 255}), 21.0, 1e-9);
    EXPECT_NEAR(contrast({0x77, 0x77, 0x77}, {255, 255, 255}), 4.48, 0.005);
}

TEST(Theme, TextReachesAaOnEveryGround)
{
    for (Theme const theme : {Theme::light, Theme::dark, Theme::paper}) {
        for (Token const ground : {Token::paper, Token::tint}) {
            Colour const under = colour_of(paint(ground), theme);
            for (Token const text :
                 {Token::ink, Token::quiet, Token::accent, Token::pass, Token::fail, Token::held}) {
                EXPECT_GE(contrast(colour_of(paint(text), theme), under), ground == Token::paper ? 4.5 : 4.4)
                    << css_name(paint(text)) << " on " << css_name(paint(ground));
            }
            // Outlines and marks: 3 : 1 (WCAG 2.1, 1.4.11).
            EXPECT_GE(contrast(colour_of(paint(Token::open), theme), under), 3.0);
        }
        // Words on the tints of the verdicts.
        EXPECT_GE(contrast(colour_of(paint(Token::fail), theme), colour_of(paint(Token::pass_tint), theme)),
                  4.0);
        EXPECT_GE(contrast(colour_of(paint(Token::ink), theme), colour_of(paint(Token::pass_tint), theme)),
                  7.0);
    }
}

TEST(Theme, PassAndFailStayApartForColourBlindEyes)
{
    for (Theme const theme : {Theme::light, Theme::dark, Theme::paper}) {
        for (bool const protan : {true, false}) {
            Linear const pass = seen(colour_of(paint(Token::pass), theme), protan);
            Linear const fail = seen(colour_of(paint(Token::fail), theme), protan);
            // Blue carries the difference, where red against green would have none.
            EXPECT_GT(pass[2] - fail[2], 0.3) << protan;
        }
    }
}

TEST(Theme, EveryTokenHasItsVariable)
{
    std::string const sheet = stylesheet();
    for (Token const token :
         {Token::ink, Token::quiet, Token::faint, Token::paper, Token::tint, Token::accent, Token::pass,
          Token::pass_tint, Token::fail, Token::fail_tint, Token::held, Token::open}) {
        EXPECT_NE(sheet.find("--gp-" + css_name(paint(token)) + ":"), std::string::npos);
    }
    EXPECT_EQ(css_name(fibre_paint(13)), "fibre-1");
    EXPECT_EQ(css_name(fibre_paint(24)), "fibre-12");
    EXPECT_EQ(hex_text({0x1d, 0x23, 0x28}), "#1d2328");
}

} // namespace theme_test
