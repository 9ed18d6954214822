// SPDX-License-Identifier: Apache-2.0
#include "drawing/lengths.hpp"

#include <algorithm>
#include <cmath>
#include <string_view>

#include <fmt/format.h>

namespace guidepin::drawing {

namespace {

Text length_label(Point at, std::string_view text, double size, Token token = Token::ink,
                  Anchor anchor = Anchor::start)
{
    Text label;
    label.at = at;
    label.text.assign(text);
    label.size = size;
    label.fill = paint(token);
    label.anchor = anchor;
    return label;
}

} // namespace

Scene length_drawing(LengthChart const& chart, double width)
{
    constexpr double left = 72, bar = 12, row = 62;
    double const right = width - 64;
    double longest = 1;
    for (LengthPair const& link : chart.links)
        longest = std::max({longest, link.drawn_m + link.tolerance_m, link.measured_m});
    auto const x_of = [&](double metres) { return left + std::max(0.0, metres) / longest * (right - left); };
    Scene scene;
    scene.width = width;
    scene.name = chart.name;
    double top = 0;
    for (LengthPair const& link : chart.links) {
        if (!scene.description.empty()) scene.description.append("; ");
        scene.description.append(
            fmt::format("{}: drawn {}, measured {}", link.link, link.drawn_text, link.measured_text));
        bool const off = std::abs(link.measured_m - link.drawn_m) > link.tolerance_m;
        scene.add(length_label({0, top + 12}, link.link, 12));
        double const drawn = top + 18;
        double const measured = drawn + bar + 4;
        // What the drawing allows, behind both.
        double const from = x_of(link.drawn_m - link.tolerance_m);
        scene.add(Rect{{from, drawn - 2, x_of(link.drawn_m + link.tolerance_m) - from, 2 * bar + 8},
                       0,
                       paint(Token::tint),
                       {}});
        scene.add(Rect{{left, drawn, x_of(link.drawn_m) - left, bar},
                       0,
                       paint(Token::paper),
                       {paint(Token::ink), 1, false}});
        scene.add(Rect{{left, measured, x_of(link.measured_m) - left, bar},
                       0,
                       paint(off ? Token::fail : Token::pass),
                       {}});
        scene.add(length_label({0, drawn + 10}, "drawn", 10, Token::quiet));
        scene.add(length_label({0, measured + 10}, "measured", 10, Token::quiet));
        scene.add(length_label({x_of(link.drawn_m) + 6, drawn + 10}, link.drawn_text, 10));
        scene.add(length_label({x_of(link.measured_m) + 6, measured + 10}, link.measured_text, 10));
        top += row;
    }
    scene.height = std::max(top - 10, 1.0);
    return scene;
}

} // namespace guidepin::drawing
