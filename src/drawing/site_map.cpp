// SPDX-License-Identifier: Apache-2.0
#include "drawing/site_map.hpp"

#include "drawing/shapes.hpp"
#include "drawing/tank.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>

namespace guidepin::drawing {

namespace {

constexpr double cell = 9;
constexpr double line_height = 11;
constexpr double name_size = 8.5;
constexpr double zone_gap = 22;
constexpr double head = 30;

/// What the cells of a zone are painted with: one path for each paint, so that a map of thousands stays
/// small.
struct Cells
{
    std::map<std::pair<Token, bool>, Path> paths; ///< by paint, filled or outlined; ordered, so bytes repeat
    Path hatch;

    Cells() { hatch.stroke = stroke(Token::held, 0.8); }

    /// A cell is a tank seen small: its level rises from the floor of the cell.
    void add(Tank const& tank, Box const& box)
    {
        double const level = liquid_height(tank, box.height);
        switch (tank.standing) {
        case Standing::unused:
            break;
        case Standing::open:
            append_box(paths[{Token::open, false}], {box.x + 1, box.y + 1, box.width - 2, box.height - 2});
            break;
        case Standing::held:
            append_box(paths[{Token::tint, true}], box);
            for (double d = 2.5; d < box.width + level; d += 3.5) {
                double const x0 = std::max(0.0, d - level);
                double const x1 = std::min(d, box.width);
                hatch.steps.push_back(Path::Move{{box.x + x0, box.bottom() - (d - x0)}});
                hatch.steps.push_back(Path::LineTo{{box.x + x1, box.bottom() - (d - x1)}});
            }
            break;
        case Standing::pass:
        case Standing::marginal_pass:
            append_box(paths[{Token::pass_tint, true}], box);
            append_box(paths[{Token::pass, true}], {box.x, box.bottom() - level, box.width, level});
            break;
        case Standing::fail:
        case Standing::marginal_fail:
            append_box(paths[{Token::fail, true}], {box.x - 0.5, box.y - 0.5, box.width + 1, box.height + 1});
            append_box(paths[{Token::paper, true}], {box.x + 1.5, box.y + 2, box.width - 3, 1.6});
            break;
        }
    }

    /// Grounds first, then liquids, then the paper stripes of the caps.
    void move_into(Group& group)
    {
        for (auto const& key :
             {std::pair{Token::tint, true}, std::pair{Token::pass_tint, true}, std::pair{Token::pass, true},
              std::pair{Token::fail, true}, std::pair{Token::paper, true}, std::pair{Token::open, false}}) {
            auto const found = paths.find(key);
            if (found == paths.end()) continue;
            (key.second ? found->second.fill : found->second.stroke.paint) = paint(key.first);
            add_to(group, std::move(found->second));
        }
        if (!hatch.steps.empty()) add_to(group, std::move(hatch));
    }
};

void draw_zone(Scene& scene, SiteZone const& zone, Point at, double names, bool each_cell)
{
    Group group;
    group.name = zone.name;
    add_to(group, label({at.x, at.y + 12}, zone.name, 12, Token::ink, Anchor::start, Face::bold));
    for (int c = 1; c <= zone.columns; ++c) {
        if (c != 1 && c % 4 != 0) continue;
        add_to(group, label({at.x + names + (c - 0.5) * cell, at.y + head - 4}, fmt::format("{}", c), 7.5,
                            Token::quiet, Anchor::middle));
    }
    Cells all;
    std::vector<Rect> bars;
    double y = at.y + head;
    for (SiteLine const& line : zone.lines) {
        if (names > 0) {
            bool const fails = !line.fails.empty();
            add_to(group, label({at.x + names - 5, y + 8}, fitted(line.link, names - 6, name_size), name_size,
                                fails ? Token::fail : Token::quiet, Anchor::end,
                                fails ? Face::bold : Face::regular));
        }
        // A bar through the whole line, as the cap over a tank: the link fails, whatever its levels.
        if (!line.fails.empty())
            bars.push_back(
                {{at.x + names, y + line_height / 2 - 1, static_cast<double>(line.cells.size()) * cell, 2},
                 0,
                 paint(Token::fail),
                 {}});
        for (std::size_t c = 0; c < line.cells.size(); ++c) {
            Tank const& tank = line.cells[c];
            Box const box{at.x + names + static_cast<double>(c) * cell + 0.5, y + 0.5, cell - 1,
                          line_height - 1};
            if (!each_cell) {
                all.add(tank, box);
                continue;
            }
            if (tank.standing == Standing::unused) continue;
            Cells one;
            one.add(tank, box);
            Group named;
            named.name = fmt::format("{}, position {}: {}{}{}", line.link, c + 1, tank.description,
                                     tank.description.empty() ? "" : ", ", word_of(tank.standing));
            if (!line.fails.empty()) named.name += "; the link fails: " + line.fails;
            one.move_into(named);
            add_to(group, std::move(named));
        }
        y += line_height;
    }
    all.move_into(group);
    for (Rect& bar : bars) add_to(group, std::move(bar));
    scene.add(std::move(group));
}

} // namespace

Scene site_drawing(SiteMap const& map, double width)
{
    Scene scene;
    scene.width = width;
    scene.name = map.name;
    double x = 0;
    double y = 0;
    double deepest = 0;
    std::map<Standing, int> counts;
    for (SiteZone const& zone : map.zones) {
        double names = 0;
        for (SiteLine const& line : zone.lines) {
            if (map.labels) names = std::max(names, std::min(text_width(line.link, name_size) + 8, 110.0));
            for (Tank const& tank : line.cells) {
                if (tank.standing != Standing::unused) ++counts[tank.standing];
            }
        }
        double const zone_width =
            std::max(names + zone.columns * cell, text_width(zone.name, 12, Face::bold));
        double const zone_height = head + static_cast<double>(zone.lines.size()) * line_height;
        if (x > 0 && x + zone_width > width) {
            x = 0;
            y = deepest + zone_gap;
        }
        draw_zone(scene, zone, {x, y}, names, map.each_cell);
        deepest = std::max(deepest, y + zone_height);
        x += zone_width + zone_gap;
    }
    scene.height = deepest + 2;
    scene.description = map.description;
    if (scene.description.empty()) {
        for (auto const& [standing, count] : counts)
            scene.description +=
                fmt::format("{}{} {}", scene.description.empty() ? "" : ", ", count, word_of(standing));
    }
    return scene;
}

} // namespace guidepin::drawing
