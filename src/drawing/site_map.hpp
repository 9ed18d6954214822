// SPDX-License-Identifier: Apache-2.0
// The site map of margins: zone by zone, links down, positions across. A cell's level is attenuation / limit,
// as in the row, so that a column (a test cord), a line (a link) or a block (a time) is seen at a glance.
// Verified by: tests/unit/drawing/motifs.cpp, tests/golden/drawing.
#pragma once

#include "drawing/row.hpp"
#include "drawing/scene.hpp"

#include <string>
#include <vector>

namespace guidepin::drawing {

struct SiteLine
{
    std::string link;
    std::vector<Tank> cells; ///< by position: the worst over wavelengths and directions
    std::string fails; ///< why the link fails where no cell shows it (polarity, length); empty: it does not
};

struct SiteZone
{
    std::string name;
    int columns = 12; ///< positions across
    std::vector<SiteLine> lines;
};

struct SiteMap
{
    std::string name;
    std::string description;
    std::vector<SiteZone> zones;
    bool labels = true; ///< the links' identifiers at the left
    /// Each cell is a group named by link, position and Tank::description, for pointer and finger. Several
    /// times the bytes.
    bool each_cell = false;
};

/// Zones flow in columns within `width`.
Scene site_drawing(SiteMap const& map, double width);

} // namespace guidepin::drawing
