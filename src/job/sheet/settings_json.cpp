// SPDX-License-Identifier: Apache-2.0
#include "job/sheet/settings.hpp"

#include "facts/overrides.hpp"

#include <cmath>
#include <stdexcept>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::job {

namespace {
using Json = nlohmann::json;

Json instrument_json(Instrument const& instrument)
{
    return {{"id", instrument.id},
            {"role", instrument.role ? name_of(*instrument.role) : ""},
            {"description", instrument.description},
            {"family", instrument.family},
            {"pins", plant::name_of(instrument.pins)},
            {"face", plant::name_of(instrument.face)},
            {"ends_stated", instrument.ends_stated},
            {"calibrated", instrument.calibrated},
            {"calibration_due", instrument.calibration_due}};
}

Json cord_json(Cord const& cord)
{
    return {{"id", cord.id},
            {"role", cord.role ? setup::name_of(*cord.role) : ""},
            {"type", cord.type},
            {"family", cord.family},
            {"length_m", cord.length.value()},
            {"grade", facts::name_of(cord.grade)},
            {"pins_near", plant::name_of(cord.pins_near)},
            {"pins_far", plant::name_of(cord.pins_far)},
            {"exchangeable_pins", cord.exchangeable_pins},
            {"face", plant::name_of(cord.face)},
            {"ends_stated", cord.ends_stated},
            {"matings_limit", cord.matings_limit},
            {"pin_changes_limit", cord.pin_changes_limit}};
}

/// Throws where `value` is no number of that size, so that a strange record cannot bring in any other one.
int whole_number(Json const& value, double most)
{
    auto const number = value.get<double>();
    if (!(std::abs(number) <= most))
        throw std::out_of_range(fmt::format("it holds the number {}; the most is {}", number, most));
    return static_cast<int>(number);
}

int whole_number_or(Json const& object, char const* key, int fallback, double most = 1'000'000)
{
    auto const found = object.find(key);
    return found == object.end() ? fallback : whole_number(*found, most);
}
} // namespace

std::string settings_to_json(Settings const& s)
{
    Json wavelengths = Json::object();
    for (auto const& [kind, list] : s.wavelengths) {
        Json values = Json::array();
        for (Nanometres const wavelength : list) values.push_back(wavelength.value());
        wavelengths[facts::name_of(kind)] = values;
    }
    Json uncertainty = Json::array();
    for (auto const& u : s.uncertainty) uncertainty.push_back({{"id", u.id}, {"value_db", u.value}});
    Json instruments = Json::array();
    for (auto const& instrument : s.instruments) instruments.push_back(instrument_json(instrument));
    Json cords = Json::array();
    for (auto const& cord : s.cords) cords.push_back(cord_json(cord));
    Json const json = {{"title", s.title},
                       {"client", s.client},
                       {"site", s.site},
                       {"contractor", s.contractor},
                       {"contract", s.contract},
                       {"rule_set", s.rule_set},
                       {"rule_file_name", s.rule_file_name},
                       {"rule_text", s.rule_text},
                       {"overrides_file_name", s.overrides_file_name},
                       {"overrides_text", s.overrides_text},
                       {"require_length", s.require_length},
                       {"require_polarity", s.require_polarity},
                       {"method", setup::name_of(s.method)},
                       {"cord_grade", facts::name_of(s.cord_grade)},
                       {"decision_rule", verdict::name_of(s.decision_rule)},
                       {"guard_probability", s.guard_probability},
                       {"wavelengths", wavelengths},
                       {"directions", s.directions},
                       {"used_positions_only", s.used_positions_only},
                       {"length_tolerance_fraction", s.length_tolerance_fraction},
                       {"length_tolerance_m", s.length_tolerance.value()},
                       {"reference_age_hours", s.reference_age_hours},
                       {"measured_as_channel", s.single_channel},
                       {"uncertainty", uncertainty},
                       {"instruments", instruments},
                       {"cords", cords},
                       {"decimal", s.decimal},
                       {"length_unit", s.length_unit},
                       {"date_order", s.date_order},
                       {"paper", s.paper},
                       {"zone_offset_minutes", s.zone_offset_minutes}};
    return json.dump();
}

