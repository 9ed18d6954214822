// SPDX-License-Identifier: Apache-2.0
// Measured against drawn length, one link below the other on one scale.
// Numbers are already text where they are shown: the caller owns the locale.
// Verified by: tests/unit/drawing/motifs.cpp (lengths of the bars against values).
#pragma once

#include "drawing/scene.hpp"

#include <string>
#include <vector>

namespace guidepin::drawing {

struct LengthPair
{
    std::string link;
    double drawn_m = 0, measured_m = 0;    ///< 0 and above
    double tolerance_m = 0;                ///< of the drawn length, either way
    std::string drawn_text, measured_text; ///< "45 m", "75.3 m"
};

struct LengthChart
{
    std::string name;
    std::vector<LengthPair> links;
};
Scene length_drawing(LengthChart const& chart, double width);

} // namespace guidepin::drawing
