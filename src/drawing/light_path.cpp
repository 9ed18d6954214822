// SPDX-License-Identifier: Apache-2.0
#include "drawing/light_path.hpp"

#include "drawing/light_joint.hpp"
#include "drawing/shapes.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <cassert>

#include <fmt/format.h>

namespace guidepin::drawing {

namespace {

constexpr double axis_below_top = 66;
constexpr double box_half = 27;
constexpr double least_jacket = 84;
constexpr double stub = 64; // of a body that goes on from the line above
constexpr double title_size = 12;
constexpr double small = 9.5;
constexpr double line_step = 12;

bool is_instrument(LightBody const& body)
{
    return body.kind == BodyKind::source || body.kind == BodyKind::meter;
}

double natural_jacket(LightBody const& body)
{
    double const words =
        std::max(text_width(body.title, title_size, Face::bold), text_width(body.serial, small, Face::mono));
    return std::clamp(words + 24, least_jacket, is_instrument(body) ? 110.0 : 150.0);
}

double gap_of(LightJoint const& joint)
{
    return joint.kind == JointKind::apart ? 2.2 * light::gap : light::gap;
}

/// A stretch of one body on one line of the drawing.
struct Piece
{
    std::size_t body = 0;
    double jacket = 0;
    bool from_above = false; ///< the body began on the line before
    bool goes_on = false;    ///< the body ends on the line after
};

struct Folded
{
    std::vector<std::vector<Piece>> lines;
};

double end_room(std::optional<LightEnd> const& end)
{
    return end ? length_of(*end) : 0;
}

double width_of(LightPath const& path, std::vector<Piece> const& line)
{
    double width = 0;
    for (std::size_t i = 0; i < line.size(); ++i) {
        Piece const& piece = line[i];
        LightBody const& body = path.bodies[piece.body];
        width += piece.jacket;
        if (!piece.from_above) width += end_room(body.left);
        if (!piece.goes_on) width += end_room(body.right);
        if (i > 0) width += gap_of(path.joints[piece.body - 1]);
    }
    return width;
}

/// Folds in the middle of a body, never in a joint.
Folded folded_at(LightPath const& path, double width)
{
    Folded folded;
    std::vector<Piece> line;
    for (std::size_t b = 0; b < path.bodies.size(); ++b) {
        std::vector<Piece> longer = line;
        longer.push_back({b, least_jacket, false, false});
        bool const folds = line.size() > 1 || (line.size() == 1 && !line[0].from_above &&
                                               !is_instrument(path.bodies[line[0].body]));
        if (width_of(path, longer) > width && folds && !is_instrument(path.bodies[line.back().body])) {
            line.back().goes_on = true;
            Piece const rest{line.back().body, stub, true, false};
            folded.lines.push_back(std::move(line));
            line = {rest, {b, least_jacket, false, false}};
        } else {
            line = std::move(longer);
        }
    }
    folded.lines.push_back(std::move(line));
    return folded;
}

Folded fold(LightPath const& path, double width)
{
    Folded folded = folded_at(path, width);
    // As few lines as possible, then about equally long ones: no meter alone on the last.
    for (double narrower = width - 10; narrower >= width / 2 && folded.lines.size() > 1; narrower -= 10) {
        Folded tried = folded_at(path, narrower);
        if (tried.lines.size() > folded.lines.size()) break;
        folded = std::move(tried);
    }
    // What room is left goes to the bodies: up to what their words ask for, then evenly.
    for (auto& pieces : folded.lines) {
        double const spare = width - width_of(path, pieces);
        if (spare <= 0) continue;
        double asked = 0;
        for (Piece const& piece : pieces) {
            if (!piece.from_above) asked += natural_jacket(path.bodies[piece.body]) - piece.jacket;
        }
        double const share = asked > 0 ? std::min(1.0, spare / asked) : 0;
        double stretchable = 0;
        for (Piece& piece : pieces) {
            if (!piece.from_above)
                piece.jacket += share * (natural_jacket(path.bodies[piece.body]) - piece.jacket);
            stretchable += is_instrument(path.bodies[piece.body]) ? 0 : 1;
        }
        double const rest = width - width_of(path, pieces);
        if (rest > 0 && stretchable > 0) {
            for (Piece& piece : pieces) {
                if (!is_instrument(path.bodies[piece.body]))
                    piece.jacket += std::min(90.0, rest / stretchable);
            }
        }
    }
    return folded;
}

void draw_ray(Scene& scene, double x0, double x1, double axis, bool lit)
{
    if (x1 <= x0) return;
    scene.add(Line{{x0, axis}, {x1, axis}, lit ? stroke(Token::accent, 2) : stroke(Token::faint, 1.2, true)});
}

void draw_arrow(Scene& scene, double x, double axis, bool lit)
{
    scene.add(polygon({{x - 5, axis - 4.5}, {x + 4, axis}, {x - 5, axis + 4.5}},
                      paint(lit ? Token::accent : Token::faint)));
}

/// Title above, serial and detail below; returns the lowest baseline used.
double draw_words(Scene& scene, LightBody const& body, double x0, double x1, double axis, bool inside)
{
    double const middle = (x0 + x1) / 2;
    double const room = x1 - x0 - (inside ? 8 : 22);
    double y = axis - (inside ? 8 : 24);
    // Above the line there is more room: the words of the plugs are below it.
    auto const titles = wrapped(body.title, inside ? room : x1 - x0 - 4, title_size, Face::bold);
    double const first = y - static_cast<double>(titles.size() - 1) * 13;
    for (std::size_t i = 0; i < titles.size(); ++i) {
        scene.add(label({middle, first + static_cast<double>(i) * 13}, titles[i], title_size, Token::ink,
                        Anchor::middle, Face::bold));
    }
    y = axis + (inside ? 17 : 22);
    if (!body.serial.empty()) {
        scene.add(label({middle, y}, fitted(body.serial, room, small, Face::mono), small, Token::ink,
                        Anchor::middle, Face::mono));
        y += line_step;
    }
    if (inside) y = axis + box_half + 13;
    double lowest = y - line_step;
    if (!body.detail.empty()) {
        for (std::string const& text : wrapped(body.detail, room, small)) {
            scene.add(label({middle, y}, text, small, Token::quiet, Anchor::middle));
            lowest = y;
            y += line_step;
        }
    }
    if (body.changed) {
        scene.add(label({middle, y + 1}, "changed", small, Token::accent, Anchor::middle, Face::bold));
        lowest = y + 1;
    }
    return lowest;
}

class LightDrawing
{
  public:
    LightDrawing(LightPath const& path, double width)
        : path_(path)
        , width_(width)
    {
    }

