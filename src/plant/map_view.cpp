// SPDX-License-Identifier: Apache-2.0
#include "plant/map_view.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

namespace guidepin::plant {

namespace {

std::string places_text(std::vector<Place> const& places, int connectors, std::string_view separator)
{
    std::vector<std::string> texts;
    for (Place const place : places) texts.push_back(place_text(place, connectors));
    return joined(texts, separator);
}

FibreShade shade_of(int fibre_number)
{
    int const index = fibre_number < 1 ? 0 : fibre_number - 1;
    return FibreShade{index % 12 + 1, index / 12};
}

} // namespace

std::vector<MapRow> map_rows(FibreMap const& map, std::vector<ConnectorEnd> const& near)
{
    std::vector<MapRow> rows;
    for (std::size_t i = 0; i < near.size(); ++i) {
        for (int p = 1; p <= max_positions; ++p) {
            Place const place{static_cast<int>(i), p};
            std::optional<Place> const far = map.at(place);
            if (!far && !near[i].occupied.test(static_cast<std::size_t>(p - 1))) continue;
            rows.push_back(MapRow{place, far, shade_of(p)});
        }
    }
    return rows;
}

std::string difference_text(Difference const& difference, int connectors)
{
    std::vector<std::string> parts;
    for (std::vector<Place> const& cycle : difference.cycles) {
        parts.push_back(cycle.size() == 2 ? places_text(cycle, connectors, " and ") + " exchanged"
                                          : places_text(cycle, connectors, " -> ") + " -> " +
                                                place_text(cycle.front(), connectors));
    }
    for (std::vector<Place> const& path : difference.paths) {
        parts.push_back(places_text(path, connectors, " -> ") + " (does not close)");
    }
    if (!difference.dark.empty()) parts.push_back(places_text(difference.dark, connectors, ", ") + " dark");
    if (!difference.extra.empty()) {
        parts.push_back(places_text(difference.extra, connectors, ", ") + " lit, not expected");
    }
    return parts.empty() ? "no difference" : joined(parts, "; ");
}

std::string joint_text(Chain const& chain, Joint const& joint)
{
    std::string how = joint.adapter ? "through " + chain.elements[*joint.adapter].text()
                      : joint.own_adapter
                          ? fmt::format("keys {}", name_of(joint.keys.value_or(KeyRelation::opposed)))
                          : "with nothing between";
    if (joint.own_adapter && joint.first.family.key == Family::Key::duplex) how = "plug in socket";
    return fmt::format("{} to {} {}: {}", chain.elements[joint.left].text(),
                       chain.elements[joint.right].text(), how, joint.verdict.text());
}

} // namespace guidepin::plant
