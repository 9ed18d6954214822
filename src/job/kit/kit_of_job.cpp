// SPDX-License-Identifier: Apache-2.0
#include "job/kit/kit_of_job.hpp"

#include "base/text.hpp"
#include "job/kit/kit_book.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// A job sheet names the cord of a cord check as the substitution cord.
setup::Roles roles_of(Cord const& cord)
{
    setup::Role const role = cord.role.value_or(setup::Role::substitution);
    switch (role) {
    case setup::Role::launch:
    case setup::Role::tail:
        return setup::Roles::only({role});
    case setup::Role::changer:
        return setup::Roles::only({setup::Role::changer, setup::Role::known});
    case setup::Role::substitution:
    case setup::Role::known:
        break;
    }
    return setup::Roles::only({setup::Role::substitution, setup::Role::known});
}

/// The cord with the pins as last changed after its latest entry.
setup::Cord with_pins_now(JobState const& state, KitItem const& item)
{
    setup::Cord cord = item.cord;
    for (PinsChanged const& change : state.kit.pin_changes) {
        if (change.item != item.serial || change.at < item.at) continue;
        if (change.end != 0 && change.end != 1) continue;
        plant::ConnectorEnd& plug = cord.ends[static_cast<std::size_t>(change.end)].plug;
        if (plug.family.key != plant::Family::Key::duplex) plug.pins = change.to;
    }
    return cord;
}

template <class May>
std::vector<std::string> serials_in_kit(JobState const& state, May const& may)
{
    KitHistory const history(state);
    std::vector<std::string> serials;
    for (std::string const& serial : history.serials()) {
        KitItem const& item = history.latest(serial);
        if (!item.removed && may(item)) serials.push_back(serial);
    }
    return serials;
}

} // namespace

KitFile kit_now(JobState const& state)
{
    KitFile file;
    file.limits = state.kit.limits.empty() ? std::optional<setup::RegisterLimits>{} : limits_now(state);
    KitHistory const history(state);
    for (std::string const& serial : history.serials()) {
        KitItem const& item = history.latest(serial);
        if (!history.is_registered(serial) || item.removed) continue;
        switch (item.sort) {
        case KitSort::source:
        case KitSort::meter: {
            KitInstrument instrument;
            instrument.role = item.sort == KitSort::meter ? InstrumentRole::meter : InstrumentRole::source;
            instrument.entry.serial = item.serial;
            instrument.entry.name = item.name;
            Calibration const latest = *history.calibration(serial, {});
            instrument.entry.calibrated = latest.made;
            instrument.entry.calibration_due = latest.due;
            instrument.port = item.port;
            instrument.wavelengths = item.wavelengths;
            file.instruments.push_back(std::move(instrument));
            break;
        }
        case KitSort::cord:
            file.kit.cords.push_back(with_pins_now(state, item));
            break;
        case KitSort::adapter:
            file.kit.adapters.push_back({item.keys, item.family, item.count});
            break;
        case KitSort::pin_tool:
            file.kit.pin_tools.push_back({item.serial, item.family});
            break;
        }
    }
    return file;
}

KitFile kit_of_settings(Settings const& settings, std::vector<std::string>& remarks)
{
    KitFile kit;
    for (Instrument const& each : settings.instruments) {
        auto const family = plant::parse_family(each.family);
        if (!family) continue;
        KitInstrument instrument;
        instrument.role = role_of(each);
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
        setup::Cord cord = setup::cord_of(each.id, *family, {each.pins_near, each.exchangeable_pins},
                                          {each.pins_far, each.exchangeable_pins}, each.face);
        cord.type = each.type;
        cord.grade = each.grade;
        cord.length = each.length;
        cord.glass = {each.face == plant::Face::angled ? facts::FibreKind::single_mode
                                                       : facts::FibreKind::multimode,
                      0};
        cord.roles = roles_of(each);
        exchangeable = exchangeable || each.exchangeable_pins;
        kit.kit.cords.push_back(std::move(cord));
    }
    for (auto const family : {plant::Family::Key::mpo12, plant::Family::Key::mpo16}) {
        kit.kit.adapters.push_back({plant::KeyRelation::opposed, family, 4});
        kit.kit.adapters.push_back({plant::KeyRelation::aligned, family, 4});
        if (exchangeable) kit.kit.pin_tools.push_back({"pin tool", family});
    }
    remarks.emplace_back(
        "The kit comes from the job sheet, which does not name fibre or adapters: angled cords "
        "and ports count as single-mode, flat ones as multimode, and loose adapters count as "
        "available. A kit file states all of it.");
    return kit;
}

KitFile kit_of_job(JobState const& state, std::vector<std::string>& remarks)
{
    KitFile kit = kit_now(state);
    if (!kit.instruments.empty()) return kit;
    return kit_of_settings(state.settings, remarks);
}

std::vector<std::string> usable_as(JobState const& state, InstrumentRole role)
{
    KitSort const wanted = role == InstrumentRole::meter ? KitSort::meter : KitSort::source;
    return serials_in_kit(state, [&](KitItem const& item) { return item.sort == wanted; });
}

std::vector<std::string> usable_as(JobState const& state, setup::Role role)
{
    return serials_in_kit(state, [&](KitItem const& item) {
        if (item.sort != KitSort::cord) return false;
        return item.cord.roles.may(role) ||
               (role == setup::Role::substitution && item.cord.roles.may(setup::Role::known));
    });
}

std::vector<KitItem> items_of(KitFile const& file)
{
    std::vector<KitItem> items;
    for (KitInstrument const& instrument : file.instruments) {
        KitItem item;
        item.serial = instrument.entry.serial;
        item.sort = instrument.role == InstrumentRole::meter ? KitSort::meter : KitSort::source;
        item.name = instrument.entry.name;
        item.port = instrument.port;
        item.wavelengths = instrument.wavelengths;
        item.calibrated = instrument.entry.calibrated;
        item.calibration_due = instrument.entry.calibration_due;
        item.family = instrument.port.face.family.key;
        items.push_back(std::move(item));
    }
    for (setup::Cord const& cord : file.kit.cords) {
        KitItem item;
        item.serial = cord.id;
        item.sort = KitSort::cord;
        item.cord = cord;
        item.family = cord.ends[0].plug.family.key;
        items.push_back(std::move(item));
    }
    for (setup::AdapterStock const& stock : file.kit.adapters) {
        if (stock.count < 1) continue;
        KitItem item;
        item.sort = KitSort::adapter;
        item.keys = stock.keys;
        item.family = stock.family;
        item.count = stock.count;
        // Adapters carry no serial: the stock of one kind is one item.
        item.serial = fmt::format("adapters {} {}", plant::name_of(stock.keys),
                                  stock.family == plant::Family::Key::mpo16 ? "mpo-16" : "mpo-12");
        auto const same = std::find_if(items.begin(), items.end(),
                                       [&](KitItem const& other) { return other.serial == item.serial; });
        if (same != items.end()) {
            same->count += item.count;
        } else {
            items.push_back(std::move(item));
        }
    }
    for (setup::PinTool const& tool : file.kit.pin_tools) {
        KitItem item;
        item.sort = KitSort::pin_tool;
        item.serial = tool.id;
        item.family = tool.family;
        items.push_back(std::move(item));
    }
    return items;
}

} // namespace guidepin::job