    Scene draw()
    {
        scene_.width = width_;
        scene_.name = path_.name;
        scene_.description = path_.description.empty() ? light_path_in_words(path_) : path_.description;
        double y = 0;
        if (!path_.heading.empty()) {
            scene_.add(label({0, 14}, path_.heading, 15, Token::ink, Anchor::start, Face::bold));
            y = 22;
        }
        Folded const folded = fold(path_, width_ - 2);
        for (auto const& line : folded.lines) y = draw_line(line, y) + 12;
        for (std::string const& change : path_.changes) {
            auto const lines = wrapped(change, width_ - 16, 11);
            scene_.add(filled({0, y + 1, 4, static_cast<double>(lines.size()) * 15 - 3}, Token::accent));
            for (std::string const& text : lines) {
                scene_.add(label({12, y + 11}, text, 11));
                y += 15;
            }
            y += 3;
        }
        scene_.height = y;
        return std::move(scene_);
    }

  private:
    double draw_line(std::vector<Piece> const& line, double top)
    {
        double const axis = top + axis_below_top;
        double lowest = axis + box_half;
        double x = 1;          // half a stroke in from the edge
        double left_front = 0; // of the joint at hand
        for (std::size_t i = 0; i < line.size(); ++i) {
            Piece const& piece = line[i];
            LightBody const& body = path_.bodies[piece.body];
            if (i > 0) {
                LightJoint const& joint = path_.joints[piece.body - 1];
                double const right_front = left_front + gap_of(joint);
                joint_between(piece.body - 1, left_front, right_front, axis, lowest);
                x = right_front;
            }
            if (!piece.from_above && body.left) {
                double const back = x + length_of(*body.left);
                draw_end(scene_, *body.left, {back, axis}, -1);
                end_words(*body.left, x, axis, -1, lowest);
                x = back;
            }
            draw_body(body, piece, x, axis, lowest);
            x += piece.jacket;
            if (!piece.goes_on && body.right) {
                draw_end(scene_, *body.right, {x, axis}, 1);
                end_words(*body.right, x, axis, 1, lowest);
                x += length_of(*body.right);
                left_front = x;
            }
        }
        return lowest + 4;
    }

