// SPDX-License-Identifier: Apache-2.0
#include "job/sheet/kit_file.hpp"

#include "job/sheet/sheet_reader.hpp"
#include "plant/presets.hpp"
#include "units/instant.hpp"

#include <map>

namespace guidepin::job {

namespace {

using plant::Face;
using plant::Pins;
using plant::Slope;

constexpr double longest_cord_m = 100;
constexpr int most_adapters = 10'000;
constexpr std::int64_t ms_a_day = 86'400'000;
std::vector<std::string> const families{"mpo-12", "mpo-16", "mpo-24", "mpo-32"};

/// Serials that stand in the file so far, with their lines.
class Serials
{
  public:
    void note(SheetReader& reader, std::string const& serial)
    {
        if (serial.empty()) return reader.fault("serial is missing; write serial = \"…\" as on the item");
        auto const [known, first] = lines_.emplace(serial, reader.line());
        if (!first) {
            reader.fault(fmt::format("serial \"{}\" is used in line {} already; give each item its own",
                                     serial, known->second));
        }
    }

  private:
    std::map<std::string, int> lines_;
};

void read_family(SheetReader& reader, plant::Family& family)
{
    std::string name = family.name();
    reader.text("family", name, families);
    family = plant::parse_family(name).value();
}

void read_day(SheetReader& reader, std::string const& key, std::optional<setup::Day>& day)
{
    std::string written;
    reader.date(key, written);
    if (written.empty()) return;
    auto const read = parse_day(written);
    if (read) {
        day = *read;
    } else {
        reader.fault(key + ": " + read.error().message);
    }
}

setup::RegisterLimits read_limits(SheetReader& reader)
{
    setup::RegisterLimits limits;
    int matings = 0, pin_changes = 0;
    reader.whole("matings", matings, 1, 1'000'000);
    reader.whole("pin-changes", pin_changes, 1, 1'000'000);
    if (matings > 0) limits.matings = matings;
    if (pin_changes > 0) limits.pin_changes = pin_changes;
    reader.number("warn-at", limits.warn_at, 0.1, 1);
    reader.whole("calibration-warning-days", limits.calibration_warning_days, 0, 3660);
    reader.truth("end-faces-required", limits.end_faces_required);
    reader.finish();
    return limits;
}

KitInstrument read_instrument(SheetReader& reader, Serials& serials)
{
    KitInstrument instrument;
    std::string role;
    reader.text("serial", instrument.entry.serial);
    reader.text("role", role, {"source", "meter"});
    reader.text("name", instrument.entry.name);
    plant::Family family;
    Pins pins = Pins::pinned;
    Face face = Face::flat;
    plant::KeyRelation keys = plant::KeyRelation::aligned;
    read_family(reader, family);
    reader.parsed("pins", pins, [](std::string const& t) { return plant::parse_pins(t); });
    reader.parsed("face", face, [](std::string const& t) { return plant::parse_face(t); });
    reader.parsed("keys", keys, [](std::string const& t) { return plant::parse_key_relation(t); });
    if (auto wavelengths = reader.wavelengths("wavelengths"))
        instrument.wavelengths = std::move(*wavelengths);
    read_day(reader, "calibrated", instrument.entry.calibrated);
    read_day(reader, "calibration-due", instrument.entry.calibration_due);
    reader.finish();
    serials.note(reader, instrument.entry.serial);
    if (role.empty()) reader.fault("role is missing or wrong; write role = \"source\" or \"meter\"");
    instrument.role = role == "meter" ? InstrumentRole::meter : InstrumentRole::source;
    if (pins == Pins::neutral && instrument.role == InstrumentRole::source) {
        reader.fault("pins = \"neutral\" is for a meter whose port does not touch the plug; a source's port "
                     "is pinned or unpinned");
    }
    if (instrument.entry.calibrated && instrument.entry.calibration_due &&
        *instrument.entry.calibration_due < *instrument.entry.calibrated) {
        reader.fault(fmt::format("calibration-due {} lies before calibrated {}",
                                 day_text(*instrument.entry.calibration_due),
                                 day_text(*instrument.entry.calibrated)));
    }
    instrument.port = setup::port_of(family, pins, face, keys);
    return instrument;
}

/// pins-near, face-near, slope-near, and what both ends share.
void read_cord_end(SheetReader& reader, std::string const& side, plant::Occupancy const& occupied, Face face,
                   setup::CordEnd& end, plant::Family const& family)
{
    Pins pins = Pins::unpinned;
    reader.parsed("pins-" + side, pins, [](std::string const& t) { return plant::parse_pins(t); });
    reader.parsed("face-" + side, face, [](std::string const& t) { return plant::parse_face(t); });
    std::string slope;
    reader.text("slope-" + side, slope, {"down", "up"});
    end.plug = setup::plug_of(family, pins, face);
    end.plug.occupied = occupied;
    if (slope.empty()) return;
    if (face == Face::flat) return reader.fault("slope-" + side + ": a flat face has no slope; take it out");
    end.plug.slope = slope == "up" ? Slope::up : Slope::down;
}

/// The fibre: by category from the tables, or said outright.
void read_glass(SheetReader& reader, facts::Tables const& tables, setup::Cord& cord)
{
    std::string fibre;
    double core = 0;
    reader.text("category", cord.category);
    reader.text("fibre", fibre, {"multimode", "single-mode"});
    reader.number("core-um", core, 1, 200);
    cord.glass = {fibre == "single-mode" ? facts::FibreKind::single_mode : facts::FibreKind::multimode, core};
    if (cord.category.empty()) return;
    auto const category = tables.category(cord.category);
    if (!category) return reader.fault("category: " + category.error().message);
    facts::FibreCategory const& known = **category;
    setup::Glass const glass{known.kind, known.kind == facts::FibreKind::multimode ? known.core_um : 0};
    if (!fibre.empty() && fibre != facts::name_of(glass.kind)) {
        reader.fault(fmt::format("category {} is {} fibre, and fibre says {}; take one out", cord.category,
                                 facts::name_of(glass.kind), fibre));
    }
    if (core > 0 && glass.kind == facts::FibreKind::multimode && core != glass.core_um) {
        reader.fault(fmt::format("category {} has a core of {} um, and core-um says {}; take one out",
                                 cord.category, number_text(glass.core_um), number_text(core)));
    }
    cord.glass = glass;
}

void read_roles(SheetReader& reader, setup::Roles& roles)
{
    auto const* const node = reader.take("roles");
    if (!node) return;
    auto const* const list = node->as_array();
    bool good = list && !list->empty();
    setup::Roles read = setup::Roles::only({});
    for (std::size_t i = 0; good && i < list->size(); ++i) {
        auto const role = setup::parse_role(list->get(i)->value_or(std::string()));
        good = role.has_value();
        if (role) read.allowed[static_cast<std::size_t>(*role)] = true;
    }
    if (!good) {
        return reader.wrong(*node, "roles",
                            "a list out of \"launch\", \"tail\", \"substitution\", \"changer\", \"known\"");
    }
    roles = read;
}

setup::Cord read_cord(SheetReader& reader, facts::Tables const& tables, Serials& serials)
{
    setup::Cord cord;
    reader.text("serial", cord.id);
    read_roles(reader, cord.roles);
    plant::Family family;
    read_family(reader, family);
    cord.type = family.rows == 1 ? "B" : "I-B";
    reader.text("type", cord.type);
    read_glass(reader, tables, cord);
    reader.lengths("length", cord.length, longest_cord_m);
    reader.grade("grade", cord.grade);
    plant::Occupancy occupied = plant::all_positions(family);
    reader.parsed("fibres", occupied,
                  [&family](std::string const& t) { return plant::parse_occupancy(t, family); });
    Face face = Face::flat;
    reader.parsed("face", face, [](std::string const& t) { return plant::parse_face(t); });
    read_cord_end(reader, "near", occupied, face, cord.ends[0], family);
    // The far end's fibres are those of the near end, led there by the type.
    if (auto const map = plant::cable_map(cord.type, family)) {
        plant::Occupancy far;
        for (int const p : plant::positions_of(occupied)) {
            if (int const q = map->at(p); q > 0) far.set(static_cast<std::size_t>(q - 1));
        }
        occupied = far;
    }
    read_cord_end(reader, "far", occupied, face, cord.ends[1], family);
    std::string exchangeable = "none";
    reader.text("pins-exchangeable", exchangeable, {"none", "near", "far", "both"});
    cord.ends[0].pins_exchangeable = exchangeable == "near" || exchangeable == "both";
    cord.ends[1].pins_exchangeable = exchangeable == "far" || exchangeable == "both";
    reader.finish();
    serials.note(reader, cord.id);
    if (!cord.id.empty()) {
        setup::Kit one;
        one.cords.push_back(cord);
        if (auto const held = setup::check_kit(one); !held) reader.fault(held.error().message);
    }
    return cord;
}

setup::AdapterStock read_adapter(SheetReader& reader)
{
    setup::AdapterStock stock;
    reader.parsed("keys", stock.keys, [](std::string const& t) { return plant::parse_key_relation(t); });
    plant::Family family;
    read_family(reader, family);
    stock.family = family.key;
    reader.whole("count", stock.count, 0, most_adapters);
    reader.finish();
    return stock;
}

setup::PinTool read_pin_tool(SheetReader& reader, Serials& serials)
{
    setup::PinTool tool;
    reader.text("serial", tool.id);
    plant::Family family;
    read_family(reader, family);
    tool.family = family.key;
    reader.finish();
    serials.note(reader, tool.id);
    return tool;
}

} // namespace

InstrumentRole role_of(Instrument const& instrument)
{
    return instrument.role.value_or(InstrumentRole::source);
}

bool KitInstrument::serves(facts::FibreKind kind) const
{
    if (wavelengths.empty()) return true;
    // 850 to 1300 nm is where multimode is measured, 1310 nm and up where single-mode is: the windows of
    // every rule set of the tables.
    return std::any_of(wavelengths.begin(), wavelengths.end(), [kind](Nanometres wavelength) {
        return (wavelength.value() < 1310) == (kind == facts::FibreKind::multimode);
    });
}

Result<setup::Day> parse_day(std::string_view text)
{
    auto const midnight = text.size() == 10 ? parse_instant(std::string(text) + "T00:00Z") : std::nullopt;
    if (!midnight)
        return Error{Errc::invalid_input,
                     fmt::format("\"{}\" is no day; write it as 2026-03-02", std::string(text))};
    return setup::Day{static_cast<int>(midnight->ms / ms_a_day - (midnight->ms % ms_a_day < 0 ? 1 : 0))};
}

std::string day_text(setup::Day day)
{
    return date_text(Instant{day.days * ms_a_day, 0});
}

Result<KitFile> kit_from_file(facts::NamedText const& file, facts::Tables const& tables)
{
    std::vector<std::string> problems;
    TRY_ASSIGN(toml::table const root, parse_sheet(file));
    KitFile kit;
    Serials serials;
    std::vector<std::string> const sections{"limits", "instrument", "cord", "adapter", "pin-tool"};
    for (auto const& [key, node] : root) {
        std::string const name(key.str());
        if (std::find(sections.begin(), sections.end(), name) == sections.end()) {
            problems.push_back(fmt::format("{} line {}: there is no section \"{}\"; sections are {}",
                                           file.name, node.source().begin.line, name,
                                           joined(sections, ", ")));
        } else if (name == "limits" && !node.is_table()) {
            problems.push_back(fmt::format("{} line {}: write limits as a section, [limits]", file.name,
                                           node.source().begin.line));
        }
    }
    if (auto const* const limits = root["limits"].as_table()) {
        SheetReader reader(*limits, "limits", file.name, problems);
        kit.limits = read_limits(reader);
    }
    each_table(root, "instrument", file.name, problems,
               [&](SheetReader& reader) { kit.instruments.push_back(read_instrument(reader, serials)); });
    each_table(root, "cord", file.name, problems,
               [&](SheetReader& reader) { kit.kit.cords.push_back(read_cord(reader, tables, serials)); });
    each_table(root, "adapter", file.name, problems,
               [&](SheetReader& reader) { kit.kit.adapters.push_back(read_adapter(reader)); });
    each_table(root, "pin-tool", file.name, problems,
               [&](SheetReader& reader) { kit.kit.pin_tools.push_back(read_pin_tool(reader, serials)); });
    if (!problems.empty()) return Error{Errc::invalid_input, joined(problems, "\n")};
    return kit;
}

} // namespace guidepin::job
