// SPDX-License-Identifier: Apache-2.0
#include "drawing/polarity_map.hpp"

#include "drawing/shapes.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::drawing {

namespace {

constexpr double label_size = 10.5;
constexpr double dot = 4.2;

struct Place
{
    double x = 0;
    double y = 0;
};

class PanelDrawing
{
  public:
    PanelDrawing(PolarityMap const& map, PolarityPanel const& panel, Box const& box)
        : map_(map)
        , panel_(panel)
        , box_(box)
    {
        labels_ =
            std::max(text_width(map.near_label, label_size), text_width(map.far_label, label_size)) + 12;
        pitch_ = (box.width - labels_ - 12) / map.columns;
        number_ = std::clamp(pitch_ * 0.42, 7.0, 9.5);
        row_step_ = dot * 2 + number_ + 8;
    }

    static double height(int rows) { return 22 + 104 + (rows - 1) * 2 * 26.0; }

    void draw(Scene& scene)
    {
        scene.add(label({box_.x, box_.y + 11}, panel_.title, 11.5, Token::ink, Anchor::start, Face::bold));
        // What agrees lies below what differs.
        for (bool const differs : {false, true}) {
            for (Thread const& thread : panel_.threads) {
                if (thread.differs == differs) draw_thread(scene, thread);
            }
        }
        scene.add(label({box_.x, near(1).y + 4}, map_.near_label, label_size, Token::quiet));
        scene.add(label({box_.x, far(1).y + 4}, map_.far_label, label_size, Token::quiet));
        for (Thread const& thread : panel_.threads) {
            draw_place(scene, near(thread.near), thread.near, thread.fibre, thread.differs, -1);
            if (thread.far) draw_place(scene, far(*thread.far), *thread.far, thread.fibre, thread.differs, 1);
        }
        draw_dark_places(scene);
    }

  private:
    Place near(int position) const
    {
        int const row = (position - 1) / map_.columns;
        int const column = (position - 1) % map_.columns;
        return {column_x(row, column), box_.y + 22 + number_ + 6 + row * row_step_};
    }
    Place far(int position) const
    {
        int const row = (position - 1) / map_.columns;
        int const column = (position - 1) % map_.columns;
        return {column_x(row, column), box_.bottom() - number_ - 8 - (map_.rows - 1 - row) * row_step_};
    }
    /// The second row is half a step aside: its threads and numbers then miss those of the first.
    double column_x(int row, int column) const
    {
        return box_.x + labels_ + pitch_ * (column + 0.5 + (map_.rows > 1 ? row * 0.5 - 0.25 : 0));
    }

    void draw_thread(Scene& scene, Thread const& thread) const
    {
        Place const a = near(thread.near);
        double const from = a.y + dot + 1;
        if (!thread.far) {
            double const stop = from + 20;
            scene.add(Line{{a.x, from}, {a.x, stop}, Stroke{fibre_paint(thread.fibre), 3, false}});
            scene.add(Line{{a.x - 6, stop + 2}, {a.x + 6, stop + 2}, stroke(Token::fail, 2.4)});
            scene.add(label({a.x, stop + 14}, "dark", 9, Token::fail, Anchor::middle, Face::bold));
            return;
        }
        Place const b = far(*thread.far);
        double const to = b.y - dot - 1;
        // Each thread bends at its own height, so that a full reversal does not become a knot.
        double const along = map_.columns > 1
                                 ? static_cast<double>((thread.near - 1) % map_.columns) / (map_.columns - 1)
                                 : 0.5;
        double const first = (to - from) * (0.2 + 0.5 * along);
        double const last = (to - from) * (0.7 - 0.5 * along);
        Path path;
        path.steps = {Path::Move{{a.x, from}},
                      Path::CurveTo{{a.x, from + first}, {b.x, to - last}, {b.x, to}}};
        // An edge in ink keeps white and yellow visible, and says which threads differ without colour.
        path.stroke = stroke(Token::ink, thread.differs ? 5.2 : 2.6);
        scene.add(path);
        path.stroke = Stroke{fibre_paint(thread.fibre), thread.differs ? 3.4 : 1.6, false};
        scene.add(std::move(path));
    }

