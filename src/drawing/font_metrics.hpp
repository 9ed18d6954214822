// SPDX-License-Identifier: Apache-2.0
// Advance widths of B612, so that a drawing is laid out the same on every machine, with or without the font.
// Verified by: tests/unit/drawing/font_metrics.cpp (against the font file through Pango).
#pragma once

#include "drawing/scene.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace guidepin::drawing {

/// Width of UTF-8 text in units of the drawing. A letter outside the font counts as one em.
double text_width(std::string_view text, double size, Face face = Face::regular);

/// Height of a capital above the baseline; for centring by eye.
constexpr double cap_height(double size)
{
    return size * 0.75;
}

/// `text`, or its beginning and end around "…", no wider than `width`: what distinguishes two long
/// identifiers is mostly at their ends.
std::string fitted(std::string_view text, double width, double size, Face face = Face::regular);

/// Lines no wider than `width`, broken at spaces, or after "/", "-", "_", "." where a word alone is too wide,
/// or anywhere if it must be. Line feeds break always.
std::vector<std::string> wrapped(std::string_view text, double width, double size, Face face = Face::regular);

} // namespace guidepin::drawing
