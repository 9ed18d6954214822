// SPDX-License-Identifier: Apache-2.0
#include "drawing/row.hpp"

#include "drawing/shapes.hpp"
#include "drawing/tank.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>

namespace guidepin::drawing {

char const* word_of(Standing standing)
{
    switch (standing) {
    case Standing::pass:
        return "pass";
    case Standing::marginal_pass:
        return "marginal pass";
    case Standing::marginal_fail:
        return "marginal fail";
    case Standing::fail:
        return "fail";
    case Standing::held:
        return "held";
    case Standing::open:
        return "open";
    case Standing::unused:
        return "unused";
    }
    return "";
}

namespace {

/// Measures of one size. All of it is a multiple of the same step, so that the sizes are alike.
struct Measures
{
    double vessel, gap, height, spill, pin, margin, number, label;
};

Measures measures_of(RowSize size)
{
    if (size == RowSize::large) return {22, 9, 56, 12, 7, 9, 9.5, 11};
    return {17, 7, 40, 10, 5.5, 8, 9, 11};
}

constexpr double fibre_bar = 4;
constexpr double layer_gap = 10;

struct Layout
{
    Row const& row;
    Measures m;
    double label_width = 0;

    double pitch() const { return m.vessel + m.gap; }
    double pin_room() const { return 2 * m.pin + m.gap + 4; }
    double body_width() const { return row.columns * pitch() + m.gap + 2 * pin_room(); }
    double under() const { return (row.fibre_colours ? fibre_bar + 3 : 0) + m.number + 4; }
    double line_height() const { return m.spill + m.height + under(); }
    double body_height() const { return row.rows * line_height() + 2 * m.margin - 4; }
    double layer_width() const { return label_width + body_width(); }
};

void draw_pins(Scene& scene, Layout const& layout, Point at)
{
    double const y = at.y + layout.body_height() / 2;
    double const inset = layout.m.gap / 2 + 3 + layout.m.pin;
    for (double const x : {at.x + inset, at.x + layout.body_width() - inset}) {
        scene.add(Circle{{x, y}, layout.m.pin, paint(Token::ink), {}});
        scene.add(Circle{{x, y}, layout.m.pin * 0.42, paint(Token::paper), {}});
    }
}

void draw_layer(Scene& scene, Layout const& layout, RowLayer const& layer, Point at)
{
    Row const& row = layout.row;
    Measures const& m = layout.m;
    scene.add(Rect{{at.x + 0.5, at.y + 0.5, layout.body_width() - 1, layout.body_height() - 1},
                   7,
                   paint(Token::tint),
                   stroke(Token::faint)});
    draw_pins(scene, layout, at);
    for (int r = 0; r < row.rows; ++r) {
        for (int c = 0; c < row.columns; ++c) {
            auto const index = static_cast<std::size_t>(r * row.columns + c);
            if (index >= layer.tanks.size()) continue;
            Tank const& tank = layer.tanks[index];
            double const x = at.x + layout.pin_room() + m.gap + c * layout.pitch();
            double const top = at.y + m.margin + r * layout.line_height() + m.spill - 2;
            Group group;
            group.name = fmt::format("Position {}: {}{}{}", index + 1, tank.description,
                                     tank.description.empty() ? "" : ", ", word_of(tank.standing));
            if (tank.standing != Standing::unused) {
                group.children = tank_shapes(tank, {x, top, m.vessel, m.height}, m.spill);
                double y = top + m.height + 3;
                if (row.fibre_colours) {
                    add_to(group, Rect{{x, y + 1.5, m.vessel, fibre_bar},
                                       1,
                                       fibre_paint(static_cast<int>(index) + 1),
                                       stroke(Token::ink, 0.6)});
                    y += fibre_bar + 3;
                }
                bool const stands_out = has_cap(tank.standing);
                add_to(group, label({x + m.vessel / 2, y + m.number}, fmt::format("{}", index + 1), m.number,
                                    stands_out ? Token::fail : Token::quiet, Anchor::middle,
                                    stands_out ? Face::bold : Face::regular));
            }
            scene.add(std::move(group));
        }
    }
}

/// Draws one line of a layer with few bytes: columns on a base line under a common brim, which begins at
/// `at`.
void draw_compact_line(Scene& scene, Row const& row, RowLayer const& layer, int line, Point at, double height)
{
    double const x0 = at.x;
    double const brim = at.y;
    constexpr double width = 6;
    constexpr double pitch = 8;
    std::map<std::pair<Token, bool>, Path> paths; // by paint, solid or outlined: ordered, so bytes repeat
    Path held;
    held.stroke = stroke(Token::held, 1);
    double const floor = brim + height;
    for (int c = 0; c < row.columns; ++c) {
        auto const index = static_cast<std::size_t>(line * row.columns + c);
        if (index >= layer.tanks.size()) break;
        Tank const& tank = layer.tanks[index];
        double const x = x0 + c * pitch;
        double const level = liquid_height(tank, height);
        switch (tank.standing) {
        case Standing::unused:
            break;
        case Standing::open:
            append_box(paths[{Token::open, false}], {x + 0.5, brim + 0.5, width - 1, height - 1});
            break;
        case Standing::held:
            append_box(paths[{Token::held, false}], {x + 0.5, brim + 0.5, width - 1, height - 1});
            for (double y = floor - 1; y > brim + 3; y -= 3) {
                held.steps.push_back(Path::Move{{x, y}});
                held.steps.push_back(Path::LineTo{{x + width, y - 2.5}});
            }
            break;
        case Standing::pass:
        case Standing::marginal_pass:
            append_box(paths[{Token::pass, true}],
                       {x, floor - std::max(level, 1.0), width, std::max(level, 1.0)});
            if (tank.standing == Standing::marginal_pass)
                append_box(paths[{Token::paper, true}], {x, floor - level + 1, width, 1});
            break;
        case Standing::fail:
        case Standing::marginal_fail: {
            bool const solid = tank.standing == Standing::fail;
            append_box(paths[{Token::fail, true}], {x, brim, width, height});
            append_box(paths[{Token::fail, solid}], {x - 1, brim - 4, width + 2, 3});
            break;
        }
        }
    }
    scene.add(Line{{x0 - 2, brim}, {x0 + row.columns * pitch, brim}, stroke(Token::faint)});
    scene.add(Line{{x0 - 2, floor}, {x0 + row.columns * pitch, floor}, stroke(Token::quiet)});
    for (auto& [key, path] : paths) {
        (key.second ? path.fill : path.stroke.paint) = paint(key.first);
        scene.add(std::move(path));
    }
    if (!held.steps.empty()) scene.add(std::move(held));
}

Scene compact(Row const& row)
{
    Scene scene;
    constexpr double pin = 2.5;
    double const height = row.layers.size() * static_cast<std::size_t>(row.rows) > 1 ? 9 : 13;
    double const line_height = height + 6;
    auto const lines = static_cast<double>(row.layers.size() * static_cast<std::size_t>(row.rows));
    double const width = row.columns * 8 + 4 * pin + 8;
    bool const beside = row.arrangement == Layers::side_by_side;
    auto const layers = static_cast<double>(row.layers.size());
    scene.width = beside ? width * layers + 6 * (layers - 1) : width;
    scene.height = (beside ? row.rows : lines) * line_height + 1;
    for (std::size_t i = 0; i < row.layers.size(); ++i) {
        double const x = beside ? static_cast<double>(i) * (width + 6) : 0;
        double const y = beside ? 0 : static_cast<double>(i) * row.rows * line_height;
        for (int line = 0; line < row.rows; ++line) {
            draw_compact_line(scene, row, row.layers[i], line, {x + 2 * pin + 5, y + line * line_height + 5},
                              height);
        }
        double const middle = y + row.rows * line_height / 2 + 2;
        for (double const px : {x + pin, x + width - pin})
            scene.add(Circle{{px, middle}, pin, paint(Token::ink), {}});
    }
    return scene;
}

} // namespace

std::string row_in_words(Row const& row)
{
    std::vector<std::string> parts;
    for (RowLayer const& layer : row.layers) {
        std::map<Standing, int> counts;
        std::optional<std::size_t> worst;
        for (std::size_t i = 0; i < layer.tanks.size(); ++i) {
            Tank const& tank = layer.tanks[i];
            if (tank.standing != Standing::unused) ++counts[tank.standing];
            if (tank.level && (!worst || *tank.level > *layer.tanks[*worst].level)) worst = i;
        }
        std::vector<std::string> words;
        for (auto const& [standing, count] : counts)
            words.push_back(fmt::format("{} {}", count, word_of(standing)));
        if (worst) {
            Tank const& tank = layer.tanks[*worst];
            words.push_back(fmt::format(
                "worst at position {}: {}", *worst + 1,
                tank.description.empty() ? fmt::format("{} % of the limit", fixed_text(*tank.level * 100, 0))
                                         : tank.description));
        }
        parts.push_back((layer.label.empty() ? "" : layer.label + ": ") + joined(words, ", "));
    }
    return joined(parts, "; ");
}

Scene row_drawing(Row const& row, RowSize size)
{
    Scene scene;
    if (size == RowSize::compact) {
        scene = compact(row);
    } else {
        Layout layout{row, measures_of(size)};
        for (RowLayer const& layer : row.layers) {
            double const width =
                layer.label.empty() ? 0 : text_width(layer.label, layout.m.label, Face::bold) + 10;
            layout.label_width = std::max(layout.label_width, width);
        }
        bool const beside = row.arrangement == Layers::side_by_side;
        auto const layers = static_cast<double>(std::max<std::size_t>(row.layers.size(), 1));
        scene.width =
            beside ? layers * layout.layer_width() + (layers - 1) * layer_gap : layout.layer_width();
        scene.height =
            beside ? layout.body_height() : layers * layout.body_height() + (layers - 1) * layer_gap;
        for (std::size_t i = 0; i < row.layers.size(); ++i) {
            auto const number = static_cast<double>(i);
            Point const at{beside ? number * (layout.layer_width() + layer_gap) : 0,
                           beside ? 0 : number * (layout.body_height() + layer_gap)};
            if (!row.layers[i].label.empty()) {
                scene.add(label({at.x, at.y + layout.body_height() / 2 + 4}, row.layers[i].label,
                                layout.m.label, Token::ink, Anchor::start, Face::bold));
            }
            draw_layer(scene, layout, row.layers[i], {at.x + layout.label_width, at.y});
        }
    }
    scene.name = row.name;
    scene.description = row.description.empty() ? row_in_words(row) : row.description;
    return scene;
}

Scene sign_drawing(Standing standing, double size)
{
    Scene scene;
    scene.width = scene.height = size;
    scene.name = word_of(standing);
    if (standing == Standing::unused) return scene;
    double const spill = size * 0.26;
    Tank tank{standing, {}, {}};
    if (standing == Standing::pass) tank.level = 0.55;
    if (standing == Standing::marginal_pass) tank.level = 0.95;
    scene.nodes =
        tank_shapes(tank, {size * 0.22, spill + size * 0.04, size * 0.56, size * 0.92 - spill}, spill);
    return scene;
}

Scene mark_drawing(double width)
{
    Scene scene;
    double const unit = width / 64; // twelve columns at a pitch of 4, a pin of 3.2 at either end
    scene.width = width;
    scene.height = width / 4;
    scene.name = "Guidepin";
    scene.add(Circle{{5 * unit, 8 * unit}, 3.2 * unit, paint(Token::ink), {}});
    scene.add(Circle{{59 * unit, 8 * unit}, 3.2 * unit, paint(Token::ink), {}});
    constexpr double levels[] = {5, 6.5, 4.5, 7, 5.5, 8, 6, 7.5, 5, 6.5, 4, 5.5};
    Path level;
    level.fill = paint(Token::accent);
    for (int i = 0; i < 12; ++i)
        append_box(level, {(10.6 + i * 3.6) * unit, (13 - levels[i]) * unit, 2.4 * unit, levels[i] * unit});
    scene.add(std::move(level));
    scene.add(Line{{10 * unit, 3 * unit}, {54 * unit, 3 * unit}, stroke(Token::ink, unit * 0.8)});
    return scene;
}

} // namespace guidepin::drawing
