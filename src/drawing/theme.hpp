// SPDX-License-Identifier: Apache-2.0
// How the tokens look: light, dark, paper. Measured contrasts: docs/methods/drawing.md#tokens.
// Verified by: tests/unit/drawing/theme.cpp (contrast ratios after WCAG 2.1, distance of pass and fail for
// red-green colour blindness).
#pragma once

#include "drawing/scene.hpp"

#include <string>
#include <string_view>

namespace guidepin::drawing {

struct Colour
{
    std::uint8_t red = 0;
    std::uint8_t green = 0;
    std::uint8_t blue = 0;
};

enum class Theme : std::uint8_t { light, dark, paper };

/// Token::none has no colour and must not be asked for.
Colour colour_of(Paint paint, Theme theme);
std::string hex_text(Colour colour); ///< "#1d2328"

/// Short name of a token: the CSS variable is "--gp-" + name ("--gp-ink", "--gp-fibre-3").
std::string css_name(Paint paint);

/// Style sheet of all drawings: the variables for light and dark (by the system, or by data-theme="light" /
/// "dark" on the root element) and the few classes that our SVG uses. A page includes it once.
std::string stylesheet();

} // namespace guidepin::drawing
