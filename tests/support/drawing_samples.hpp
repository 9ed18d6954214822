// SPDX-License-Identifier: Apache-2.0
// Invented drawings for tests: every standing, every face, long and odd names.
#pragma once

#include "drawing/charts.hpp"
#include "drawing/end_face.hpp"
#include "drawing/light_path.hpp"
#include "drawing/polarity_map.hpp"
#include "drawing/row.hpp"
#include "drawing/site_map.hpp"

#include <cmath>
#include <string>

#include <fmt/format.h>

namespace guidepin::samples {

using namespace guidepin::drawing;

inline Tank tank(Standing standing, std::optional<double> level)
{
    std::string told = level ? fmt::format("{:.2f} dB of 0.62 dB", *level * 0.62) : "";
    return Tank{standing, level, told};
}

inline RowLayer every_standing(std::string label, double shift = 0)
{
    return RowLayer{std::move(label),
                    {tank(Standing::pass, 0.35 + shift), tank(Standing::pass, 0.62 + shift),
                     tank(Standing::marginal_pass, 0.97), tank(Standing::fail, 1.42),
                     tank(Standing::unused, {}), tank(Standing::marginal_fail, 1.04),
                     tank(Standing::held, 0.48), tank(Standing::held, {}), tank(Standing::open, {}),
                     tank(Standing::pass, -0.05), tank(Standing::fail, {}), tank(Standing::pass, 0.81)}};
}

inline Row row_of_twelve()
{
    Row row;
    row.name = "Link F2-014";
    row.layers = {every_standing("850 nm"), every_standing("1300 nm", -0.1)};
    return row;
}

inline Row row_of_twenty_four()
{
    Row row;
    row.name = "Link F2-101";
    row.rows = 2;
    RowLayer layer{"850 nm", {}};
    for (int p = 1; p <= 24; ++p) layer.tanks.push_back(tank(Standing::pass, 0.3 + 0.02 * p));
    layer.tanks[18] = tank(Standing::fail, 1.2);
    row.layers = {layer};
    return row;
}

inline LightEnd end(plant::Pins pins, bool key_up = true, plant::Face face = plant::Face::flat,
                    plant::EndKind kind = plant::EndKind::plug)
{
    LightEnd e;
    e.kind = kind;
    e.pins = pins;
    e.face = face;
    e.slope = face == plant::Face::angled ? plant::Slope::down : plant::Slope::none;
    e.key_up = key_up;
    return e;
}

inline LightPath test_phase(plant::Face face = plant::Face::flat)
{
    using plant::EndKind;
    using plant::Pins;
    LightPath path;
    path.name = "Test";
    path.heading = "3  Test";
    path.bodies = {
        {BodyKind::source,
         "Source",
         "850 / 1300 nm",
         "SRC-0031",
         {},
         end(Pins::pinned, true, face, EndKind::port),
         false},
        {BodyKind::cord, "Launch cord", "type B, 2 m, reference grade", "TRC-0412",
         end(Pins::unpinned, false, face), end(Pins::pinned, true, face), true},
        {BodyKind::cabling, "Link F2-014", "type A trunk, 31 m, OM4", "", end(Pins::unpinned, false, face),
         end(Pins::unpinned, true, face), false},
        {BodyKind::cord, "Tail cord", "type B, 2 m, reference grade", "TRC-0413-LONG-SERIAL-2026",
         end(Pins::pinned, false, face), end(Pins::unpinned, true, face), true},
        {BodyKind::meter, "Meter", "", "PM-0102", end(Pins::pinned, false, face, EndKind::port), {}, false}};
    path.bodies[1].right->changed = true;
    path.bodies[2].left->label = "End A";
    path.bodies[2].right->label = "End B";
    path.joints = {{JointKind::port, plant::KeyRelation::opposed, "J1", "", false, true},
                   {JointKind::adapter, plant::KeyRelation::opposed, "J2", "", true, false},
                   {JointKind::adapter, plant::KeyRelation::opposed, "J3", "", true, false},
                   {JointKind::port, plant::KeyRelation::opposed, "J4", "", false, false}};
    path.changes = {"Pins fitted to the far end of TRC-0412 after the reference.",
                    "Tail cord TRC-0413 added."};
    return path;
}

inline LightPath reference_phase()
{
    LightPath path = test_phase();
    path.name = "Reference";
    path.heading = "1  Reference";
    path.bodies.erase(path.bodies.begin() + 2, path.bodies.begin() + 4);
    path.bodies[1].right->pins = plant::Pins::unpinned;
    path.bodies[1].right->changed = path.bodies[1].changed = false;
    path.joints = {{JointKind::port, plant::KeyRelation::opposed, "J1", "", false, true},
                   {JointKind::port, plant::KeyRelation::opposed, "J2", "", false, false}};
    path.changes.clear();
    return path;
}

inline LightPath forbidden_phase()
{
    LightPath path = test_phase(plant::Face::angled);
    path.name = "Not possible";
    path.heading.clear();
    path.bodies[2].left->pins = plant::Pins::pinned;
    path.joints[1].fault = "pinned to pinned";
    path.joints[2].kind = JointKind::apart;
    path.changes.clear();
    return path;
}

inline PolarityMap crossed_map()
{
    PolarityMap map;
    map.name = "Polarity of F2-014";
    map.near_label = "End A";
    map.far_label = "End B";
    PolarityPanel expected{"Expected: class B", {}};
    PolarityPanel measured{"Measured", {}};
    for (int p = 1; p <= 12; ++p) {
        expected.threads.push_back({p, 13 - p, p, false});
        measured.threads.push_back({p, 13 - p, p, false});
    }
    measured.threads[2] = {3, 9, 3, true};
    measured.threads[3] = {4, 10, 4, true};
    measured.threads[6] = {7, std::nullopt, 7, true};
    map.panels = {expected, measured};
    map.difference = "3 and 4 exchanged; 7 dark";
    return map;
}

inline BarChart bars()
{
    BarChart chart;
    chart.name = "Attenuation of F2-014";
    for (int panel = 0; panel < 2; ++panel) {
        BarPanel one{panel == 0 ? "850 nm" : "1300 nm", panel == 0 ? 0.62 : 0.58, {}};
        for (int p = 1; p <= 12; ++p) {
            double const value = 0.22 + 0.015 * ((p * 7) % 11) - 0.03 * panel;
            Bar bar{p, Standing::pass, value, value - 0.05, value + 0.05, 0.15, 0.45};
            one.bars.push_back(bar);
        }
        one.bars[6].value = 0.91;
        one.bars[6].low = 0.86;
        one.bars[6].high = 0.96;
        one.bars[6].standing = Standing::fail;
        one.bars[8] = Bar{9, Standing::open, {}, {}, {}, 0.15, 0.45};
        one.bars[10].standing = Standing::held;
        chart.panels.push_back(one);
    }
    return chart;
}

inline ControlChart control()
{
    ControlChart chart;
    chart.name = "Common offset under reference R-003";
    chart.centre = 0;
    chart.lower = -0.06;
    chart.upper = 0.06;
    for (int i = 0; i < 40; ++i) {
        double const wave = 0.02 * std::sin(i * 1.7) + 0.012 * std::cos(i * 0.9);
        chart.values.push_back(wave + (i >= 26 ? 0.075 : 0));
        chart.labels.push_back(fmt::format("F2-{:03}", i + 1));
        chart.held.push_back(i >= 26);
        chart.signal.push_back(i == 31);
    }
    chart.change_at = 25.5;
    chart.change_low = 24;
    chart.change_high = 27;
    chart.change_label = "change near F2-027";
    return chart;
}

inline SiteMap site()
{
    SiteMap map;
    map.name = "Site map of margins";
    for (int z = 0; z < 3; ++z) {
        SiteZone zone{fmt::format("Floor {}", z + 1), z == 2 ? 16 : 12, {}};
        for (int l = 0; l < 18; ++l) {
            SiteLine line{fmt::format("F{}-{:03}", z + 1, l + 1), {}, {}};
            for (int p = 1; p <= zone.columns; ++p) {
                double level = 0.3 + 0.03 * ((p * 5 + l * 3) % 9);
                Standing standing = Standing::pass;
                if (z == 0 && p == 7 && l > 9) level += 0.55;
                if (level > 1) standing = Standing::fail;
                if (z == 1 && l > 13) standing = Standing::held;
                if (z == 2 && l > 15) standing = Standing::open;
                line.cells.push_back(
                    Tank{standing, standing == Standing::open ? std::nullopt : std::optional(level), ""});
            }
            zone.lines.push_back(line);
        }
        map.zones.push_back(zone);
    }
    return map;
}

} // namespace guidepin::samples
