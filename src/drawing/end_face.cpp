// SPDX-License-Identifier: Apache-2.0
#include "drawing/end_face.hpp"

#include "drawing/shapes.hpp"

#include "base/text.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::drawing {

namespace {

void draw_guides(Scene& scene, plant::Pins pins, double x0, double x1, double y, double radius)
{
    for (double const x : {x0, x1}) {
        if (pins == plant::Pins::pinned) {
            scene.add(Circle{{x, y}, radius, paint(Token::ink), {}});
            scene.add(Circle{{x - radius * 0.25, y - radius * 0.25}, radius * 0.35, paint(Token::paper), {}});
        } else if (pins == plant::Pins::unpinned) {
            scene.add(Circle{{x, y}, radius, paint(Token::paper), stroke(Token::ink, 1.6)});
        } else {
            scene.add(Circle{{x, y}, radius, {}, stroke(Token::quiet, 1, true)});
        }
    }
}

} // namespace

Scene end_face_drawing(EndFace const& face, double width)
{
    plant::Family const& family = face.end.family;
    Scene scene;
    scene.width = width;
    double const unit = width / (family.columns + 8);
    double const number = std::clamp(unit * 0.5, 7.0, 12.0);
    double const pitch = unit;
    double const row_step = unit * 1.25 + number + 2;
    double const ferrule_height = (family.rows - 1) * row_step + unit * 3.2;
    double const top = unit * 1.3 + 1;
    double const caption = 11;
    scene.height = top + ferrule_height + unit * 2.4 + caption + 10;

    Box const housing{1, top - unit * 0.2, width - 2, ferrule_height + unit * 1.9};
    scene.add(Rect{housing, unit * 0.8, paint(Token::tint), stroke(Token::ink, 1.6)});
    Box const ferrule{unit * 0.9, top + unit * 0.65, width - unit * 1.8, ferrule_height};
    scene.add(Rect{ferrule, unit * 0.2, paint(Token::paper), stroke(Token::ink, 1.2)});
    if (face.end.face == plant::Face::angled) {
        // The side that leans back is hatched: the lower one with the key up and the ordinary slope.
        bool const low_side = (face.end.slope == plant::Slope::down) == face.key_up;
        double const band = unit * 0.55;
        scene.add(Hatch{{ferrule.x, low_side ? ferrule.bottom() - band : ferrule.y, ferrule.width, band},
                        4,
                        stroke(Token::quiet, 0.8)});
    }
    // The key: centred for the 12-hole family, towards one side for the 16-hole family.
    double const shift = family.key == plant::Family::Key::mpo16 ? -unit * 2.6 : 0;
    double const key_x = width / 2 + (face.key_up ? shift : -shift) - unit * 1.2;
    double const key_y = face.key_up ? housing.y - unit * 0.9 : housing.bottom();
    if (family.key != plant::Family::Key::duplex) {
        scene.add(filled({key_x, key_y, unit * 2.4, unit * 0.9}, Token::ink, 1.5));
        draw_guides(scene, face.end.pins, ferrule.x + unit * 1.1, ferrule.right() - unit * 1.1,
                    ferrule.y + ferrule.height / 2, unit * 0.55);
    }
    double const x0 = width / 2 - (family.columns - 1) * pitch / 2;
    for (int r = 0; r < family.rows; ++r) {
        for (int c = 0; c < family.columns; ++c) {
            int const position = r * family.columns + c + 1;
            int const column = face.key_up ? c : family.columns - 1 - c;
            int const line = face.key_up ? r : family.rows - 1 - r;
            double const x = x0 + column * pitch;
            double const y = ferrule.y + unit * 1.05 + line * row_step;
            bool const occupied = face.end.occupied.test(static_cast<std::size_t>(position - 1));
            auto const index = static_cast<std::size_t>(position - 1);
            int const fibre =
                index < face.fibre_at.size() && face.fibre_at[index] > 0 ? face.fibre_at[index] : position;
            bool const marked =
                std::find(face.marked.begin(), face.marked.end(), position) != face.marked.end();
            double const radius = unit * 0.36;
            if (occupied) {
                scene.add(Circle{{x, y}, radius, fibre_paint(fibre), stroke(Token::ink, 1)});
                // The second and later twelves carry a ring, as their fibres carry a tracer.
                if (fibre > 12)
                    scene.add(Circle{
                        {x, y}, radius * 0.5, {}, stroke(fibre % 12 == 8 ? Token::paper : Token::ink, 1)});
            } else {
                scene.add(Circle{{x, y}, radius * 0.45, {}, stroke(Token::faint, 1)});
            }
            if (marked) scene.add(Circle{{x, y}, radius + 3, {}, stroke(Token::fail, 2)});
            scene.add(label({x, y + radius + number + 2}, fmt::format("{}", position), number,
                            marked     ? Token::fail
                            : occupied ? Token::ink
                                       : Token::quiet,
                            Anchor::middle, marked ? Face::bold : Face::regular));
        }
    }
    std::vector<std::string> words{plant::words_of(family), plant::name_of(face.end.pins),
                                   plant::name_of(face.end.face), face.key_up ? "key up" : "key down"};
    std::string const caption_words = joined(words, ", ");
    scene.add(label({width / 2, scene.height - 4}, fitted(caption_words, width, caption), caption,
                    Token::quiet, Anchor::middle));
    scene.name = face.name;
    scene.description = fmt::format("End face: {}; position 1 at the {}; occupied {}.", caption_words,
                                    face.key_up ? "left" : "right", plant::occupancy_text(face.end.occupied));
    return scene;
}

} // namespace guidepin::drawing
