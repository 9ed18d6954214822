// SPDX-License-Identifier: Apache-2.0
// Where each fibre goes: near face above, far face below, a thread in the fibre's colour between them,
// expected beside measured. What differs is drawn strong, with its numbers ringed; the rest steps back.
// Verified by: tests/unit/drawing/motifs.cpp, tests/golden/drawing.
#pragma once

#include "drawing/scene.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::drawing {

struct Thread
{
    int near = 1;
    std::optional<int> far; ///< none: dark
    int fibre = 1;          ///< for the colour
    bool differs = false;
};

struct PolarityPanel
{
    std::string title; ///< "Expected: class B"
    std::vector<Thread> threads;
};

struct PolarityMap
{
    std::string name;        ///< "Polarity of F2-014"
    std::string description; ///< empty: from the threads
    std::string near_label;  ///< "End A"
    std::string far_label;   ///< "End B"
    int rows = 1;
    int columns = 12;
    std::vector<PolarityPanel> panels; ///< mostly two: expected, measured
    std::string difference;            ///< in words, drawn below: "3 and 4 exchanged"; may be empty
};

/// Panels side by side when `width` allows, else one below the other.
Scene polarity_drawing(PolarityMap const& map, double width);

} // namespace guidepin::drawing
