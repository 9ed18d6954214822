// SPDX-License-Identifier: Apache-2.0
// The row: a ferrule's face as its positions in order, each a small tank whose level is attenuation / limit.
// Margin is read without colour: over the brim is a fail and carries a cap; hatched is held, outlined is
// open, a gap is an unused position. Two guide pins are at the ends.
//
// Verified by: tests/unit/drawing/motifs.cpp (levels, caps, order, counts), tests/golden/drawing.
#pragma once

#include "drawing/scene.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::drawing {

/// The state of a position, fibre or link.
enum class Standing : std::uint8_t { pass, marginal_pass, marginal_fail, fail, held, open, unused };
char const*
word_of(Standing standing); ///< "pass", "marginal pass", "marginal fail", "fail", "held", "open", "unused"

struct Tank
{
    Standing standing = Standing::open;
    /// attenuation / limit: 0 empty, 1 at the brim; may be negative or above 1. None: not known.
    std::optional<double> level;
    std::string description; ///< for pointer and screen reader: "0.21 dB of 0.62 dB"; may be empty
};

struct RowLayer
{
    std::string label;       ///< "850 nm"; may be empty
    std::vector<Tank> tanks; ///< by position, tanks[0] is position 1; size rows x columns
};

enum class RowSize : std::uint8_t {
    compact, ///< a list: 12 positions in about 100 x 20
    normal,  ///< a page: with fibre colours and position numbers
    large,   ///< a certificate: the same, with room
};

enum class Layers : std::uint8_t { stacked, side_by_side };

struct Row
{
    std::string name;        ///< "Link F2-014"
    std::string description; ///< empty: counted from the tanks
    int rows = 1;            ///< of the ferrule: 1 or 2
    int columns = 12;
    std::vector<RowLayer> layers; ///< one for each wavelength (or direction)
    Layers arrangement = Layers::stacked;
    bool fibre_colours = true; ///< a bar in the fibre's colour under each tank (normal and large)
};

Scene row_drawing(Row const& row, RowSize size);

/// The sign of one standing, to stand before its word: a tank half full, a tank with a cap, hatched,
/// outlined.
Scene sign_drawing(Standing standing, double size = 14);

/// The program's own mark: two pins and twelve positions. `width` x `width` / 4.
Scene mark_drawing(double width);

/// "10 pass, 1 fail, 1 open": the counts of one or more layers in words, worst position first where one
/// fails.
std::string row_in_words(Row const& row);

} // namespace guidepin::drawing