    void draw_place(Scene& scene, Place at, int position, int fibre, bool differs, int side) const
    {
        scene.add(Circle{{at.x, at.y}, dot, fibre_paint(fibre), stroke(Token::ink, 0.9)});
        if (differs) scene.add(Circle{{at.x, at.y}, dot + 2.6, {}, stroke(Token::fail, 1.8)});
        double const y = side < 0 ? at.y - dot - 4.5 : at.y + dot + number_ + 3;
        scene.add(label({at.x, y}, fmt::format("{}", position), number_, differs ? Token::fail : Token::quiet,
                        Anchor::middle, differs ? Face::bold : Face::regular));
    }

    /// Far places that should be lit and are not: those that another panel lights.
    void draw_dark_places(Scene& scene) const
    {
        std::vector<int> lit;
        for (Thread const& thread : panel_.threads) {
            if (thread.far) lit.push_back(*thread.far);
        }
        for (PolarityPanel const& other : map_.panels) {
            for (Thread const& thread : other.threads) {
                if (!thread.far || std::find(lit.begin(), lit.end(), *thread.far) != lit.end()) continue;
                lit.push_back(*thread.far);
                Place const at = far(*thread.far);
                scene.add(Circle{{at.x, at.y}, dot, {}, stroke(Token::open, 1, true)});
                scene.add(label({at.x, at.y + dot + number_ + 3}, fmt::format("{}", *thread.far), number_,
                                Token::quiet, Anchor::middle));
            }
        }
    }

    PolarityMap const& map_;
    PolarityPanel const& panel_;
    Box box_;
    double labels_ = 0;
    double pitch_ = 0;
    double number_ = 0;
    double row_step_ = 0;
};

std::string in_words(PolarityMap const& map)
{
    std::string text;
    for (PolarityPanel const& panel : map.panels) {
        text += panel.title + ": ";
        for (std::size_t i = 0; i < panel.threads.size(); ++i) {
            Thread const& thread = panel.threads[i];
            text += fmt::format("{}{} to {}{}", i > 0 ? ", " : "", thread.near,
                                thread.far ? fmt::format("{}", *thread.far) : "dark",
                                thread.differs ? " (differs)" : "");
        }
        text += ". ";
    }
    return text + map.difference;
}

} // namespace

Scene polarity_drawing(PolarityMap const& map, double width)
{
    Scene scene;
    scene.width = width;
    scene.name = map.name;
    scene.description = map.description.empty() ? in_words(map) : map.description;
    auto const count = static_cast<double>(std::max<std::size_t>(map.panels.size(), 1));
    double const least = map.columns * 15.0 + 60;
    bool const beside = width >= count * least + (count - 1) * 24;
    double const panel_width = beside ? (width - (count - 1) * 24) / count : width;
    double const height = PanelDrawing::height(map.rows);
    double y = 0;
    for (std::size_t i = 0; i < map.panels.size(); ++i) {
        auto const number = static_cast<double>(i);
        PanelDrawing(map, map.panels[i],
                     {beside ? number * (panel_width + 24) : 0, beside ? 0 : number * (height + 14),
                      panel_width, height})
            .draw(scene);
    }
    y = beside ? height : count * height + (count - 1) * 14;
    if (!map.difference.empty()) {
        y += 8;
        for (std::string const& line : wrapped(map.difference, width - 12, 11, Face::bold)) {
            y += 14;
            scene.add(label({12, y}, line, 11, Token::ink, Anchor::start, Face::bold));
        }
        scene.add(filled({0, height > y ? y : y - 10, 4, 12}, Token::fail));
    }
    scene.height = y + 4;
    return scene;
}

} // namespace guidepin::drawing
