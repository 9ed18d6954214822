// SPDX-License-Identifier: Apache-2.0
// A simulated site as the state of a job, as if its files had been brought in; for tests and benchmarks. What
// a job would know goes in, the truth does not.
#pragma once

#include "job/state/state.hpp"
#include "simulate/site.hpp"

#include <set>
#include <stdexcept>
#include <string>

namespace guidepin::support {

inline job::JobState job_of(simulate::Site const& site, bool both_directions = false)
{
    job::JobState state;
    state.tables = facts::built_in_tables();
    auto const rules = state.tables.rule_set("tia-568.3-e");
    if (!rules) throw std::runtime_error(rules.error().message);
    state.rules = **rules;
    state.settings.wavelengths[facts::FibreKind::multimode] = {Nanometres{850}, Nanometres{1300}};
    state.settings.wavelengths[facts::FibreKind::single_mode] = {Nanometres{1310}, Nanometres{1550}};
    state.settings.directions = both_directions ? 2 : 1;
    state.settings.reference_age_hours = 16;
    state.add_links(site.links);
    std::set<std::string> kits;
    for (simulate::Reference const& reference : site.references) {
        std::string const kit = reference.family + "-" + facts::name_of(reference.kind);
        if (kits.insert(kit).second) {
            for (auto const role : {job::InstrumentRole::source, job::InstrumentRole::meter}) {
                job::Instrument instrument;
                instrument.id = std::string(job::name_of(role)) + "-" + kit;
                instrument.role = role;
                instrument.calibrated = "2025-11-10";
                instrument.calibration_due = "2027-11-10";
                state.settings.instruments.push_back(instrument);
            }
            bool const wide = reference.family == "mpo-24";
            for (auto const role : {setup::Role::launch, setup::Role::tail, setup::Role::substitution}) {
                job::Cord cord;
                cord.id = std::string(setup::name_of(role)) + "-" + kit;
                cord.role = role;
                bool const known = role == setup::Role::substitution;
                cord.type = wide ? (known ? "I-A" : "I-B") : (known ? "A" : "B");
                cord.family = reference.family;
                cord.ends_stated = true;
                cord.face =
                    reference.kind == facts::FibreKind::single_mode ? plant::Face::angled : plant::Face::flat;
                cord.pins_near = cord.pins_far = known ? plant::Pins::pinned : plant::Pins::unpinned;
                state.settings.cords.push_back(cord);
            }
        }
        job::ReferenceEntry entry;
        entry.id = verdict::ReferenceId(reference.id);
        entry.method = "one-cord";
        entry.kit = {.source = "source-" + kit,
                     .meter = "meter-" + kit,
                     .launch = "launch-" + kit,
                     .tail = "tail-" + kit,
                     .substitution = "substitution-" + kit};
        for (simulate::ReferencePower const& power : reference.powers) {
            entry.position.push_back(power.position);
            entry.wavelength_nm.push_back(power.wavelength_nm);
            entry.power_dbm.push_back(power.power_dbm);
            entry.taken_ms.push_back(power.taken_ms);
        }
        state.add_reference(std::move(entry));
        job::CordCheckEntry check;
        check.id = verdict::CheckId("C-" + reference.id);
        check.reference = verdict::ReferenceId(reference.id);
        for (simulate::Reading const& reading : reference.check) {
            check.position.push_back(reading.position);
            check.far_position.push_back(reading.far_position);
            check.wavelength_nm.push_back(reading.wavelength_nm);
            check.attenuation_db.push_back(reading.attenuation_db);
            check.length_m.push_back(reading.length_m);
            check.taken_ms.push_back(reading.taken_ms);
        }
        state.checks.push_back(std::move(check));
        state.readings.references.index_of(reference.id);
    }
    std::uint32_t const who = state.readings.operators.index_of("Simulation");
    state.readings.reserve(site.readings.size());
    for (simulate::Reading const& reading : site.readings) {
        state.readings.link.push_back(reading.link);
        state.readings.launch_end.push_back(reading.from_b ? verdict::LaunchEnd::b : verdict::LaunchEnd::a);
        state.readings.position.push_back(reading.position);
        state.readings.far_position.push_back(reading.far_position);
        state.readings.wavelength_nm.push_back(reading.wavelength_nm);
        state.readings.value.push_back(reading.attenuation_db);
        state.readings.length_m.push_back(reading.length_m);
        state.readings.taken_ms.push_back(reading.taken_ms);
        state.readings.offset_minutes.push_back(0);
        state.readings.reference.push_back(reading.reference);
        state.readings.operator_name.push_back(who);
        state.readings.line.push_back(0);
    }
    state.gather_kit();
    return state;
}

} // namespace guidepin::support
