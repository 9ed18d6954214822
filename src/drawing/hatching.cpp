// SPDX-License-Identifier: Apache-2.0
#include "drawing/hatching.hpp"

#include <algorithm>

namespace guidepin::drawing {

std::vector<HatchLine> hatch_lines(Hatch const& hatch)
{
    std::vector<HatchLine> lines;
    Box const& box = hatch.box;
    if (box.width <= 0 || box.height <= 0 || hatch.spacing <= 0) return lines;
    // The line number k meets the bottom edge at x + k spacing and rises to the right.
    for (double foot = hatch.spacing / 2 - box.height; foot < box.width; foot += hatch.spacing) {
        double const start = std::max(foot, 0.0);
        double const end = std::min(foot + box.height, box.width);
        if (end - start <= 0.05) continue;
        lines.push_back(
            {{box.x + start, box.bottom() - (start - foot)}, {box.x + end, box.bottom() - (end - foot)}});
    }
    return lines;
}

} // namespace guidepin::drawing
