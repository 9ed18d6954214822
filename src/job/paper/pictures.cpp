// SPDX-License-Identifier: Apache-2.0
#include "job/paper/pictures.hpp"

#include "job/paper/row_picture.hpp"
#include "job/sheet/locale.hpp"
#include "watch/robust.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace guidepin::job {

drawing::ControlChart control_chart_of(JobState const& state, Assessment const& assessment,
                                       WatchedReference const& reference)
{
    return control_chart_of(state, assessment, reference,
                            reference.doubts.empty() ? nullptr : &reference.doubts.front());
}

drawing::ControlChart control_chart_of(JobState const& state, Assessment const& assessment,
                                       WatchedReference const& reference, Doubt const* doubt)
{
    drawing::ControlChart chart;
    verdict::ReferenceId const& name = state.references[reference.entry].id;
    auto const link = [&](std::size_t test) -> std::string const& {
        return state.readings.links.text(reference.tests[test].link);
    };
    std::vector<double> u;
    for (std::size_t t = 0; t < reference.tests.size(); ++t) {
        chart.labels.push_back(link(t));
        u.push_back(reference.chart[t].u_db);
    }
    chart.centre = reference.chart.empty() ? 0 : reference.chart.back().expected_db;
    // What is so from the first link on has no change to draw.
    if (doubt && (doubt->change.probability.empty() || doubt->level)) {
        if (doubt->level) chart.centre = 0;
        doubt = nullptr;
    }
    if (!doubt) {
        chart.name = fmt::format("Links under {}", name);
        for (watch::ChartPoint const& point : reference.chart) chart.values.push_back(point.offset_db);
    } else {
        chart.name = doubt->kind == DoubtKind::position
                         ? fmt::format("Position {} against the others under {}", doubt->position, name)
                     : doubt->kind == DoubtKind::wavelength
                         ? fmt::format("{} nm against {} nm under {}", reference.wavelengths.back(),
                                       reference.wavelengths.front(), name)
                         : fmt::format("Links under {}", name);
        chart.values = assessment.watching->track(reference, *doubt, *assessment.expectation);
        chart.centre = doubt->change.before;
        chart.change_at = static_cast<double>(doubt->change.first_after) - 0.5;
        chart.change_low = static_cast<double>(doubt->change.earliest) - 0.5;
        chart.change_high = static_cast<double>(doubt->change.latest) - 0.5;
        chart.change_label = fmt::format("change at {}", link(doubt->change.first_after));
        chart.signal.assign(reference.tests.size(), false);
        chart.signal[doubt->at] = true;
    }
    double half = 3 * watch::median(u);
    if (doubt && doubt->kind != DoubtKind::common) {
        // The spread of what is shown, before it changed.
        std::vector<double> const before(chart.values.begin(),
                                         chart.values.begin() +
                                             static_cast<std::ptrdiff_t>(doubt->change.first_after));
        double const spread = watch::mad_to_sd * watch::median_absolute_deviation(before);
        if (before.size() >= 5 && spread > 0) half = 3 * spread;
    }
    if (!std::isfinite(half)) half = 0.1;
    chart.lower = chart.centre - half;
    chart.upper = chart.centre + half;
    chart.held.assign(reference.tests.size(), false);
    for (Doubt const& each : reference.doubts) {
        for (std::size_t const test : each.held) chart.held[test] = true;
    }
    return chart;
}

drawing::SiteLine site_line_of(JobState const& state, report::Locale const& locale,
                               record::DerivedLink const& link)
{
    drawing::SiteLine line;
    line.link = link.link;
    auto const found = state.link_index.find(link.link);
    if (found == state.link_index.end()) return line;
    plant::LinkSpec const& spec = state.links[found->second];
    drawing::Row const row = row_of(link.link, spec.family, link.row);
    std::size_t columns = 0;
    for (auto const& layer : row.layers) columns = std::max(columns, layer.tanks.size());
    line.cells.resize(columns);
    for (std::size_t p = 0; p < columns; ++p) {
        drawing::Tank& cell = line.cells[p];
        cell.standing = drawing::Standing::unused;
        for (auto const& layer : row.layers) {
            drawing::Tank const& tank = layer.tanks[p];
            if (tank.standing == drawing::Standing::unused) continue;
            bool const worse = cell.standing == drawing::Standing::unused ||
                               tank.level.value_or(0) > cell.level.value_or(-1);
            if (!worse) continue;
            cell = tank;
            cell.description =
                !tank.description.empty() ? fmt::format("{} at {}", tank.description, layer.label)
                : tank.level
                    ? fmt::format("{} % of the limit at {}", locale.number(*tank.level * 100, 0), layer.label)
                    : std::string{drawing::word_of(tank.standing)};
        }
    }
    // What fails by where the light arrives, or by length, shows in no level.
    verdict::State const state_of_link = state_of_id(link.state);
    bool const link_fails =
        state_of_link == verdict::State::fail || state_of_link == verdict::State::marginal_fail;
    bool const cell_fails = std::any_of(line.cells.begin(), line.cells.end(), [](auto const& cell) {
        return cell.standing == drawing::Standing::fail || cell.standing == drawing::Standing::marginal_fail;
    });
    if (link_fails && !cell_fails) line.fails = link.reason;
    if (line.cells.empty()) {
        for (std::size_t p = 0; p < static_cast<std::size_t>(spec.family.positions()); ++p)
            line.cells.push_back(
                {spec.fibres.test(p) ? drawing::Standing::open : drawing::Standing::unused, {}, {}});
    }
    return line;
}

drawing::SiteMap site_map_of(JobState const& state, record::DerivedTables const& tables)
{
    drawing::SiteMap map;
    map.name = "Margins of the whole site";
    report::Locale const locale = locale_of(state.settings);
    std::map<std::string, drawing::SiteZone> zones;
    for (record::DerivedLink const& link : tables.links) {
        if (!link.scheduled) continue;
        drawing::SiteZone& zone = zones[link.zone];
        zone.name = link.zone;
        drawing::SiteLine line = site_line_of(state, locale, link);
        zone.columns = std::max(zone.lines.empty() ? 0 : zone.columns, static_cast<int>(line.cells.size()));
        zone.lines.push_back(std::move(line));
    }
    for (auto& [name, zone] : zones) map.zones.push_back(std::move(zone));
    return map;
}

} // namespace guidepin::job
