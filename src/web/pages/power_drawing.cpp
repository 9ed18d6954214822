// SPDX-License-Identifier: Apache-2.0
#include "web/pages/power_drawing.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

using namespace drawing;

constexpr double left_edge = 44, right_edge = 6, top = 18, tall = 96, gap = 26, spread_tall = 64, foot = 20;

Text small(Point at, std::string words, Anchor anchor, Token token = Token::quiet)
{
    return {at, std::move(words), 11, Face::regular, anchor, paint(token), false};
}

/// One edge of a band: its value and the number beside it.
struct Edge
{
    double value;
    std::string number;
};

/// A band between two values, with their numbers at the left; `y` gives the height of a value.
template <typename Height>
void add_band(Scene& scene, Height y, Edge const& low, Edge const& high)
{
    double const end = scene.width - right_edge;
    scene.add(Rect{{left_edge, y(high.value), end - left_edge, y(low.value) - y(high.value)},
                   0,
                   paint(Token::tint),
                   {}});
    for (Edge const* const edge : {&high, &low}) {
        scene.add(Line{{left_edge, y(edge->value)}, {end, y(edge->value)}, {paint(Token::quiet), 1, true}});
        scene.add(small({left_edge - 6, y(edge->value) + 4}, edge->number, Anchor::end));
    }
}

} // namespace

drawing::Scene power_drawing(PowerRow const& row, double width)
{
    double lowest = row.low, highest = row.high, mean = 0, widest = 0.5;
    for (auto const& [position, power] : row.powers) {
        if (power < row.low) lowest = std::min(lowest, power - 1);
        if (power > row.high) highest = std::max(highest, power + 1);
        mean += power / static_cast<double>(row.powers.size());
    }
    for (auto const& [position, power] : row.powers) widest = std::max(widest, std::abs(power - mean) * 1.1);
    auto const y = [&](double dbm) { return top + tall * (highest - dbm) / (highest - lowest); };
    double const middle_line = top + tall + gap + spread_tall / 2;
    auto const away = [&](double db) { return middle_line - db / widest * spread_tall / 2; };
    Scene scene;
    scene.width = width;
    scene.height = top + tall + gap + spread_tall + foot;
    scene.name = row.name;
    for (auto const& [position, power] : row.powers)
        scene.description += fmt::format("{}position {} {} dBm", scene.description.empty() ? "" : ", ",
                                         position, row.number(power, 2));
    add_band(scene, y, {row.low, row.number(row.low, 0)}, {row.high, row.number(row.high, 0)});
    scene.add(small({left_edge, top - 6}, "power, dBm; plausible inside the band", Anchor::start));
    if (row.powers.empty()) {
        scene.height = top + tall + 4;
        return scene;
    }
    scene.add(small({left_edge, away(widest) - 5}, "away from the mean, dB", Anchor::start));
    add_band(scene, away, {-0.5, row.number(-0.5, 1)}, {0.5, "+" + row.number(0.5, 1)});
    scene.add(
        Line{{left_edge, middle_line}, {width - right_edge, middle_line}, {paint(Token::ink), 1, false}});
    double const step = (width - left_edge - right_edge - 8) / static_cast<double>(row.powers.size());
    double const bar = std::min(10.0, step * 0.45);
    double x = left_edge + 4;
    for (auto const& [position, power] : row.powers) {
        bool const inside = power >= row.low && power <= row.high;
        Paint const colour = paint(inside ? Token::accent : Token::fail);
        double const centre = x + step / 2;
        scene.add(Line{{centre, y(lowest)}, {centre, y(power)}, {colour, bar, false}});
        scene.add(
            Line{{centre - step * 0.36, y(power)}, {centre + step * 0.36, y(power)}, {colour, 2, false}});
        scene.add(Line{{centre, middle_line}, {centre, away(power - mean)}, {colour, bar, false}});
        scene.add(small({centre, scene.height - 6}, fmt::format("{}", position), Anchor::middle));
        x += step;
    }
    return scene;
}

} // namespace guidepin::web
