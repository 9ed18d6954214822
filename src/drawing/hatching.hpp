// SPDX-License-Identifier: Apache-2.0
// The lines of a hatch, cut at its box. Drawn as lines, not as a pattern: a pattern needs an id, and paper
// has none.
#pragma once

#include "drawing/scene.hpp"

#include <vector>

namespace guidepin::drawing {

struct HatchLine
{
    Point from, to;
};

/// Lines rising to the right at 45 degrees, `spacing` apart along the x axis.
std::vector<HatchLine> hatch_lines(Hatch const& hatch);

} // namespace guidepin::drawing
