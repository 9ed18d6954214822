// SPDX-License-Identifier: Apache-2.0
// One tank of the row, as shapes: an open vessel whose walls end at the brim (the limit).
#pragma once

#include "drawing/row.hpp"

#include <vector>

namespace guidepin::drawing {

/// `vessel` is from brim to floor; what spills over is above it, up to `spill` high, and overhangs the
/// walls.
std::vector<Node> tank_shapes(Tank const& tank, Box const& vessel, double spill);

/// Height of the liquid in a vessel: 0 for none or negative levels, the whole height from the brim up.
double liquid_height(Tank const& tank, double height);
/// Height of the cap over the brim: grows with the excess, never less than a third of `spill`; 0 without one.
double cap_height_of(Tank const& tank, double spill);
bool has_cap(Standing standing);

} // namespace guidepin::drawing