Result<Settings> settings_from_json(std::string_view text)
{
    Json const json = Json::parse(text, nullptr, false);
    if (!json.is_object()) return Error{Errc::damaged, "The job's settings record is not a JSON object"};
    Settings s;
    try {
        s.title = json.value("title", "");
        s.client = json.value("client", "");
        s.site = json.value("site", "");
        s.contractor = json.value("contractor", "");
        s.contract = json.value("contract", "");
        s.rule_set = json.value("rule_set", s.rule_set);
        s.rule_file_name = json.value("rule_file_name", "");
        s.rule_text = json.value("rule_text", "");
        s.overrides_file_name = json.value("overrides_file_name", "");
        s.overrides_text = json.value("overrides_text", "");
        s.require_length = json.value("require_length", s.require_length);
        s.require_polarity = json.value("require_polarity", s.require_polarity);
        s.method = setup::parse_reference_method(json.value("method", "one-cord")).value_or(s.method);
        s.cord_grade = facts::parse_cord_grade(json.value("cord_grade", "reference")).value_or(s.cord_grade);
        s.decision_rule =
            verdict::parse_decision_rule(json.value("decision_rule", "")).value_or(s.decision_rule);
        s.guard_probability = json.value("guard_probability", s.guard_probability);
        Json const wavelengths = json.value("wavelengths", Json::object());
        for (auto const& [kind, values] : wavelengths.items()) {
            auto const parsed = facts::parse_fibre_kind(kind);
            if (!parsed) continue;
            for (auto const& value : values)
                s.wavelengths[*parsed].emplace_back(whole_number(value, 1'000'000));
        }
        s.directions = whole_number_or(json, "directions", s.directions);
        s.used_positions_only = json.value("used_positions_only", false);
        s.length_tolerance_fraction = json.value("length_tolerance_fraction", s.length_tolerance_fraction);
        s.length_tolerance = Metres{json.value("length_tolerance_m", s.length_tolerance.value())};
        s.reference_age_hours = json.value("reference_age_hours", s.reference_age_hours);
        s.single_channel = json.value("measured_as_channel", false);
        for (auto const& u : json.value("uncertainty", Json::array()))
            s.uncertainty.push_back({u.value("id", ""), u.value("value_db", 0.0)});
        for (auto const& i : json.value("instruments", Json::array())) {
            Instrument instrument;
            instrument.id = i.value("id", "");
            instrument.role = parse_instrument_role(i.value("role", ""));
            instrument.description = i.value("description", "");
            instrument.family = i.value("family", instrument.family);
            instrument.pins = plant::parse_pins(i.value("pins", "pinned")).value_or(instrument.pins);
            instrument.face = plant::parse_face(i.value("face", "flat")).value_or(instrument.face);
            instrument.ends_stated = i.value("ends_stated", false);
            instrument.calibrated = i.value("calibrated", "");
            instrument.calibration_due = i.value("calibration_due", "");
            s.instruments.push_back(std::move(instrument));
        }
        for (auto const& c : json.value("cords", Json::array())) {
            Cord cord;
            cord.id = c.value("id", "");
            cord.role = setup::parse_role(c.value("role", ""));
            cord.type = c.value("type", cord.type);
            cord.family = c.value("family", cord.family);
            cord.length = Metres{c.value("length_m", cord.length.value())};
            cord.grade = facts::parse_cord_grade(c.value("grade", "reference")).value_or(cord.grade);
            cord.pins_near = plant::parse_pins(c.value("pins_near", "unpinned")).value_or(cord.pins_near);
            cord.pins_far = plant::parse_pins(c.value("pins_far", "unpinned")).value_or(cord.pins_far);
            cord.exchangeable_pins = c.value("exchangeable_pins", false);
            cord.face = plant::parse_face(c.value("face", "flat")).value_or(cord.face);
            cord.ends_stated = c.value("ends_stated", false);
            cord.matings_limit = whole_number_or(c, "matings_limit", 0);
            cord.pin_changes_limit = whole_number_or(c, "pin_changes_limit", 0);
            s.cords.push_back(std::move(cord));
        }
        s.decimal = json.value("decimal", s.decimal);
        s.length_unit = json.value("length_unit", s.length_unit);
        s.date_order = json.value("date_order", s.date_order);
        s.paper = json.value("paper", s.paper);
        s.zone_offset_minutes = static_cast<std::int16_t>(
            whole_number_or(json, "zone_offset_minutes", s.zone_offset_minutes, 24 * 60));
    } catch (std::exception const& error) { // of the JSON library, or whole_number()'s
        return Error{Errc::damaged, std::string("The job's settings record does not read: ") + error.what()};
    }
    return s;
}

verdict::Writing writing_of(Settings const& settings)
{
    return {settings.decimal == "," ? ',' : '.', settings.length_unit == "ft"};
}

Result<facts::Tables> tables_of(Settings const& settings)
{
    if (settings.overrides_text.empty()) return facts::built_in_tables();
    return facts::with_overrides(
        facts::built_in_tables(),
        {settings.overrides_file_name.empty() ? "overrides" : settings.overrides_file_name,
         settings.overrides_text});
}

Result<facts::RuleSet> rule_set_of(Settings const& settings, facts::Tables const& tables)
{
    if (!settings.rule_text.empty()) {
        return facts::load_rule_set(
            {settings.rule_file_name.empty() ? "rule file" : settings.rule_file_name, settings.rule_text},
            tables);
    }
    TRY_ASSIGN(auto const* const rules, tables.rule_set(settings.rule_set));
    return *rules;
}

} // namespace guidepin::job