    void end_words(LightEnd const& end, double edge, double axis, int facing, double& lowest)
    {
        if (end.kind == plant::EndKind::port)
            return; // draw_body names it with its instrument: the plug needs the room
        double const middle = edge + (facing > 0 ? light::housing / 2 : light::nose + light::housing / 2);
        double y = axis + 37;
        for (std::string const& word : words_of(end)) {
            scene_.add(label({middle, y}, word, small, Token::ink, Anchor::middle));
            y += 11;
        }
        if (!end.label.empty()) {
            scene_.add(label({middle, y + 2}, end.label, small, Token::ink, Anchor::middle, Face::bold));
            y += 13;
        }
        if (end.changed) {
            scene_.add(label({middle, y + 2}, "changed", small, Token::accent, Anchor::middle, Face::bold));
            y += 13;
        }
        lowest = std::max(lowest, y - 9);
    }

    void draw_body(LightBody const& body, Piece const& piece, double x, double axis, double& lowest)
    {
        double const x1 = x + piece.jacket;
        if (is_instrument(body)) {
            scene_.add(Rect{{x, axis - box_half, piece.jacket, 2 * box_half},
                            5,
                            paint(Token::tint),
                            stroke(body.changed ? Token::accent : Token::ink, body.changed ? 2.4 : 1.4)});
            LightBody named = body;
            std::optional<LightEnd> const& port = body.right ? body.right : body.left;
            if (port) {
                std::string const words = joined(words_of(*port), ", ");
                named.detail = named.detail.empty() ? "port: " + words : named.detail + "\nport: " + words;
            }
            lowest = std::max(lowest, draw_words(scene_, named, x, x1, axis, true));
            bool const source = body.kind == BodyKind::source;
            draw_ray(scene_, source ? x1 - 20 : x, source ? x1 : x + 20, axis, source || lit_);
            scene_.add(Circle{{source ? x1 - 20 : x + 20, axis},
                              3.4,
                              paint(source || lit_ ? Token::accent : Token::faint),
                              {}});
            return;
        }
        if (body.kind == BodyKind::cord) {
            for (double const side : {-4.0, 4.0}) {
                scene_.add(
                    Line{{x, axis + side}, {x1, axis + side}, stroke(Token::ink, body.changed ? 1.8 : 1.1)});
            }
        } else {
            bool const cabling = body.kind == BodyKind::cabling;
            scene_.add(Rect{{x + 1, axis - 10, piece.jacket - 2, 20},
                            2,
                            paint(Token::pass_tint),
                            stroke(Token::ink, cabling ? 1.6 : 1.1)});
        }
        draw_ray(scene_, x, x1, axis, lit_);
        draw_arrow(scene_, (x + x1) / 2, axis, lit_);
        if (piece.goes_on || piece.from_above) {
            double const edge = piece.goes_on ? x1 : x;
            scene_.add(label({edge + (piece.goes_on ? -2 : 2), axis - 14},
                             piece.goes_on ? "goes on below" : "from above", 8.5, Token::quiet,
                             piece.goes_on ? Anchor::end : Anchor::start));
        }
        if (piece.from_above) return;
        lowest = std::max(lowest, draw_words(scene_, body, x, x1, axis, false));
    }

