// SPDX-License-Identifier: Apache-2.0
// A simulated site as the columns that causes are looked for in; for tests and benchmarks. What a job would
// know goes in, the truth does not.
#pragma once

#include "cause/columns.hpp"
#include "explained.hpp"
#include "loss/prediction.hpp"
#include "plant/link_model.hpp"
#include "simulate/site.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <tuple>

namespace guidepin::support {

inline cause::Columns columns_of(simulate::Site const& site)
{
    cause::Columns columns;
    constexpr float nan = std::numeric_limits<float>::quiet_NaN();
    using Key = std::tuple<std::string, std::string, std::string, std::string, int>;
    std::map<Key, std::uint32_t> kinds;
    std::map<std::tuple<std::string, int>, std::uint32_t> groups;
    std::map<std::string, std::uint32_t> panels;
    auto const panel = [&](std::string const& name) {
        return panels.try_emplace(name.substr(0, name.rfind('/')), static_cast<std::uint32_t>(panels.size()))
            .first->second;
    };
    for (plant::LinkSpec const& spec : site.links) {
        Key const key{spec.category, spec.family.name(), plant::occupancy_text(spec.fibres), spec.trunk_type,
                      spec.inner_connections};
        auto const [kind_at, is_new] = kinds.try_emplace(key, static_cast<std::uint32_t>(kinds.size()));
        bool const multimode = spec.category != "OS2";
        if (is_new) {
            cause::LinkKind kind;
            kind.family = spec.family;
            kind.a_to_b = plant::build_link(spec).value().positions.value();
            kind.occupied = spec.fibres;
            kind.multimode = multimode;
            kind.angled = spec.face == plant::Face::angled;
            kind.wavelengths = 2;
            kind.wavelength_nm = multimode ? std::array<std::uint16_t, 4>{850, 1300}
                                           : std::array<std::uint16_t, 4>{1310, 1550};
            auto const joint =
                loss::gamma_of(*facts::built_in_tables().grade(multimode ? "Bm" : "B")).value();
            int const joints = 2 + spec.inner_connections;
            kind.natural_mean = joints * joint.mean();
            kind.natural_sd = std::sqrt(joints * joint.variance());
            kind.natural_skewness = 2 / std::sqrt(joints * joint.shape);
            kind.own_u = 0.03;
            kind.common_u = 0.04;
            kind.group = groups
                             .try_emplace({spec.category, spec.inner_connections},
                                          static_cast<std::uint32_t>(groups.size()))
                             .first->second;
            columns.kinds.push_back(kind);
        }
        cause::LinkRow row;
        row.id = spec.id;
        row.kind = kind_at->second;
        row.panel_a = panel(spec.a.name);
        row.panel_b = panel(spec.b.name);
        row.drawn_m = spec.length.value();
        row.tolerance_m = std::max(2.0, 0.05 * row.drawn_m);
        row.db_per_km = multimode ? std::array<double, 4>{2.4, 0.6} : std::array<double, 4>{0.32, 0.20};
        row.positions = static_cast<std::uint8_t>(spec.family.positions());
        row.first_cell = static_cast<std::uint32_t>(columns.loss_db.size());
        row.first_place = static_cast<std::uint32_t>(columns.length_m.size());
        row.map_known = true;
        columns.loss_db.resize(columns.loss_db.size() + 4u * row.positions, nan);
        columns.length_m.resize(columns.length_m.size() + row.positions, nan);
        columns.links.push_back(row);
    }
    for (simulate::Reference const& reference : site.references)
        columns.references.emplace_back(reference.id);
    for (simulate::Reading const& reading : site.readings) {
        cause::LinkRow& row = columns.links[reading.link];
        cause::LinkKind const& kind = columns.kinds[row.kind];
        std::size_t const w = reading.wavelength_nm == kind.wavelength_nm[0] ? 0 : 1;
        row.reference = reading.reference;
        if (row.taken_ms == std::numeric_limits<std::int64_t>::min()) row.taken_ms = reading.taken_ms;
        row.measured[reading.from_b ? 1 : 0] = true;
        int const at_a = reading.from_b ? kind.a_to_b.inverse().at(reading.position) : reading.position;
        bool const is_dark = reading.far_position == 0;
        columns.loss_db[columns.cell(row, reading.from_b ? 1 : 0, w, at_a)] =
            is_dark ? cause::dark : static_cast<float>(reading.attenuation_db);
        if (!reading.from_b && !is_dark) {
            row.a_to_b.connect(reading.position, reading.far_position);
            columns.length_m[row.first_place + static_cast<std::size_t>(at_a - 1)] =
                static_cast<float>(reading.length_m);
        }
    }
    for (cause::LinkRow& row : columns.links) {
        std::vector<float> lengths;
        for (std::size_t p = 0; p < row.positions; ++p) {
            if (std::isfinite(columns.length_m[row.first_place + p]))
                lengths.push_back(columns.length_m[row.first_place + p]);
        }
        if (lengths.empty()) continue;
        std::nth_element(lengths.begin(), lengths.begin() + static_cast<std::ptrdiff_t>(lengths.size() / 2),
                         lengths.end());
        row.measured_m = lengths[lengths.size() / 2];
    }
    return columns;
}

} // namespace guidepin::support
