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

struct BarPlace
{
    double middle = 0;
    double width = 0;
    bool numbered = false; ///< if it fails
};

bool fails(Bar const& bar)
{
    return bar.standing == Standing::fail || bar.standing == Standing::marginal_fail;
}

void draw_bar(Scene& scene, BarChart const& chart, BarPanel const& panel, Bar const& bar, Scale const& scale,
              BarPlace const& place)
{
    auto const [middle, width, numbered] = place;
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
    if (bar.value) {
        double const top = std::min(scale.y(*bar.value), zero);
        double const height = std::max(std::fabs(scale.y(*bar.value) - zero), 0.8);
        if (bar.standing == Standing::held) {
            add_to(group, Rect{{x, top, width, height}, 0, paint(Token::paper), stroke(Token::held, 1)});
            add_to(group, Hatch{{x, top, width, height}, 4, stroke(Token::held, 1)});
        } else {
            add_to(group, filled({x, top, width, height}, fails(bar) ? Token::fail : Token::pass));
        }
        if (fails(bar)) {
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

/// Returns the range that all panels share.
Scale scale_of(BarChart const& chart)
{
    double high = 0;
    double low = 0;
    double limit = 0;
    for (BarPanel const& panel : chart.panels) {
        limit = std::max(limit, panel.limit);
        high = std::max(high, panel.limit * 1.12);
        for (Bar const& bar : panel.bars) {
            for (auto const& value : {bar.value, bar.high, bar.band_high})
                high = std::max(high, value.value_or(0));
            low = std::min(low, bar.value.value_or(0));
        }
    }
    // One reading far out (no light, a broken fibre) must not flatten the others.
    if (limit > 0) high = std::min(high, limit * 2.5);
    if (high <= low) high = low + 1;
    high += (high - low) * 0.06;
    return {low, high, 0, 0};
}

template <class Test>
bool any_bar(BarChart const& chart, Test const& test)
{
    return std::any_of(chart.panels.begin(), chart.panels.end(), [&](BarPanel const& panel) {
        return std::any_of(panel.bars.begin(), panel.bars.end(), test);
    });
}

class BarDrawing
{
  public:
    BarDrawing(Scene& scene, BarChart const& chart, double panel_height)
        : scene_(scene)
        , chart_(chart)
        , panel_height_(panel_height)
        , range_(scale_of(chart))
    {
        int places = 1;
        for (BarPanel const& panel : chart.panels) {
            for (Bar const& bar : panel.bars) places = std::max(places, bar.position);
        }
        // Numbers are above the bars that fail, and must not meet the panel's title.
        head_ = any_bar(chart, [](Bar const& bar) { return fails(bar) && bar.value; }) ? 27 : 18;
        right_ = scene.width - 74;
        pitch_ = (right_ - left) / places;
        bar_width_ = std::min(pitch_ * 0.56, 26.0);
    }

    void draw(BarPanel const& panel, double top)
    {
        Scale const scale{range_.low, range_.high, top + head_, top + panel_height_ - foot};
        scene_.add(label({0, top + 11}, panel.label, 11, Token::ink, Anchor::start, Face::bold));
        scene_.add(label({left + text_width(panel.label, 11, Face::bold) + 4, top + 11},
                         fmt::format("attenuation, {}", chart_.unit), 9.5, Token::quiet));
        draw_grid(scene_, scale, left, right_, std::max(2.0, panel_height_ / 32), chart_.number);
        draw_bars(panel, scale);
        double const y = scale.y(panel.limit);
        scene_.add(Line{{left, y}, {right_ + 4, y}, stroke(Token::ink, 1.6)});
        scene_.add(label({right_ + 8, y + 3.5},
                         fmt::format("limit {}", written(chart_.number, panel.limit, 2)), 9.5, Token::ink,
                         Anchor::start, Face::bold));
    }

  private:
    static constexpr double left = 40;
    static constexpr double foot = 20;

    void draw_bars(BarPanel const& panel, Scale const& scale)
    {
        // Numbers that would run into each other say nothing: then the highest bar alone keeps its own.
        bool const room = text_width("0.00", 9, Face::bold) + 2 <= pitch_;
        Bar const* highest = nullptr;
        for (Bar const& bar : panel.bars) {
            if (bar.value && (!highest || *bar.value > *highest->value)) highest = &bar;
        }
        for (Bar const& bar : panel.bars) {
            double const middle = left + (bar.position - 0.5) * pitch_;
            draw_bar(scene_, chart_, panel, bar, scale, {middle, bar_width_, room || &bar == highest});
            if (bar.standing == Standing::unused) continue;
            double const y = scale.bottom + 4;
            if (chart_.fibre_colours)
                scene_.add(Rect{{middle - bar_width_ / 2, y, bar_width_, 3.5},
                                1,
                                fibre_paint(bar.position),
                                stroke(Token::ink, 0.6)});
            scene_.add(label({middle, y + 14}, fmt::format("{}", bar.position), std::min(9.0, pitch_ * 0.6),
                             Token::quiet, Anchor::middle));
        }
    }

    Scene& scene_;
    BarChart const& chart_;
    double panel_height_;
    Scale range_;
    double head_ = 0, right_ = 0, pitch_ = 0, bar_width_ = 0;
};

/// Returns "850 nm: limit 1.20 dB, highest 0.90 at position 3"; empty if nothing was measured.
std::string panel_in_words(BarChart const& chart, BarPanel const& panel)
{
    auto const worst = std::max_element(panel.bars.begin(), panel.bars.end(), [](Bar const& a, Bar const& b) {
        return a.value.value_or(-1e9) < b.value.value_or(-1e9);
    });
    if (worst == panel.bars.end() || !worst->value) return {};
    return fmt::format("{}: limit {} {}, highest {} at position {}", panel.label,
                       written(chart.number, panel.limit, 2), chart.unit,
                       written(chart.number, *worst->value, 2), worst->position);
}

/// Returns the range of the values and limits, with some room.
Scale scale_of(ControlChart const& chart, double top, double bottom)
{
    double low = std::min(chart.lower, chart.centre);
    double high = std::max(chart.upper, chart.centre);
    for (double const value : chart.values) {
        if (!std::isfinite(value)) continue;
        low = std::min(low, value);
        high = std::max(high, value);
    }
    if (high <= low) high = low + 1;
    double const room = (high - low) * 0.1;
    return {low - room, high + room, top, bottom};
}

class ControlDrawing
{
  public:
    ControlDrawing(Scene& scene, ControlChart const& chart)
        : scene_(scene)
        , chart_(chart)
        , scale_(scale_of(chart, 22, scene.height - 24))
        , right_(scene.width - 84)
        , pitch_((right_ - left) / static_cast<double>(std::max<std::size_t>(chart.values.size(), 1)))
    {
    }

    void draw()
    {
        scene_.add(label({0, 11}, chart_.unit, 9.5, Token::quiet));
        draw_interval_of_change();
        draw_grid(scene_, scale_, left, right_, std::max(3.0, scene_.height / 50), chart_.number);
        draw_level(chart_.upper, "upper", true);
        draw_level(chart_.centre, "centre", false);
        draw_level(chart_.lower, "lower", true);
        draw_line();
        for (std::size_t i = 0; i < chart_.values.size(); ++i) {
            if (std::isfinite(chart_.values[i])) draw_value(i);
        }
        draw_change();
        draw_ends();
    }

  private:
    static constexpr double left = 44;

    double x_of(double index) const { return left + (index + 0.5) * pitch_; }
    Point at(std::size_t i) const { return {x_of(static_cast<double>(i)), scale_.y(chart_.values[i])}; }

    void draw_interval_of_change()
    {
        if (!chart_.change_low || !chart_.change_high) return;
        double const x = x_of(*chart_.change_low);
        scene_.add(
            filled({x, scale_.top, std::max(x_of(*chart_.change_high) - x, 2.0), scale_.bottom - scale_.top},
                   Token::tint));
    }

    void draw_level(double value, std::string const& word, bool dashed)
    {
        double const y = scale_.y(value);
        scene_.add(Line{{left, y}, {right_ + 4, y}, stroke(Token::ink, dashed ? 1.1 : 1.3, dashed)});
        scene_.add(
            label({right_ + 8, y + 3.5}, fmt::format("{} {}", word, written(chart_.number, value, 2)), 9.5));
    }

    void draw_line()
    {
        std::vector<Point> line;
        for (std::size_t i = 0; i < chart_.values.size(); ++i) {
            if (std::isfinite(chart_.values[i])) line.push_back(at(i));
        }
        if (line.size() > 1) scene_.add(polyline(line, stroke(Token::quiet, 0.9)));
    }

    void draw_value(std::size_t i)
    {
        double const value = chart_.values[i];
        Point const place = at(i);
        bool const outside = value > chart_.upper || value < chart_.lower;
        bool const held = i < chart_.held.size() && chart_.held[i];
        bool const signal = i < chart_.signal.size() && chart_.signal[i];
        Group point;
        if (i < chart_.labels.size()) {
            point.name = fmt::format("{}: {} {}{}{}", chart_.labels[i], written(chart_.number, value, 3),
                                     chart_.unit, outside ? ", outside" : "", held ? ", held" : "");
        }
        double const r = std::clamp(pitch_ * 0.3, 1.6, 3.4);
        if (outside) {
            // A diamond: outside the limits, without colour too.
            add_to(point, polygon({{place.x, place.y - r * 1.7},
                                   {place.x + r * 1.7, place.y},
                                   {place.x, place.y + r * 1.7},
                                   {place.x - r * 1.7, place.y}},
                                  paint(held ? Token::paper : Token::fail), stroke(Token::fail, 1.4)));
        } else {
            add_to(point, Circle{place, r, paint(held ? Token::paper : Token::pass),
                                 stroke(held ? Token::held : Token::pass, 1.2)});
        }
        if (signal) {
            add_to(point,
                   Line{{place.x, place.y - r - 4}, {place.x, scale_.top + 2}, stroke(Token::fail, 1.4)});
            add_to(point,
                   label({place.x, scale_.top - 2}, "signal", 9, Token::fail, Anchor::middle, Face::bold));
        }
        scene_.add(std::move(point));
    }

    void draw_change()
    {
        if (!chart_.change_at) return;
        double const x = x_of(*chart_.change_at);
        scene_.add(Line{{x, scale_.top}, {x, scale_.bottom}, stroke(Token::accent, 2)});
        if (chart_.change_label.empty()) return;
        bool const at_right = x > (left + right_) / 2;
        scene_.add(label({x + (at_right ? -6 : 6), scale_.top + 10}, chart_.change_label, 10, Token::accent,
                         at_right ? Anchor::end : Anchor::start, Face::bold));
    }

    /// Names the first and the last value below the chart.
    void draw_ends()
    {
        if (chart_.labels.empty()) return;
        double const y = scene_.height - 8;
        double const room = (right_ - left) / 2 - 6;
        scene_.add(label({left, y}, fitted(chart_.labels.front(), room, 9), 9, Token::quiet));
        if (chart_.labels.size() > 1)
            scene_.add(
                label({right_, y}, fitted(chart_.labels.back(), room, 9), 9, Token::quiet, Anchor::end));
    }

    Scene& scene_;
    ControlChart const& chart_;
    Scale scale_;
    double right_;
    double pitch_;
};

std::string chart_in_words(ControlChart const& chart)
{
    auto const outside = std::count_if(chart.values.begin(), chart.values.end(),
                                       [&](double v) { return v > chart.upper || v < chart.lower; });
    return fmt::format("{} values between {} and {} {}; {} outside. {}", chart.values.size(),
                       written(chart.number, chart.lower, 2), written(chart.number, chart.upper, 2),
                       chart.unit, outside, chart.change_label);
}

} // namespace

Scene bar_drawing(BarChart const& chart, double width, double panel_height)
{
    Scene scene;
    scene.width = width;
    scene.name = chart.name;
    BarDrawing drawing(scene, chart, panel_height);
    double top = 0;
    std::vector<std::string> words;
    for (BarPanel const& panel : chart.panels) {
        drawing.draw(panel, top);
        if (std::string text = panel_in_words(chart, panel); !text.empty()) words.push_back(std::move(text));
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
    ControlDrawing(scene, chart).draw();
    scene.description = chart.description.empty() ? chart_in_words(chart) : chart.description;
    return scene;
}

} // namespace guidepin::drawing
