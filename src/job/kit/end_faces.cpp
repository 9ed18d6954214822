// SPDX-License-Identifier: Apache-2.0
#include "job/kit/end_faces.hpp"

#include <set>

namespace guidepin::job {

std::vector<std::pair<std::string, std::string>> end_face_choices(facts::Tables const& tables)
{
    std::set<std::pair<std::string, std::string>> choices;
    for (facts::EndFaceZone const& zone : tables.end_face_zones) {
        if (zone.arrays) choices.insert({zone.edition, zone.type});
    }
    return {choices.begin(), choices.end()};
}

std::string usual_edition(facts::Tables const& tables, std::string_view type)
{
    std::string latest;
    for (auto const& [edition, of_type] : end_face_choices(tables)) {
        if (of_type == type) latest = edition; // they come in order: "1 (2009)", "2 (2015)"
    }
    return latest;
}

std::string usual_face_type(KitItem const& item, int end)
{
    bool const cord = item.sort == KitSort::cord;
    plant::ConnectorEnd const& plug =
        cord ? item.cord.ends[static_cast<std::size_t>(end == 0 ? 0 : 1)].plug : item.port.face;
    bool single_mode = item.cord.glass.kind == facts::FibreKind::single_mode;
    if (!cord) {
        single_mode = plug.face == plant::Face::angled;
        for (Nanometres const wavelength : item.wavelengths)
            single_mode = single_mode || wavelength.value() >= 1310;
    }
    if (!single_mode) return "multimode-pc";
    return plug.face == plant::Face::angled ? "single-mode-apc" : "single-mode-pc";
}

} // namespace guidepin::job