    void joint_between(std::size_t index, double left_front, double right_front, double axis, double& lowest)
    {
        LightJoint const& joint = path_.joints[index];
        LightEnd const nothing;
        LightEnd const& left = path_.bodies[index].right ? *path_.bodies[index].right : nothing;
        LightEnd const& right = path_.bodies[index + 1].left ? *path_.bodies[index + 1].left : nothing;
        bool const open = joint.kind == JointKind::apart || !joint.fault.empty();
        bool const lit_before = lit_;
        if (open) lit_ = false;
        draw_ray(scene_, left_front, right_front, axis, lit_before && !open);
        draw_joint(scene_, joint, left, right, {left_front, right_front, axis});
        double const middle = (left_front + right_front) / 2;
        double const top = axis - light::half - 20;
        std::string over = joint.kind == JointKind::adapter
                               ? fmt::format("{} keys", plant::name_of(joint.keys))
                           : joint.kind == JointKind::apart ? "not mated"
                                                            : "";
        if (!over.empty()) scene_.add(label({middle, top}, over, small, Token::ink, Anchor::middle));
        double y = top - (over.empty() ? 0 : 12);
        if (!joint.label.empty()) {
            scene_.add(label({middle, y}, joint.label, small, Token::quiet, Anchor::middle));
            y -= 12;
        }
        if (!joint.fault.empty()) {
            for (auto const& words : {joint.fault}) {
                scene_.add(label({middle, y}, words, small + 1, Token::fail, Anchor::middle, Face::bold));
            }
            scene_.add(Line{{middle - 7, axis - 7}, {middle + 7, axis + 7}, stroke(Token::fail, 2.4)});
        } else if (joint.stays) {
            double const from =
                left.kind == plant::EndKind::port ? left_front - 4 : left_front - light::end_length;
            double const to =
                right.kind == plant::EndKind::port ? right_front + 4 : right_front + light::end_length;
            scene_.add(filled({from, axis + light::half + 10, to - from, 3.5}, Token::ink, 1));
            scene_.add(label({middle, y}, "stays shut", small, Token::ink, Anchor::middle, Face::bold));
        } else if (joint.changed) {
            scene_.add(label({middle, y}, "changed", small, Token::accent, Anchor::middle, Face::bold));
            double const x0 = left_front - light::end_length - 2;
            scene_.add(Line{{x0, axis + light::half + 12},
                            {right_front + light::end_length + 2, axis + light::half + 12},
                            stroke(Token::accent, 2.4)});
        }
        lowest = std::max(lowest, axis + light::half + 12);
    }

    LightPath const& path_;
    double width_;
    Scene scene_;
    bool lit_ = true;
};

std::string end_in_words(LightEnd const& end)
{
    return joined(words_of(end), ", ");
}

} // namespace

std::string light_path_in_words(LightPath const& path)
{
    std::vector<std::string> sentences;
    for (std::size_t i = 0; i + 1 < path.bodies.size() && i < path.joints.size(); ++i) {
        LightBody const& a = path.bodies[i];
        LightBody const& b = path.bodies[i + 1];
        LightJoint const& joint = path.joints[i];
        auto const named = [](LightBody const& body) {
            return body.serial.empty() ? body.title : body.title + " " + body.serial;
        };
        std::string how = joint.kind == JointKind::apart  ? "is not mated to"
                          : joint.kind == JointKind::port ? "plugs into"
                                                          : "meets";
        if (joint.kind == JointKind::port && a.right && a.right->kind == plant::EndKind::port) how = "takes";
        std::string text = fmt::format("{} ({}) {} {} ({})", named(a), a.right ? end_in_words(*a.right) : "",
                                       how, named(b), b.left ? end_in_words(*b.left) : "");
        if (joint.kind == JointKind::adapter)
            text += fmt::format(" in an adapter with {} keys", plant::name_of(joint.keys));
        if (joint.stays) text += ", and stays shut";
        if (joint.changed) text += ", changed";
        if (!joint.fault.empty()) text += ": not allowed, " + joint.fault;
        sentences.push_back(text + ".");
    }
    for (std::string const& change : path.changes) sentences.push_back(change);
    return joined(sentences, " ");
}

Scene light_path_drawing(LightPath const& path, double width)
{
    assert(path.bodies.empty() || path.joints.size() + 1 == path.bodies.size());
    return LightDrawing(path, std::max(width, 300.0)).draw();
}

} // namespace guidepin::drawing
