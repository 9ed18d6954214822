// SPDX-License-Identifier: Apache-2.0
#include "drawing/charts.hpp"

#include "drawing/shapes.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::drawing {

namespace {

std::string written(NumberText const& number, double value, int decimals)
{
    return number ? number(value, decimals) : fixed_text(value, decimals);
}

/// A step of 1, 2 or 5 times a power of ten that gives about `wanted` steps.
double round_step(double range, double wanted)
{
    double const raw = range / wanted;
    double const power = std::pow(10, std::floor(std::log10(raw)));
    double const lead = raw / power;
    return (lead <= 1.5 ? 1 : lead <= 3.5 ? 2 : lead <= 7.5 ? 5 : 10) * power;
}

int decimals_for(double step)
{
    return step >= 1 ? 0 : static_cast<int>(std::ceil(-std::log10(step) - 1e-9));
}

struct Scale
{
    double low = 0;
    double high = 1;
    double top = 0;    ///< y of `high`
    double bottom = 0; ///< y of `low`
    double y(double value) const
    {
        return bottom - (std::clamp(value, low, high) - low) / (high - low) * (bottom - top);
    }
};

void draw_grid(Scene& scene, Scale const& scale, double x0, double x1, double wanted,
               NumberText const& number)
{
    double const step = round_step(scale.high - scale.low, wanted);
    int const decimals = decimals_for(step);
    for (double k = std::ceil(scale.low / step - 1e-9); k * step <= scale.high + 1e-9; ++k) {
        double const y = scale.y(k * step);
        scene.add(Line{{x0, y}, {x1, y}, stroke(k == 0 ? Token::quiet : Token::faint, k == 0 ? 1 : 0.7)});
        scene.add(label({x0 - 5, y + 3}, written(number, k * step, decimals), 9, Token::quiet, Anchor::end));
    }
}

void draw_bar(Scene& scene, Bar const& bar, Scale const& scale, double middle, double width,
              BarChart const& chart, BarPanel const& panel, bool numbered)
{
    Group group;
    group.name = fmt::format("Position {}, {}: {}{}", bar.position, panel.label,
                             bar.value ? written(chart.number, *bar.value, 2) + " " + chart.unit + ", " : "",
                             word_of(bar.standing));
    double const zero = scale.y(0);
    double const x = middle - width / 2;
    if (bar.band_low && bar.band_high) {
        double const top = scale.y(*bar.band_high);
        add_to(group, filled({middle - width * 0.82, top, width * 1.64, scale.y(*bar.band_low) - top},
                             Token::pass_tint));
    }
    bool const fails = bar.standing == Standing::fail || bar.standing == Standing::marginal_fail;
    if (bar.value) {
        double const top = std::min(scale.y(*bar.value), zero);
        double const height = std::max(std::fabs(scale.y(*bar.value) - zero), 0.8);
        if (bar.standing == Standing::held) {
            add_to(group, Rect{{x, top, width, height}, 0, paint(Token::paper), stroke(Token::held, 1)});
            add_to(group, Hatch{{x, top, width, height}, 4, stroke(Token::held, 1)});
        } else {
            add_to(group, filled({x, top, width, height}, fails ? Token::fail : Token::pass));
        }
        if (fails) {
            // The cap over the limit, as in the row.
            double const limit = scale.y(panel.limit);
            add_to(group, filled({x - 2.5, std::min(top, limit) - 0.5, width + 5, std::max(limit - top, 3.0)},
                                 Token::fail, 1.5));
            double const at = std::min(top, bar.high ? scale.y(*bar.high) : top) - 4;
            if (numbered)
                add_to(group, label({middle, at}, written(chart.number, *bar.value, 2), 9, Token::fail,
                                    Anchor::middle, Face::bold));
        }
        if (bar.low && bar.high) {
            double const high = scale.y(*bar.high);
            double const low = scale.y(*bar.low);
            add_to(group, Line{{middle, high}, {middle, low}, stroke(Token::ink, 1)});
            for (double const y : {high, low})
                add_to(group, Line{{middle - 3, y}, {middle + 3, y}, stroke(Token::ink, 1)});
        }
    } else if (bar.standing != Standing::unused) {
        double const top = scale.y(panel.limit);
        add_to(group, outlined({x + 0.5, top, width - 1, zero - top}, stroke(Token::open, 1, true)));
        if (bar.standing == Standing::fail)
            add_to(group, label({middle, zero - 5}, "dark", 8.5, Token::fail, Anchor::middle, Face::bold));
    }
    scene.add(std::move(group));
}

} // namespace

