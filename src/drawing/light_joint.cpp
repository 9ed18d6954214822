// SPDX-License-Identifier: Apache-2.0
#include "drawing/light_joint.hpp"

#include "drawing/shapes.hpp"

#include <algorithm>
#include <cmath>

namespace guidepin::drawing {

using namespace light;

double length_of(LightEnd const& end)
{
    return end.kind == plant::EndKind::port ? port_length : end_length;
}

std::vector<std::string> words_of(LightEnd const& end)
{
    if (!end.known) return {"not recorded"};
    std::vector<std::string> words{plant::name_of(end.pins)};
    if (end.pins == plant::Pins::neutral) words.back() = "no pins";
    words.push_back(end.key_up ? "key up" : "key down");
    words.push_back(plant::name_of(end.face));
    if (end.face == plant::Face::angled && end.slope == plant::Slope::up && end.kind == plant::EndKind::plug)
        words.back() = "up-angled"; // not the usual plug: it must not be mistaken for it
    return words;
}

namespace {

constexpr double pin_at = 5.5; // of a pin from the axis
constexpr double pin_out = 11; // how far pins stick out
constexpr double nose_half = 10;

void draw_nose(Scene& scene, LightEnd const& end, double base, double axis, int facing)
{
    double const front = base + facing * nose;
    // An angled face leans away at one side; which side is seen follows the key and the slope.
    double top = front;
    double bottom = front;
    if (end.face == plant::Face::angled) {
        bool const short_at_top = (end.slope == plant::Slope::down) == end.key_up;
        (short_at_top ? top : bottom) -= facing * 6;
    }
    scene.add(polygon({{base, axis - nose_half},
                       {top, axis - nose_half},
                       {bottom, axis + nose_half},
                       {base, axis + nose_half}},
                      paint(Token::paper), stroke(Token::ink, 1.2)));
    auto const front_at = [&](double y) {
        return top + (bottom - top) * (y - (axis - nose_half)) / (2 * nose_half);
    };
    for (double const y : {axis - pin_at, axis + pin_at}) {
        double const edge = front_at(y);
        if (end.pins == plant::Pins::pinned) {
            double const tip = edge + facing * pin_out;
            scene.add(filled({std::min(edge - facing * 4, tip), y - 1.7, pin_out + 4, 3.4}, Token::ink, 1.6));
        } else if (end.pins == plant::Pins::unpinned) {
            double const depth = 7;
            scene.add(Rect{{facing > 0 ? edge - depth : edge, y - 2.2, depth, 4.4},
                           0,
                           paint(Token::paper),
                           stroke(Token::ink, 0.9)});
            // The mouth of the hole is open.
            scene.add(Line{{edge, y - 1.7}, {edge, y + 1.7}, stroke(Token::paper, 1.8)});
        }
    }
}

} // namespace

void draw_end(Scene& scene, LightEnd const& end, Point back, int facing)
{
    double const axis = back.y;
    bool const port = end.kind == plant::EndKind::port;
    double const body = port ? port_length - nose : housing;
    double const base = back.x + facing * body;
    double const left = std::min(back.x, base);
    if (!end.known) {
        // Nothing that could be taken for pins, holes, a key or a face.
        double const front = base + facing * nose;
        scene.add(Rect{{std::min(back.x, front), axis - half, std::abs(front - back.x), 2 * half},
                       3,
                       paint(Token::paper),
                       stroke(Token::quiet, 1.2, true)});
        scene.add(label({(back.x + front) / 2, axis + 4}, "?", 12, Token::quiet, Anchor::middle, Face::bold));
        return;
    }
    if (end.changed) {
        scene.add(Rect{
            {std::min(back.x, base + facing * nose) - 3, axis - half - 9, length_of(end) + 6, 2 * half + 18},
            5,
            {},
            stroke(Token::accent, 2.4)});
    }
    if (!port) {
        scene.add(
            Rect{{left, axis - half, housing, 2 * half}, 3, paint(Token::tint), stroke(Token::ink, 1.4)});
        double const key = end.key_up ? axis - half - 4 : axis + half;
        scene.add(filled({left + housing / 2 - 5, key, 10, 4}, Token::ink, 0.8));
    }
    draw_nose(scene, end, base, axis, facing);
    if (!port && end.face == plant::Face::angled && end.slope == plant::Slope::up) {
        // A double bar at the back of the housing distinguishes the up-angled plug from the usual one.
        for (double const in : {4.0, 8.0}) {
            double const x = back.x + facing * in;
            scene.add(Line{{x, axis - half + 3}, {x, axis + half - 3}, stroke(Token::ink, 1.6)});
        }
    }
}

void draw_joint(Scene& scene, LightJoint const& joint, LightEnd const& left, LightEnd const& right,
                JointPlace const& place)
{
    double const left_front = place.left_front;
    double const right_front = place.right_front;
    double const axis = place.axis;
    bool const faulty = !joint.fault.empty();
    Token const line = faulty ? Token::fail : Token::ink;
    double const high = half + 5;
    auto const slot = [&](double x, bool up) {
        // Where the key goes in: a short bar outside the shell.
        scene.add(filled({x - 5, up ? axis - high - 3.5 : axis + high, 10, 3.5}, line, 0.8));
    };
    if (joint.kind == JointKind::adapter) {
        double const x0 = left_front - nose - 7;
        double const x1 = right_front + nose + 7;
        for (double const y : {axis - high, axis + high}) scene.add(Line{{x0, y}, {x1, y}, stroke(line, 2)});
        double const middle = (x0 + x1) / 2;
        for (double const side : {-1.0, 1.0}) {
            scene.add(
                Line{{middle, axis + side * high}, {middle, axis + side * (high + 6)}, stroke(line, 2)});
        }
        slot(x0 + 7, left.key_up);
        slot(x1 - 7, right.key_up);
    } else if (joint.kind == JointKind::port) {
        bool const port_at_left = left.kind == plant::EndKind::port;
        double const base = port_at_left ? left_front - port_length : right_front + port_length;
        double const mouth = port_at_left ? right_front + nose + 5 : left_front - nose - 5;
        for (double const y : {axis - high, axis + high})
            scene.add(Line{{base, y}, {mouth, y}, stroke(line, 2)});
        slot(mouth + (port_at_left ? -7 : 7), port_at_left ? right.key_up : left.key_up);
    }
}

} // namespace guidepin::drawing
