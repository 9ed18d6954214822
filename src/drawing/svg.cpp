// SPDX-License-Identifier: Apache-2.0
#include "drawing/svg.hpp"

#include "drawing/font_metrics.hpp"
#include "drawing/hatching.hpp"
#include "drawing/letters.hpp"
#include "drawing/theme.hpp"

#include "base/text.hpp"

#include <cmath>

#include <fmt/format.h>

namespace guidepin::drawing {

namespace {

/// Two decimals are finer than any eye and keep the bytes the same across compilers.
std::string coordinate(double value)
{
    return number_text(std::round(value * 100) / 100);
}

std::string escaped(std::string_view text)
{
    return html_escaped(clean_text(text));
}

class SvgWriter
{
  public:
    explicit SvgWriter(std::string& out)
        : out_(out)
    {
    }

    void nodes(std::vector<Node> const& list)
    {
        for (Node const& node : list) std::visit([this](auto const& shape) { write(shape); }, node.shape);
    }
    void titles(std::string const& name, std::string const& description)
    {
        if (!name.empty()) out_ += "<title>" + escaped(name) + "</title>";
        if (!description.empty()) out_ += "<desc>" + escaped(description) + "</desc>";
    }

  private:
    void attribute(char const* name, double value)
    {
        out_ += fmt::format(" {}=\"{}\"", name, coordinate(value));
    }

    void classes(Paint fill, Stroke const& stroke)
    {
        out_ += " class=\"f-";
        out_ += fill.token == Token::none ? "none" : css_name(fill);
        bool const lined = stroke.paint.token != Token::none && stroke.width > 0;
        if (lined) {
            out_ += " s-" + css_name(stroke.paint);
            if (stroke.dashed) out_ += " d";
        }
        out_ += '"';
        if (lined && stroke.width != 1) attribute("stroke-width", stroke.width);
    }

    void write(Rect const& rect)
    {
        out_ += "<rect";
        attribute("x", rect.box.x);
        attribute("y", rect.box.y);
        attribute("width", rect.box.width);
        attribute("height", rect.box.height);
        if (rect.radius > 0) attribute("rx", rect.radius);
        classes(rect.fill, rect.stroke);
        out_ += "/>";
    }
    void write(Line const& line)
    {
        out_ += "<line";
        attribute("x1", line.from.x);
        attribute("y1", line.from.y);
        attribute("x2", line.to.x);
        attribute("y2", line.to.y);
        classes({}, line.stroke);
        out_ += "/>";
    }
    void write(Circle const& circle)
    {
        out_ += "<circle";
        attribute("cx", circle.centre.x);
        attribute("cy", circle.centre.y);
        attribute("r", circle.radius);
        classes(circle.fill, circle.stroke);
        out_ += "/>";
    }
    std::string pair(Point at) { return coordinate(at.x) + " " + coordinate(at.y); }
    void write(Path const& path)
    {
        std::string steps;
        Point pen;
        for (Path::Step const& step : path.steps) {
            if (auto const* move = std::get_if<Path::Move>(&step)) {
                steps += "M" + pair(move->to);
                pen = move->to;
            }
            if (auto const* line = std::get_if<Path::LineTo>(&step)) {
                // Boxes are most of what we draw, and their sides are level or upright: half the bytes.
                if (line->to.y == pen.y) {
                    steps += "H" + coordinate(line->to.x);
                } else if (line->to.x == pen.x) {
                    steps += "V" + coordinate(line->to.y);
                } else {
                    steps += "L" + pair(line->to);
                }
                pen = line->to;
            }
            if (auto const* curve = std::get_if<Path::CurveTo>(&step)) {
                steps += "C" + pair(curve->control1) + " " + pair(curve->control2) + " " + pair(curve->to);
                pen = curve->to;
            }
            if (std::holds_alternative<Path::Close>(step)) steps += "Z";
        }
        out_ += "<path d=\"" + steps + "\"";
        classes(path.fill, path.stroke);
        out_ += "/>";
    }
    void write(Hatch const& hatch)
    {
        std::string steps;
        for (HatchLine const& line : hatch_lines(hatch)) steps += "M" + pair(line.from) + "L" + pair(line.to);
        if (steps.empty()) return;
        out_ += "<path d=\"" + steps + "\"";
        classes({}, hatch.stroke);
        out_ += "/>";
    }
    void write(Text const& text)
    {
        out_ += "<text";
        attribute("x", text.at.x);
        attribute("y", text.at.y);
        attribute("font-size", text.size);
        if (text.anchor != Anchor::start) {
            out_ += text.anchor == Anchor::middle ? " text-anchor=\"middle\"" : " text-anchor=\"end\"";
        }
        if (text.upright_quarter) {
            out_ += fmt::format(" transform=\"rotate(-90 {})\"", pair(text.at));
        }
        out_ += " class=\"f-" + css_name(text.fill);
        if (text.face == Face::bold) out_ += " t-b";
        if (text.face == Face::italic) out_ += " t-i";
        if (text.face == Face::mono) out_ += " t-m";
        out_ += "\">" + escaped(text.text) + "</text>";
    }
    void write(Group const& group)
    {
        bool const moved = group.shift.x != 0 || group.shift.y != 0 || group.scale != 1;
        out_ += "<g";
        if (!group.name.empty()) out_ += " role=\"group\"";
        if (moved) {
            out_ += fmt::format(" transform=\"translate({})", pair(group.shift));
            if (group.scale != 1)
                out_ += fmt::format(" scale({})", number_text(std::round(group.scale * 1e4) / 1e4));
            out_ += '"';
        }
        out_ += '>';
        titles(group.name, group.description);
        if (group.clip) {
            // An inner viewport cuts at its box without an id, which two drawings on one page could share.
            Box const& box = *group.clip;
            out_ += "<svg";
            attribute("x", box.x);
            attribute("y", box.y);
            attribute("width", box.width);
            attribute("height", box.height);
            out_ += fmt::format(" viewBox=\"{} {} {} {}\">", coordinate(box.x), coordinate(box.y),
                                coordinate(box.width), coordinate(box.height));
        }
        nodes(group.children);
        if (group.clip) out_ += "</svg>";
        out_ += "</g>";
    }

    std::string& out_;
};

std::string markup(Scene const& scene, std::string_view style)
{
    std::string out =
        fmt::format("<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"gp\" role=\"img\" width=\"{0}\" "
                    "height=\"{1}\" viewBox=\"0 0 {0} {1}\"",
                    coordinate(scene.width), coordinate(scene.height));
    // role=img is one picture for a screen reader: name and description are said at once.
    if (!scene.name.empty()) {
        std::string label = scene.name;
        if (!scene.description.empty()) label += ": " + scene.description;
        out += " aria-label=\"" + escaped(label) + "\"";
    }
    out += '>';
    SvgWriter writer(out);
    writer.titles(scene.name, scene.description);
    if (!style.empty()) out += fmt::format("<style>{}</style>", style);
    writer.nodes(scene.nodes);
    out += "</svg>";
    return out;
}

} // namespace

Html svg(Scene const& scene)
{
    return Html::vouched(markup(scene, {}));
}

std::string svg_file(Scene const& scene)
{
    return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n" + markup(scene, "\n" + stylesheet()) + "\n";
}

} // namespace guidepin::drawing
