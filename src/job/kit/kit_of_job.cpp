// SPDX-License-Identifier: Apache-2.0
#include "job/kit/kit_of_job.hpp"

#include "base/text.hpp"
#include "job/kit/kit_register.hpp"

namespace guidepin::job {

KitFile kit_of_settings(Settings const& settings, std::vector<std::string>& remarks)
{
    KitFile kit;
    for (Instrument const& each : settings.instruments) {
        auto const family = plant::parse_family(each.family);
        if (!family) continue;
        KitInstrument instrument;
        instrument.role = each.role == "meter" ? InstrumentRole::meter : InstrumentRole::source;
        instrument.entry.serial = each.id;
        instrument.entry.name = each.description;
        if (auto const day = parse_day(each.calibrated)) instrument.entry.calibrated = *day;
        if (auto const day = parse_day(each.calibration_due)) instrument.entry.calibration_due = *day;
        instrument.port = setup::port_of(*family, each.pins, each.face);
        instrument.wavelengths = {Nanometres{each.face == plant::Face::angled ? 1310 : 850}};
        kit.instruments.push_back(std::move(instrument));
    }
    bool exchangeable = false;
    for (Cord const& each : settings.cords) {
        auto const family = plant::parse_family(each.family);
        if (!family) continue;
        setup::Cord cord = setup::cord_of(each.id, *family, each.pins_near, each.pins_far,
                                          each.exchangeable_pins, each.exchangeable_pins, each.face);
        cord.type = each.type;
        cord.grade = each.grade;
        cord.length = each.length;
        cord.glass = {each.face == plant::Face::angled ? facts::FibreKind::single_mode
                                                       : facts::FibreKind::multimode,
                      0};
        // The cord of a cord check stands in a job sheet as the substitution cord.
        cord.roles = each.role == "launch" ? setup::Roles::only({setup::Role::launch})
                     : each.role == "tail" ? setup::Roles::only({setup::Role::tail})
                     : each.role == "changer"
                         ? setup::Roles::only({setup::Role::changer, setup::Role::known})
                         : setup::Roles::only({setup::Role::substitution, setup::Role::known});
        exchangeable = exchangeable || each.exchangeable_pins;
        kit.kit.cords.push_back(std::move(cord));
    }
    for (auto const family : {plant::Family::Key::mpo12, plant::Family::Key::mpo16}) {
        kit.kit.adapters.push_back({plant::KeyRelation::opposed, family, 4});
        kit.kit.adapters.push_back({plant::KeyRelation::aligned, family, 4});
        if (exchangeable) kit.kit.pin_tools.push_back({"pin tool", family});
    }
    remarks.emplace_back("The kit is that of the job sheet, which says nothing of fibre and adapters: angled "
                         "cords and ports are "
                         "taken for single-mode, flat ones for multimode, and loose adapters for there. A "
                         "kit file says it all (docs/formats/kit.md).");
    return kit;
}

KitFile kit_of_job(JobState const& state, std::vector<std::string>& remarks)
{
    KitFile kit = kit_now(state);
    if (!kit.instruments.empty()) return kit;
    return kit_of_settings(state.settings, remarks);
}

} // namespace guidepin::job
