// SPDX-License-Identifier: Apache-2.0
// Powers of a reference over the row, in the window that is plausible.
// Verified by: tests/unit/web/session.cpp (heights against values).
#pragma once

#include "drawing/charts.hpp"
#include "drawing/scene.hpp"
#include "web/page.hpp"

#include <map>
#include <string>

namespace guidepin::web {

struct PowerRow
{
    std::string name;
    double low = -30, high = -15; ///< the plausible window, dBm
    std::map<int, double> powers; ///< by position
    drawing::NumberText number;
};
drawing::Scene power_drawing(PowerRow const& row, double width);

} // namespace guidepin::web