Scene bar_drawing(BarChart const& chart, double width, double panel_height)
{
    Scene scene;
    scene.width = width;
    scene.name = chart.name;
    double high = 0;
    double low = 0;
    int places = 1;
    for (BarPanel const& panel : chart.panels) {
        high = std::max(high, panel.limit * 1.12);
        for (Bar const& bar : panel.bars) {
            places = std::max(places, bar.position);
            for (auto const& value : {bar.value, bar.high, bar.band_high})
                high = std::max(high, value.value_or(0));
            low = std::min(low, bar.value.value_or(0));
        }
    }
    // One reading far out (no light, a broken fibre) must not flatten the others.
    double limit = 0;
    for (BarPanel const& panel : chart.panels) limit = std::max(limit, panel.limit);
    if (limit > 0) high = std::min(high, limit * 2.5);
    if (high <= low) high = low + 1;
    high += (high - low) * 0.06;
    constexpr double left = 40;
    constexpr double foot = 20;
    bool numbered = false; // numbers stand over the bars that fail, and must not meet the panel's title
    for (BarPanel const& panel : chart.panels) {
        for (Bar const& bar : panel.bars) {
            numbered =
                numbered ||
                ((bar.standing == Standing::fail || bar.standing == Standing::marginal_fail) && bar.value);
        }
    }
    double const head = numbered ? 27 : 18;
    double const right = width - 74;
    double const pitch = (right - left) / places;
    double const bar_width = std::min(pitch * 0.56, 26.0);
    double top = 0;
    std::vector<std::string> words;
    for (BarPanel const& panel : chart.panels) {
        Scale const scale{low, high, top + head, top + panel_height - foot};
        scene.add(label({0, top + 11}, panel.label, 11, Token::ink, Anchor::start, Face::bold));
        scene.add(label({left + text_width(panel.label, 11, Face::bold) + 4, top + 11},
                        fmt::format("attenuation, {}", chart.unit), 9.5, Token::quiet));
        draw_grid(scene, scale, left, right, std::max(2.0, panel_height / 32), chart.number);
        // Numbers that would run into each other say nothing: then the highest bar alone keeps its own.
        bool const room = text_width("0.00", 9, Face::bold) + 2 <= pitch;
        Bar const* highest = nullptr;
        for (Bar const& bar : panel.bars) {
            if (bar.value && (!highest || *bar.value > *highest->value)) highest = &bar;
        }
        for (Bar const& bar : panel.bars) {
            double const middle = left + (bar.position - 0.5) * pitch;
            draw_bar(scene, bar, scale, middle, bar_width, chart, panel, room || &bar == highest);
            if (bar.standing == Standing::unused) continue;
            double const y = scale.bottom + 4;
            if (chart.fibre_colours)
                scene.add(Rect{{middle - bar_width / 2, y, bar_width, 3.5},
                               1,
                               fibre_paint(bar.position),
                               stroke(Token::ink, 0.6)});
            scene.add(label({middle, y + 14}, fmt::format("{}", bar.position), std::min(9.0, pitch * 0.6),
                            Token::quiet, Anchor::middle));
        }
        double const y = scale.y(panel.limit);
        scene.add(Line{{left, y}, {right + 4, y}, stroke(Token::ink, 1.6)});
        scene.add(label({right + 8, y + 3.5}, fmt::format("limit {}", written(chart.number, panel.limit, 2)),
                        9.5, Token::ink, Anchor::start, Face::bold));
        auto const worst =
            std::max_element(panel.bars.begin(), panel.bars.end(), [](Bar const& a, Bar const& b) {
                return a.value.value_or(-1e9) < b.value.value_or(-1e9);
            });
        if (worst != panel.bars.end() && worst->value) {
            words.push_back(fmt::format("{}: limit {} {}, highest {} at position {}", panel.label,
                                        written(chart.number, panel.limit, 2), chart.unit,
                                        written(chart.number, *worst->value, 2), worst->position));
        }
        top += panel_height + 8;
    }
    scene.height = std::max(top - 8, 1.0);
    scene.description = chart.description.empty() ? joined(words, "; ") : chart.description;
    return scene;
}

