// SPDX-License-Identifier: Apache-2.0
// Short ways to say a shape, for the drawings of this room.
#pragma once

#include "drawing/font_metrics.hpp"
#include "drawing/scene.hpp"

#include <string>
#include <utility>

namespace guidepin::drawing {

inline Stroke stroke(Token token, double width = 1, bool dashed = false)
{
    return Stroke{paint(token), width, dashed};
}

inline Rect filled(Box box, Token fill, double radius = 0)
{
    return Rect{box, radius, paint(fill), {}};
}
inline Rect outlined(Box box, Stroke line, double radius = 0)
{
    return Rect{box, radius, {}, line};
}

inline Text label(Point at, std::string text, double size, Token token = Token::ink,
                  Anchor anchor = Anchor::start, Face face = Face::regular)
{
    return Text{at, std::move(text), size, face, anchor, paint(token), false};
}

/// A closed box as a piece of a path: many in one path are far shorter than many elements.
inline void append_box(Path& path, Box const& box)
{
    path.steps.push_back(Path::Move{{box.x, box.y}});
    path.steps.push_back(Path::LineTo{{box.right(), box.y}});
    path.steps.push_back(Path::LineTo{{box.right(), box.bottom()}});
    path.steps.push_back(Path::LineTo{{box.x, box.bottom()}});
    path.steps.push_back(Path::Close{});
}

inline Path polygon(std::vector<Point> const& points, Paint fill, Stroke line = {})
{
    Path path;
    path.fill = fill;
    path.stroke = line;
    for (std::size_t i = 0; i < points.size(); ++i) {
        if (i == 0) {
            path.steps.push_back(Path::Move{points[i]});
        } else {
            path.steps.push_back(Path::LineTo{points[i]});
        }
    }
    path.steps.push_back(Path::Close{});
    return path;
}

inline Path polyline(std::vector<Point> const& points, Stroke line)
{
    Path path = polygon(points, {}, line);
    path.steps.pop_back();
    return path;
}

template <class Shape>
void add_to(Group& group, Shape shape)
{
    group.children.push_back(Node{std::move(shape)});
}

} // namespace guidepin::drawing
