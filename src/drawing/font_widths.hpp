// SPDX-License-Identifier: Apache-2.0
// The table behind font_metrics.hpp; letters that all four faces have, in order. B612 Mono is 1300
// throughout.
#pragma once

#include <array>
#include <cstdint>

namespace guidepin::drawing {

struct FontWidth
{
    std::uint16_t letter = 0;
    std::uint16_t regular = 0;
    std::uint16_t bold = 0;
    std::uint16_t italic = 0;
};

constexpr double font_units = 2000;
constexpr int mono_width = 1300;
extern std::array<FontWidth, 491> const font_widths;

} // namespace guidepin::drawing
