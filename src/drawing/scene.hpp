// SPDX-License-Identifier: Apache-2.0
// A drawing as a tree of shapes. The same tree becomes SVG on a screen and ink on paper (svg.hpp,
// canvas.hpp). Coordinates grow to the right and down; one unit is a CSS pixel on screen and is scaled freely
// on paper. Method and motifs: docs/methods/drawing.md.
//
// Verified by: tests/unit/drawing/svg.cpp (strict XML reader, odd text), tests/golden/drawing.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace guidepin::drawing {

/// What a paint means. Each theme says how it looks (theme.hpp); a drawing never names a colour.
enum class Token : std::uint8_t {
    none,
    ink,       ///< text and outlines
    quiet,     ///< secondary text
    faint,     ///< hairlines, grids
    paper,     ///< the ground
    tint,      ///< a surface just off the ground
    accent,    ///< the one deep accent: light, links, what to look at
    pass,      ///< blue family
    pass_tint, ///< the same, as a ground
    fail,      ///< vermilion family
    fail_tint, ///< the same, as a ground
    held,      ///< neutral, hatched
    open,      ///< neutral, outlined
    fibre,     ///< identity of a fibre: number 1 … 12 in Paint::fibre, order of TIA-598
};

struct Paint
{
    Token token = Token::none;
    std::uint8_t fibre = 0; ///< 1 … 12 for Token::fibre, 0 otherwise
    friend bool operator==(Paint const&, Paint const&) = default;
};
constexpr Paint paint(Token token)
{
    return Paint{token, 0};
}
constexpr Paint fibre_paint(int number)
{
    return Paint{Token::fibre, static_cast<std::uint8_t>((number - 1) % 12 + 1)};
}

struct Stroke
{
    Paint paint;
    double width = 1;
    bool dashed = false;
};

struct Point
{
    double x = 0;
    double y = 0;
};

struct Box
{
    double x = 0;
    double y = 0;
    double width = 0;
    double height = 0;
    double right() const { return x + width; }
    double bottom() const { return y + height; }
};

struct Rect
{
    Box box;
    double radius = 0;
    Paint fill;
    Stroke stroke;
};

struct Line
{
    Point from, to;
    Stroke stroke;
};

struct Circle
{
    Point centre;
    double radius = 0;
    Paint fill;
    Stroke stroke;
};

/// Straight and cubic pieces.
struct Path
{
    struct Move
    {
        Point to;
    };
    struct LineTo
    {
        Point to;
    };
    struct CurveTo
    {
        Point control1, control2, to;
    };
    struct Close
    {
    };
    using Step = std::variant<Move, LineTo, CurveTo, Close>;
    std::vector<Step> steps;
    Paint fill;
    Stroke stroke;
};

/// Slanted hairlines that fill a box, `spacing` apart, cut exactly at its edges.
struct Hatch
{
    Box box;
    double spacing = 4;
    Stroke stroke;
};

/// A face of the type. Widths are those of B612 (font_metrics.hpp), wherever the text is drawn.
enum class Face : std::uint8_t { regular, bold, italic, mono };
enum class Anchor : std::uint8_t { start, middle, end };

struct Text
{
    Point at; ///< on the baseline
    std::string text;
    double size = 12;
    Face face = Face::regular;
    Anchor anchor = Anchor::start;
    Paint fill = paint(Token::ink);
    bool upright_quarter = false; ///< turned a quarter counter-clockwise about `at`
};

struct Node;

/// Shapes that belong together. With a name it is read out by a screen reader.
struct Group
{
    std::string name;        ///< becomes <title>; empty: no stop for a reader
    std::string description; ///< becomes <desc>
    Point shift;
    double scale = 1;
    std::optional<Box> clip; ///< in the group's own coordinates
    std::vector<Node> children;
};

struct Node
{
    std::variant<Rect, Line, Circle, Path, Hatch, Text, Group> shape;
};

/// A whole drawing.
struct Scene
{
    double width = 0;
    double height = 0;
    std::string name;        ///< what it is, in a few words
    std::string description; ///< what it shows, for who cannot see it
    std::vector<Node> nodes;

    template <class Shape>
    void add(Shape shape)
    {
        nodes.push_back(Node{std::move(shape)});
    }
    /// `other` with its top left at `at`, scaled; its name and description stay with it.
    void place(Scene const& other, Point at, double scale = 1);
};

} // namespace guidepin::drawing
