// SPDX-License-Identifier: Apache-2.0
#include "job/kit/kit_history.hpp"

#include "base/text.hpp"
#include "job/sheet/kit_file.hpp"
#include "setup/kit.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

plant::Family family_of(std::string const& name)
{
    auto const family = plant::parse_family(name);
    return family ? *family : plant::Family{};
}

KitItem item_of_sheet(Instrument const& instrument)
{
    KitItem item;
    item.serial = instrument.id;
    item.sort = role_of(instrument) == InstrumentRole::meter ? KitSort::meter : KitSort::source;
    item.name = instrument.description;
    item.port = setup::port_of(family_of(instrument.family), instrument.pins, instrument.face);
    if (auto const day = parse_day(instrument.calibrated)) item.calibrated = *day;
    if (auto const day = parse_day(instrument.calibration_due)) item.calibration_due = *day;
    return item;
}

KitItem item_of_sheet(Cord const& cord)
{
    KitItem item;
    item.serial = cord.id;
    item.sort = KitSort::cord;
    item.cord = setup::cord_of(cord.id, family_of(cord.family), {cord.pins_near, cord.exchangeable_pins},
                               {cord.pins_far, cord.exchangeable_pins}, cord.face);
    item.cord.type = cord.type;
    item.cord.grade = cord.grade;
    item.cord.length = cord.length;
    item.cord.glass.core_um = 0;
    // A job sheet does not say the fibre of a cord: angled faces are single-mode by habit (common practice).
    if (cord.face == plant::Face::angled) item.cord.glass.kind = facts::FibreKind::single_mode;
    if (cord.role) item.cord.roles = setup::Roles::only({*cord.role});
    if (cord.matings_limit > 0) item.matings_limit = cord.matings_limit;
    if (cord.pin_changes_limit > 0) item.pin_changes_limit = cord.pin_changes_limit;
    return item;
}

} // namespace

KitHistory::KitHistory(JobState const& state)
    : state_(state)
{
    for (Instrument const& instrument : state.settings.instruments) add(item_of_sheet(instrument));
    for (Cord const& cord : state.settings.cords) add(item_of_sheet(cord));
    for (KitItem const& item : state.kit.items) {
        registered_.insert(item.serial);
        add(item);
    }
}

void KitHistory::add(KitItem item)
{
    auto const [place, is_new] = entries_.try_emplace(item.serial);
    if (is_new) serials_.push_back(item.serial);
    place->second.push_back(std::move(item));
}

std::int64_t KitHistory::counts_from(std::string_view serial) const
{
    std::int64_t from = INT64_MIN;
    auto const known = entries_.find(serial);
    if (known == entries_.end()) return from;
    for (KitItem const& entry : known->second) {
        if (entry.counts_anew) from = entry.at.ms;
    }
    return from;
}

std::optional<Calibration> KitHistory::calibration(std::string_view serial, setup::Day on) const
{
    auto const known = entries_.find(serial);
    if (known == entries_.end()) return std::nullopt;
    Calibration found;
    bool any = false;
    bool const registered = is_registered(serial);
    for (KitItem const& entry : known->second) {
        // Once an item is registered, what the job sheet said no longer counts.
        bool const of_sheet = entry.at.ms == 0 && entry.person.empty();
        if (registered && of_sheet) continue;
        // A calibration that was made later says nothing about the time before it.
        if (entry.calibrated && *entry.calibrated > on) {
            if (!any) found = {entry.calibrated, entry.calibration_due, true};
            continue;
        }
        // A later entry on the same calibration corrects it. An entry without a date comes before any other.
        if (any && entry.calibrated < found.made) continue;
        found = {entry.calibrated, entry.calibration_due, false};
        any = true;
    }
    return found;
}

std::optional<KitItem> KitHistory::item_at(std::string_view serial, Instant at) const
{
    auto const known = entries_.find(serial);
    if (known == entries_.end()) return std::nullopt;
    KitItem item = known->second.front();
    for (KitItem const& entry : known->second) {
        if (!(at < entry.at)) item = entry;
    }
    if (item.sort != KitSort::cord) return item;
    for (PinsChanged const& change : state_.kit.pin_changes) {
        // What an entry says of the pins is valid until a later change.
        if (change.item != serial || at < change.at || change.at < item.at) continue;
        item.cord.ends[change.end == 0 ? 0 : 1].plug.pins = change.to;
    }
    return item;
}

std::optional<Calibration> calibration_for(JobState const& state, std::string_view serial, setup::Day on)
{
    return KitHistory(state).calibration(serial, on);
}

std::optional<setup::Day> calibrated_until(KitHistory const& history, std::string_view serial, setup::Day on)
{
    auto const found = history.calibration(serial, on);
    if (!found) return std::nullopt;
    if (found->made_later) return setup::Day{on.days - 1}; // what is known began only afterwards
    return found->due;
}

std::optional<setup::Day> calibrated_until(JobState const& state, std::string_view serial, setup::Day on)
{
    return calibrated_until(KitHistory(state), serial, on);
}

std::optional<KitItem> item_at(JobState const& state, std::string_view serial, Instant at)
{
    return KitHistory(state).item_at(serial, at);
}

std::string calibration_override(JobState const& state, std::string_view serial, Instant by)
{
    std::string said;
    for (KitOverride const& decision : state.kit.overrides) {
        bool const covers = std::find(decision.about.begin(), decision.about.end(),
                                      setup::FitnessMatter::calibration) != decision.about.end();
        if (covers && decision.item == serial && !(by < decision.at))
            said = fmt::format("{}: {}", decision.person, decision.reason);
    }
    return said;
}

} // namespace guidepin::job
