// SPDX-License-Identifier: Apache-2.0
// The job sheet: TOML that a test lead writes once per contract.
#include "job/settings.hpp"
#include "job/sheet_reader.hpp"

#include <cstdint>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

Result<setup::ReferenceMethod> method_from(std::string const& text)
{
    auto const method = setup::parse_reference_method(text);
    if (!method) return Error{Errc::invalid_input, "one-cord, two-cord or three-cord"};
    return *method;
}

Result<std::int16_t> zone_from(std::string const& text)
{
    auto const instant = parse_instant("2000-01-01T00:00" + text);
    if (!instant) return Error{Errc::invalid_input, "an offset from UTC such as \"+01:00\" or \"Z\""};
    return instant->offset_minutes;
}

Instrument read_instrument(SheetReader& reader)
{
    Instrument instrument;
    reader.text("id", instrument.id);
    reader.text("role", instrument.role, {"source", "meter"});
    reader.text("description", instrument.description);
    reader.text("family", instrument.family, {"mpo-12", "mpo-16", "mpo-24", "mpo-32"});
    reader.parsed("pins", instrument.pins, [](std::string const& t) { return plant::parse_pins(t); });
    reader.parsed("face", instrument.face, [](std::string const& t) { return plant::parse_face(t); });
    reader.date("calibrated", instrument.calibrated);
    reader.date("calibration-due", instrument.calibration_due);
    reader.finish();
    return instrument;
}

Cord read_cord(SheetReader& reader)
{
    Cord cord;
    reader.text("id", cord.id);
    reader.text("role", cord.role, {"launch", "tail", "substitution", "changer"});
    reader.text("type", cord.type);
    reader.text("family", cord.family, {"mpo-12", "mpo-16", "mpo-24", "mpo-32"});
    reader.lengths("length", cord.length, 100);
    reader.grade("grade", cord.grade);
    reader.parsed("pins-near", cord.pins_near, [](std::string const& t) { return plant::parse_pins(t); });
    reader.parsed("pins-far", cord.pins_far, [](std::string const& t) { return plant::parse_pins(t); });
    reader.parsed("face", cord.face, [](std::string const& t) { return plant::parse_face(t); });
    reader.truth("exchangeable-pins", cord.exchangeable_pins);
    reader.whole("matings-limit", cord.matings_limit, 0, 1'000'000);
    reader.whole("pin-changes-limit", cord.pin_changes_limit, 0, 1'000'000);
    reader.finish();
    return cord;
}

void read_rules(SheetReader& reader, Settings& settings)
{
    reader.text("rule-set", settings.rule_set);
    reader.text("rule-file", settings.rule_file_name);
    reader.text("overrides-file", settings.overrides_file_name);
    reader.truth("require-length", settings.require_length);
    reader.truth("require-polarity", settings.require_polarity);
    reader.parsed("method", settings.method, method_from);
    reader.grade("cord-grade", settings.cord_grade);
    reader.text("decision", settings.decision_rule,
                {"simple-acceptance", "guarded-acceptance", "guarded-rejection"});
    reader.number("guard-probability", settings.guard_probability, 0.5, 0.9999);
    reader.whole("directions", settings.directions, 1, 2);
    reader.truth("used-positions-only", settings.used_positions_only);
    reader.number("length-tolerance-fraction", settings.length_tolerance_fraction, 0, 1);
    reader.lengths("length-tolerance", settings.length_tolerance, 1000);
    reader.number("reference-age-hours", settings.reference_age_hours, 0.1, 1000);
    reader.truth("measured-as-channel", settings.single_channel);
    for (auto const kind : {facts::FibreKind::multimode, facts::FibreKind::single_mode}) {
        std::string const key = fmt::format("wavelengths-{}", facts::name_of(kind));
        if (auto wavelengths = reader.wavelengths(key)) settings.wavelengths[kind] = std::move(*wavelengths);
    }
    reader.finish();
}

} // namespace

Result<Settings> settings_from_sheet(facts::NamedText const& sheet)
{
    Settings settings;
    std::vector<std::string> problems;
    TRY_ASSIGN(toml::table const root, parse_sheet(sheet));
    toml::table const none;
    auto const section = [&](char const* key) -> toml::table const& {
        auto const* const table = root[key].as_table();
        return table ? *table : none;
    };
    {
        SheetReader reader(section("job"), "job", sheet.name, problems);
        reader.text("title", settings.title);
        reader.text("client", settings.client);
        reader.text("site", settings.site);
        reader.text("contractor", settings.contractor);
        reader.text("contract", settings.contract);
        reader.finish();
    }
    {
        SheetReader reader(section("rules"), "rules", sheet.name, problems);
        read_rules(reader, settings);
    }
    {
        SheetReader reader(section("writing"), "writing", sheet.name, problems);
        reader.text("decimal", settings.decimal, {".", ","});
        reader.text("length-unit", settings.length_unit, {"m", "ft"});
        reader.text("dates", settings.date_order, {"iso", "dmy", "mdy"});
        reader.text("paper", settings.paper, {"a4", "letter"});
        reader.parsed("zone", settings.zone_offset_minutes, zone_from);
        reader.finish();
    }
    each_table(root, "instrument", sheet.name, problems,
               [&](SheetReader& reader) { settings.instruments.push_back(read_instrument(reader)); });
    each_table(root, "cord", sheet.name, problems,
               [&](SheetReader& reader) { settings.cords.push_back(read_cord(reader)); });
    each_table(root, "uncertainty", sheet.name, problems, [&](SheetReader& reader) {
        UncertaintyOverride contribution;
        reader.text("id", contribution.id);
        reader.number("value", contribution.value, 0, 10);
        reader.finish();
        settings.uncertainty.push_back(contribution);
    });
    std::vector<std::string> const sections{"job", "rules", "writing", "instrument", "cord", "uncertainty"};
    for (auto const& [key, node] : root) {
        std::string const name(key.str());
        if (std::find(sections.begin(), sections.end(), name) != sections.end()) {
            if (!node.is_table() && (name == "job" || name == "rules" || name == "writing")) {
                problems.push_back(fmt::format("{} line {}: write {} as a section, [{}]", sheet.name,
                                               node.source().begin.line, name, name));
            }
            continue;
        }
        problems.push_back(fmt::format("{} line {}: there is no section \"{}\"; sections are {}", sheet.name,
                                       node.source().begin.line, name, joined(sections, ", ")));
    }
    for (std::size_t i = 0; i < settings.instruments.size(); ++i) {
        if (settings.instruments[i].id.empty() || settings.instruments[i].role.empty()) {
            problems.push_back(
                fmt::format("{}: instrument {}: id and role must be given", sheet.name, i + 1));
        }
    }
    for (std::size_t i = 0; i < settings.cords.size(); ++i) {
        if (settings.cords[i].id.empty() || settings.cords[i].role.empty()) {
            problems.push_back(fmt::format("{}: cord {}: id and role must be given", sheet.name, i + 1));
        }
    }
    if (!problems.empty()) return Error{Errc::invalid_input, joined(problems, "\n")};
    return settings;
}

} // namespace guidepin::job