Scene control_drawing(ControlChart const& chart, double width, double height)
{
    Scene scene;
    scene.width = width;
    scene.height = height;
    scene.name = chart.name;
    double low = std::min(chart.lower, chart.centre);
    double high = std::max(chart.upper, chart.centre);
    for (double const value : chart.values) {
        if (!std::isfinite(value)) continue;
        low = std::min(low, value);
        high = std::max(high, value);
    }
    if (high <= low) high = low + 1;
    double const room = (high - low) * 0.1;
    constexpr double left = 44;
    double const right = width - 84;
    Scale const scale{low - room, high + room, 22, height - 24};
    auto const count = static_cast<double>(std::max<std::size_t>(chart.values.size(), 1));
    double const pitch = (right - left) / count;
    auto const x_of = [&](double index) { return left + (index + 0.5) * pitch; };

    scene.add(label({0, 11}, chart.unit, 9.5, Token::quiet));
    if (chart.change_low && chart.change_high) {
        double const x = x_of(*chart.change_low);
        scene.add(
            filled({x, scale.top, std::max(x_of(*chart.change_high) - x, 2.0), scale.bottom - scale.top},
                   Token::tint));
    }
    draw_grid(scene, scale, left, right, std::max(3.0, height / 50), chart.number);
    auto const level = [&](double value, std::string const& word, bool dashed) {
        double const y = scale.y(value);
        scene.add(Line{{left, y}, {right + 4, y}, stroke(Token::ink, dashed ? 1.1 : 1.3, dashed)});
        scene.add(
            label({right + 8, y + 3.5}, fmt::format("{} {}", word, written(chart.number, value, 2)), 9.5));
    };
    level(chart.upper, "upper", true);
    level(chart.centre, "centre", false);
    level(chart.lower, "lower", true);

    std::vector<Point> line;
    for (std::size_t i = 0; i < chart.values.size(); ++i) {
        if (std::isfinite(chart.values[i]))
            line.push_back({x_of(static_cast<double>(i)), scale.y(chart.values[i])});
    }
    if (line.size() > 1) scene.add(polyline(line, stroke(Token::quiet, 0.9)));
    for (std::size_t i = 0; i < chart.values.size(); ++i) {
        double const value = chart.values[i];
        if (!std::isfinite(value)) continue;
        Point const at{x_of(static_cast<double>(i)), scale.y(value)};
        bool const outside = value > chart.upper || value < chart.lower;
        bool const held = i < chart.held.size() && chart.held[i];
        bool const signal = i < chart.signal.size() && chart.signal[i];
        Group point;
        if (i < chart.labels.size()) {
            point.name = fmt::format("{}: {} {}{}{}", chart.labels[i], written(chart.number, value, 3),
                                     chart.unit, outside ? ", outside" : "", held ? ", held" : "");
        }
        double const r = std::clamp(pitch * 0.3, 1.6, 3.4);
        if (outside) {
            // A diamond: outside the limits, without colour too.
            add_to(point, polygon({{at.x, at.y - r * 1.7},
                                   {at.x + r * 1.7, at.y},
                                   {at.x, at.y + r * 1.7},
                                   {at.x - r * 1.7, at.y}},
                                  paint(held ? Token::paper : Token::fail), stroke(Token::fail, 1.4)));
        } else {
            add_to(point, Circle{at, r, paint(held ? Token::paper : Token::pass),
                                 stroke(held ? Token::held : Token::pass, 1.2)});
        }
        if (signal) {
            add_to(point, Line{{at.x, at.y - r - 4}, {at.x, scale.top + 2}, stroke(Token::fail, 1.4)});
            add_to(point, label({at.x, scale.top - 2}, "signal", 9, Token::fail, Anchor::middle, Face::bold));
        }
        scene.add(std::move(point));
    }
    if (chart.change_at) {
        double const x = x_of(*chart.change_at);
        scene.add(Line{{x, scale.top}, {x, scale.bottom}, stroke(Token::accent, 2)});
        bool const at_right = x > (left + right) / 2;
        if (!chart.change_label.empty()) {
            scene.add(label({x + (at_right ? -6 : 6), scale.top + 10}, chart.change_label, 10, Token::accent,
                            at_right ? Anchor::end : Anchor::start, Face::bold));
        }
    }
    if (!chart.labels.empty()) {
        scene.add(label({left, height - 8}, fitted(chart.labels.front(), (right - left) / 2 - 6, 9), 9,
                        Token::quiet));
        if (chart.labels.size() > 1)
            scene.add(label({right, height - 8}, fitted(chart.labels.back(), (right - left) / 2 - 6, 9), 9,
                            Token::quiet, Anchor::end));
    }
    auto const outside = std::count_if(chart.values.begin(), chart.values.end(),
                                       [&](double v) { return v > chart.upper || v < chart.lower; });
    scene.description =
        !chart.description.empty()
            ? chart.description
            : fmt::format("{} values between {} and {} {}; {} outside. {}", chart.values.size(),
                          written(chart.number, chart.lower, 2), written(chart.number, chart.upper, 2),
                          chart.unit, outside, chart.change_label);
    return scene;
}

} // namespace guidepin::drawing
