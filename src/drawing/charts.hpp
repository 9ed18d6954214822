// SPDX-License-Identifier: Apache-2.0
// Bars of attenuation per position against the limit, and control charts.
// Numbers are already text where they are shown: the caller owns the locale.
// Verified by: tests/unit/drawing/motifs.cpp (heights against values), tests/golden/drawing.
#pragma once

#include "drawing/row.hpp"
#include "drawing/scene.hpp"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::drawing {

/// How a number is written: decimal mark and decimals are the caller's.
using NumberText = std::function<std::string(double value, int decimals)>;

struct Bar
{
    int position = 1;
    Standing standing = Standing::open;
    std::optional<double> value;               ///< dB
    std::optional<double> low, high;           ///< coverage interval of the value, dB
    std::optional<double> band_low, band_high; ///< what a link like this should show, dB
};

struct BarPanel
{
    std::string label; ///< "850 nm"
    double limit = 0;  ///< dB
    std::vector<Bar> bars;
};

struct BarChart
{
    std::string name;
    std::string description;
    std::vector<BarPanel> panels; ///< one for each wavelength, on one scale
    std::string unit = "dB";
    bool fibre_colours = true;
    NumberText number; ///< empty: decimal point
};
/// Panels one below the other, each `panel_height` high.
Scene bar_drawing(BarChart const& chart, double width, double panel_height = 120);

struct ControlChart
{
    std::string name;
    std::string description;
    std::string unit = "dB";
    std::vector<double> values;      ///< in order of time
    std::vector<std::string> labels; ///< of each value, for pointer and reader: "F2-014, 10:42"; may be empty
    double centre = 0;
    double lower = 0;
    double upper = 0;
    std::optional<double> change_at; ///< index at which the change is estimated, between values allowed
    std::optional<double> change_low, change_high; ///< its interval, as indices
    std::string change_label;                      ///< "change near F2-031"
    std::vector<bool> held;                        ///< values that are held; empty: none
    std::vector<bool> signal;                      ///< values at which the chart signalled; empty: none
    NumberText number;
};
Scene control_drawing(ControlChart const& chart, double width, double height = 220);

} // namespace guidepin::drawing
