// SPDX-License-Identifier: Apache-2.0
#include "job/entry/kit_bodies.hpp"

#include "base/text.hpp"
#include "job/sheet/kit_file.hpp"
#include "record/canonical_json.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using record::JsonValue;
using record::JsonWriter;

constexpr std::array sort_names{"source", "meter", "cord", "adapter", "pin-tool"};
constexpr std::array slope_names{plant::Slope::none, plant::Slope::down, plant::Slope::up};
constexpr std::int64_t ms_per_day = 86'400'000;
constexpr int most_count = 1'000'000;

Error bad(std::string message)
{
    return Error{Errc::invalid_input, std::move(message)};
}

char const* family_name(plant::Family::Key key)
{
    switch (key) {
    case plant::Family::Key::mpo12:
        return "mpo-12";
    case plant::Family::Key::mpo16:
        return "mpo-16";
    case plant::Family::Key::duplex:
        break;
    }
    return "duplex";
}

void write_plug(JsonWriter& json, plant::ConnectorEnd const& plug)
{
    json.key("face").string(plant::name_of(plug.face));
    json.key("fibres").string(plant::occupancy_text(plug.occupied));
    json.key("pins").string(plant::name_of(plug.pins));
    json.key("slope").string(plant::name_of(plug.slope));
}

Outcome read_plug(JsonValue const& json, plant::Family const& family, plant::ConnectorEnd& plug)
{
    plug.family = family;
    TRY_ASSIGN(plug.face, plant::parse_face(json.text_or("face", "flat")));
    TRY_ASSIGN(plug.occupied, plant::parse_occupancy(json.text_or("fibres", "all"), family));
    TRY_ASSIGN(plug.pins, plant::parse_pins(json.text_or("pins", "unpinned")));
    std::string const slope = json.text_or("slope", plug.face == plant::Face::flat ? "none" : "down");
    auto const known = std::find_if(slope_names.begin(), slope_names.end(),
                                    [&](plant::Slope each) { return slope == plant::name_of(each); });
    if (known == slope_names.end()) return bad(fmt::format("Slope \"{}\" is not none, down or up", slope));
    plug.slope = *known;
    return {};
}

void write_cord(JsonWriter& json, setup::Cord const& cord)
{
    json.key("category").string(cord.category);
    json.key("core_um").number(cord.glass.core_um);
    json.key("ends").begin_array();
    for (setup::CordEnd const& end : cord.ends) {
        json.begin_object();
        write_plug(json, end.plug);
        json.key("pins_exchangeable").boolean(end.pins_exchangeable).end_object();
    }
    json.end_array();
    json.key("family").string(cord.ends[0].plug.family.name());
    json.key("fibre_kind").string(facts::name_of(cord.glass.kind));
    json.key("grade").string(facts::name_of(cord.grade));
    json.key("length_m").number(cord.length.value());
    json.key("roles").begin_array();
    for (int i = 0; i < 5; ++i) {
        auto const role = static_cast<setup::Role>(i);
        if (cord.roles.may(role)) json.string(setup::name_of(role));
    }
    json.end_array();
    json.key("type").string(cord.type);
}

Outcome read_cord(JsonValue const& json, KitItem& item)
{
    setup::Cord& cord = item.cord;
    cord.id = item.serial;
    TRY_ASSIGN(plant::Family const family, plant::parse_family(json.text_or("family", "mpo-12")));
    auto const* const ends = json.find("ends");
    if (!ends || !ends->array() || ends->array()->size() != 2)
        return bad(fmt::format("Cord {}: \"ends\" is not a list of two ends", item.serial));
    for (std::size_t i = 0; i < 2; ++i) {
        TRY(read_plug((*ends->array())[i], family, cord.ends[i].plug));
        cord.ends[i].pins_exchangeable = (*ends->array())[i].boolean_or("pins_exchangeable", false);
    }
    cord.type = json.text_or("type", "B");
    cord.category = json.text_or("category");
    cord.glass.kind =
        facts::parse_fibre_kind(json.text_or("fibre_kind")).value_or(facts::FibreKind::multimode);
    cord.glass.core_um = json.number_or("core_um", 0);
    cord.grade = facts::parse_cord_grade(json.text_or("grade")).value_or(facts::CordGrade::reference);
    cord.length = Metres{json.number_or("length_m", 2)};
    if (auto const* const roles = json.find("roles"); roles && roles->array()) {
        cord.roles = setup::Roles::only({});
        for (JsonValue const& name : *roles->array()) {
            auto const role = setup::parse_role(name.string() ? *name.string() : "");
            if (role) cord.roles.allowed[static_cast<std::size_t>(*role)] = true;
        }
    }
    return {};
}

void write_count(JsonWriter& json, char const* name, std::optional<int> count)
{
    if (count) json.key(name).integer(*count);
}

/// A count of a record; what is out of bounds is not cast but refused.
Result<std::optional<int>> read_count(JsonValue const& json, char const* name)
{
    if (!json.find(name)) return std::optional<int>{};
    TRY_ASSIGN(std::int64_t const count, json.integer_of(name));
    if (count < 0 || count > most_count)
        return bad(fmt::format("\"{}\" is {}; a count is from 0 to {}", name, count, most_count));
    return std::optional<int>{static_cast<int>(count)};
}

Result<int> read_end(JsonValue const& json)
{
    std::string const text = json.text_or("end", "near");
    auto const end = parse_end(text);
    if (!end) return bad(fmt::format("End \"{}\" is not near or far", text));
    return *end;
}

Result<std::optional<setup::Day>> read_day(JsonValue const& json, char const* name)
{
    std::string const text = json.text_or(name);
    if (text.empty()) return std::optional<setup::Day>{};
    auto const day = parse_day(text);
    if (!day) return bad(fmt::format("\"{}\" is \"{}\", which is no date", name, text));
    return std::optional<setup::Day>{*day};
}

Outcome check_words(KitItem const& item)
{
    if (trimmed(item.serial).empty() || item.serial.size() > 80)
        return bad("An item of the kit needs a serial number or label of 1 to 80 bytes");
    if (item.removed && trimmed(item.reason).empty())
        return bad(fmt::format("{}: say why it leaves the kit; the reason stays in the record", item.serial));
    if (item.count < 1 || item.count > most_count)
        return bad(
            fmt::format("{}: {} pieces; give a number from 1 to {}", item.serial, item.count, most_count));
    for (int const count : {item.matings_before, item.pin_changes_before, item.matings_limit.value_or(0),
                            item.pin_changes_limit.value_or(0)}) {
        if (count < 0 || count > most_count)
            return bad(
                fmt::format("{}: a count of {}; give a number from 0 to {}", item.serial, count, most_count));
    }
    if (item.sort != KitSort::cord) return {};
    setup::Kit kit;
    kit.cords.push_back(item.cord);
    kit.cords.front().id = item.serial;
    return setup::check_kit(kit);
}

void write_sizes(JsonWriter& json, char const* name, std::vector<double> const& sizes)
{
    json.key(name).begin_array();
    for (double const size : sizes) json.number(size);
    json.end_array();
}

Outcome read_sizes(JsonValue const& json, char const* name, std::vector<double>& into)
{
    auto const* const list = json.find(name);
    if (!list || !list->array()) return {};
    for (JsonValue const& size : *list->array()) {
        if (!size.number()) return bad(fmt::format("\"{}\" holds something that is no number", name));
        into.push_back(*size.number());
    }
    return {};
}

} // namespace

char const* name_of(KitSort sort)
{
    return sort_names[static_cast<std::size_t>(sort)];
}

std::optional<KitSort> parse_kit_sort(std::string_view text)
{
    for (std::size_t i = 0; i < sort_names.size(); ++i) {
        if (text == sort_names[i]) return static_cast<KitSort>(i);
    }
    return std::nullopt;
}

char const* end_name(int end)
{
    return end == 0 ? "near" : "far";
}

std::optional<int> parse_end(std::string_view text)
{
    if (text == "near") return 0;
    if (text == "far") return 1;
    return std::nullopt;
}

setup::Day day_of(Instant const& at)
{
    std::int64_t const local = at.ms + std::int64_t{at.offset_minutes} * 60'000;
    return setup::Day{static_cast<int>(local / ms_per_day - (local % ms_per_day < 0 ? 1 : 0))};
}

Result<std::string> kit_item_body(KitItem const& item)
{
    TRY(check_words(item));
    JsonWriter json;
    json.begin_object();
    if (item.calibrated) json.key("calibrated").string(day_text(*item.calibrated));
    if (item.calibration_due) json.key("calibration_due").string(day_text(*item.calibration_due));
    if (item.sort == KitSort::cord) {
        json.key("cord").begin_object();
        write_cord(json, item.cord);
        json.end_object();
    }
    json.key("count").integer(item.count);
    json.key("counts_anew").boolean(item.counts_anew);
    json.key("family").string(family_name(item.family));
    json.key("item").string(item.serial);
    json.key("keys").string(plant::name_of(item.keys));
    json.key("matings_before").integer(item.matings_before);
    write_count(json, "matings_limit", item.matings_limit);
    json.key("name").string(item.name);
    json.key("pin_changes_before").integer(item.pin_changes_before);
    write_count(json, "pin_changes_limit", item.pin_changes_limit);
    if (item.is_instrument()) {
        json.key("port").begin_object();
        json.key("family").string(item.port.face.family.name());
        json.key("keys").string(plant::name_of(item.port.keys));
        write_plug(json, item.port.face);
        json.end_object();
    }
    json.key("reason").string(item.reason);
    json.key("removed").boolean(item.removed);
    json.key("sort").string(name_of(item.sort));
    if (item.is_instrument()) {
        json.key("wavelengths_nm").begin_array();
        for (Nanometres const wavelength : item.wavelengths) json.integer(wavelength.value());
        json.end_array();
    }
    json.end_object();
    return json.finish();
}

Result<KitItem> kit_item_of(std::string_view body)
{
    TRY_ASSIGN(JsonValue const json, record::parse_json(body));
    KitItem item;
    TRY_ASSIGN(item.serial, json.text_of("item"));
    TRY_ASSIGN(std::string const sort, json.text_of("sort"));
    auto const known = parse_kit_sort(sort);
    if (!known) return bad(fmt::format("{}: \"{}\" is no sort of thing that a kit holds", item.serial, sort));
    item.sort = *known;
    item.name = json.text_or("name");
    TRY_ASSIGN(item.calibrated, read_day(json, "calibrated"));
    TRY_ASSIGN(item.calibration_due, read_day(json, "calibration_due"));
    if (item.is_instrument()) {
        // An instrument without a port in its record has the usual one: each part that is missing is as
        // below.
        auto const* const port_entry = json.find("port");
        JsonValue const port = port_entry ? *port_entry : JsonValue{};
        TRY_ASSIGN(plant::Family const family, plant::parse_family(port.text_or("family", "mpo-12")));
        TRY(read_plug(port, family, item.port.face));
        item.port.face.kind = plant::EndKind::port;
        TRY_ASSIGN(item.port.keys, plant::parse_key_relation(port.text_or("keys", "aligned")));
    }
    if (auto const* const list = json.find("wavelengths_nm"); list && list->array()) {
        for (JsonValue const& value : *list->array()) {
            if (!value.number() || !(*value.number() >= 600 && *value.number() <= 1700))
                return bad(fmt::format("{}: a wavelength outside 600 to 1700 nm", item.serial));
            item.wavelengths.emplace_back(static_cast<int>(*value.number()));
        }
    }
    if (item.sort == KitSort::cord) {
        auto const* const cord = json.find("cord");
        if (!cord) return bad(fmt::format("Cord {}: its particulars are missing", item.serial));
        TRY(read_cord(*cord, item));
    }
    TRY_ASSIGN(item.keys, plant::parse_key_relation(json.text_or("keys", "opposed")));
    TRY_ASSIGN(plant::Family const family, plant::parse_family(json.text_or("family", "mpo-12")));
    item.family = family.key;
    TRY_ASSIGN(auto const count, read_count(json, "count"));
    item.count = count.value_or(1);
    TRY_ASSIGN(auto const matings, read_count(json, "matings_before"));
    item.matings_before = matings.value_or(0);
    TRY_ASSIGN(auto const changes, read_count(json, "pin_changes_before"));
    item.pin_changes_before = changes.value_or(0);
    TRY_ASSIGN(item.matings_limit, read_count(json, "matings_limit"));
    TRY_ASSIGN(item.pin_changes_limit, read_count(json, "pin_changes_limit"));
    item.counts_anew = json.boolean_or("counts_anew", false);
    item.removed = json.boolean_or("removed", false);
    item.reason = json.text_or("reason");
    return item;
}

Result<std::string> pin_change_body(PinsChanged const& change)
{
    if (change.to == plant::Pins::neutral || change.from == plant::Pins::neutral)
        return bad(fmt::format("{}: a plug is pinned or unpinned", change.item));
    if (change.pins_counted < 0 || change.pins_counted > 8)
        return bad(fmt::format("{}: {} pins counted; give the number that you see", change.item,
                               change.pins_counted));
    JsonWriter json;
    json.begin_object()
        .key("end")
        .string(end_name(change.end))
        .key("from")
        .string(plant::name_of(change.from));
    json.key("item").string(change.item).key("key").string(change.key).key("note").string(change.note);
    json.key("pins_counted").integer(change.pins_counted);
    json.key("to").string(plant::name_of(change.to)).end_object();
    return json.finish();
}

Result<PinsChanged> pin_change_of(std::string_view body)
{
    TRY_ASSIGN(JsonValue const json, record::parse_json(body));
    PinsChanged change;
    TRY_ASSIGN(change.item, json.text_of("item"));
    TRY_ASSIGN(change.end, read_end(json));
    TRY_ASSIGN(change.from, plant::parse_pins(json.text_or("from", "unpinned")));
    TRY_ASSIGN(change.to, plant::parse_pins(json.text_or("to", "pinned")));
    TRY_ASSIGN(auto const counted, read_count(json, "pins_counted"));
    change.pins_counted = counted.value_or(0);
    change.note = json.text_or("note");
    change.key = json.text_or("key");
    return change;
}

Result<std::string> inspection_body(FaceInspected const& inspection)
{
    JsonWriter json;
    json.begin_object().key("cleaned").boolean(inspection.cleaned).key("edition").string(inspection.edition);
    json.key("end").string(end_name(inspection.seen.end)).key("findings").begin_array();
    for (setup::ZoneFinding const& finding : inspection.seen.findings) {
        json.begin_object();
        write_sizes(json, "defects_um", finding.defects_um);
        json.key("position").integer(finding.position);
        write_sizes(json, "scratches_um", finding.scratches_um);
        json.key("zone").string(finding.zone).end_object();
    }
    json.end_array().key("item").string(inspection.seen.item).key("key").string(inspection.key);
    json.key("loose_debris").boolean(inspection.seen.loose_debris).key("note").string(inspection.note);
    json.key("type").string(inspection.seen.type).end_object();
    return json.finish();
}

Result<FaceInspected> inspection_of(std::string_view body)
{
    TRY_ASSIGN(JsonValue const json, record::parse_json(body));
    FaceInspected inspection;
    TRY_ASSIGN(inspection.seen.item, json.text_of("item"));
    TRY_ASSIGN(inspection.seen.end, read_end(json));
    inspection.seen.type = json.text_or("type");
    inspection.edition = json.text_or("edition");
    inspection.cleaned = json.boolean_or("cleaned", false);
    inspection.seen.loose_debris = json.boolean_or("loose_debris", false);
    inspection.note = json.text_or("note");
    inspection.key = json.text_or("key");
    auto const* const list = json.find("findings");
    if (!list || !list->array()) return inspection;
    for (JsonValue const& row : *list->array()) {
        setup::ZoneFinding finding;
        TRY_ASSIGN(auto const position, read_count(row, "position"));
        finding.position = position.value_or(1);
        finding.zone = row.text_or("zone");
        TRY(read_sizes(row, "scratches_um", finding.scratches_um));
        TRY(read_sizes(row, "defects_um", finding.defects_um));
        inspection.seen.findings.push_back(std::move(finding));
    }
    return inspection;
}

Result<std::string> kit_limits_body(setup::RegisterLimits const& limits)
{
    if (!(limits.warn_at > 0) || limits.warn_at > 1)
        return bad(fmt::format("Warning at {} of a limit: give a part from above 0 to 1",
                               number_text(limits.warn_at)));
    if (limits.calibration_warning_days < 0 || limits.calibration_warning_days > 3660)
        return bad(fmt::format("Warning {} days before a calibration ends: give 0 to 3660",
                               limits.calibration_warning_days));
    for (auto const& limit : {limits.matings, limits.pin_changes}) {
        if (limit && (*limit < 1 || *limit > most_count))
            return bad(fmt::format("A limit of {}: give 1 to {}, or \"none\"", *limit, most_count));
    }
    JsonWriter json;
    json.begin_object().key("calibration_warning_days").integer(limits.calibration_warning_days);
    json.key("end_faces_required").boolean(limits.end_faces_required);
    write_count(json, "matings", limits.matings);
    write_count(json, "pin_changes", limits.pin_changes);
    json.key("warn_at").number(limits.warn_at).end_object();
    return json.finish();
}

Result<setup::RegisterLimits> kit_limits_of(std::string_view body)
{
    TRY_ASSIGN(JsonValue const json, record::parse_json(body));
    setup::RegisterLimits limits;
    TRY_ASSIGN(limits.matings, read_count(json, "matings"));
    TRY_ASSIGN(limits.pin_changes, read_count(json, "pin_changes"));
    TRY_ASSIGN(auto const days, read_count(json, "calibration_warning_days"));
    limits.calibration_warning_days = days.value_or(limits.calibration_warning_days);
    limits.warn_at = json.number_or("warn_at", limits.warn_at);
    limits.end_faces_required = json.boolean_or("end_faces_required", false);
    return limits;
}

std::string about_text(KitOverride const& decision)
{
    std::string text;
    for (setup::FitnessMatter const about : decision.about)
        text += fmt::format("{}{}", text.empty() ? "" : ", ", setup::name_of(about));
    return text;
}

Result<std::string> kit_override_body(KitOverride const& decision)
{
    if (trimmed(decision.reason).empty())
        return bad(
            fmt::format("{}: say why it is used anyway; the reason stays in the record", decision.item));
    JsonWriter json;
    json.begin_object().key("about").begin_array();
    for (setup::FitnessMatter const about : decision.about) json.string(setup::name_of(about));
    json.end_array().key("item").string(decision.item).key("key").string(decision.key);
    json.key("reason").string(decision.reason).end_object();
    return json.finish();
}

Result<KitOverride> kit_override_of(std::string_view body)
{
    TRY_ASSIGN(JsonValue const json, record::parse_json(body));
    KitOverride decision;
    TRY_ASSIGN(decision.item, json.text_of("item"));
    decision.reason = json.text_or("reason");
    decision.key = json.text_or("key");
    if (auto const* const list = json.find("about"); list && list->array()) {
        for (JsonValue const& about : *list->array()) {
            if (about.string()) decision.about.push_back(setup::parse_fitness_matter(*about.string()));
        }
    }
    return decision;
}

Outcome add_finding(setup::EndFaceInspection& inspection, std::string_view words)
{
    std::vector<std::string_view> parts;
    for (std::string_view const part : split(words, ' ')) {
        if (!trimmed(part).empty()) parts.push_back(trimmed(part));
    }
    auto const wrong = [&](std::string const& why) {
        return bad(fmt::format(
            "Finding \"{}\": {}; write position, zone, \"scratch\" or \"defect\" and its size in um, as in "
            "\"3 A scratch 2.5\"",
            words, why));
    };
    if (parts.size() != 4) return wrong(fmt::format("{} words instead of four", parts.size()));
    auto const position = parse_integer(parts[0]);
    if (!position || *position < 1 || *position > plant::max_positions)
        return wrong(fmt::format("\"{}\" is no position from 1 to {}", parts[0], plant::max_positions));
    if (parts[1].size() != 1 || parts[1][0] < 'A' || parts[1][0] > 'Z')
        return wrong(fmt::format("\"{}\" is no zone; zones are A, B, C, D", parts[1]));
    bool const scratch = parts[2] == "scratch";
    if (!scratch && parts[2] != "defect") return wrong(fmt::format("\"{}\" is neither", parts[2]));
    auto const size = parse_number(parts[3]);
    if (!size || !(*size > 0) || *size > 1000)
        return wrong(fmt::format("\"{}\" is no size above 0 and up to 1000 um", parts[3]));
    std::string const zone(parts[1]);
    auto& findings = inspection.findings;
    auto at = std::find_if(findings.begin(), findings.end(), [&](setup::ZoneFinding const& f) {
        return f.position == static_cast<int>(*position) && f.zone == zone;
    });
    if (at == findings.end()) {
        setup::ZoneFinding finding;
        finding.position = static_cast<int>(*position);
        finding.zone = zone;
        findings.push_back(std::move(finding));
        at = findings.end() - 1;
    }
    (scratch ? at->scratches_um : at->defects_um).push_back(*size);
    return {};
}

std::vector<std::string> finding_words(setup::EndFaceInspection const& inspection)
{
    std::vector<std::string> words;
    for (setup::ZoneFinding const& finding : inspection.findings) {
        for (double const size : finding.scratches_um)
            words.push_back(
                fmt::format("{} {} scratch {}", finding.position, finding.zone, number_text(size)));
        for (double const size : finding.defects_um)
            words.push_back(
                fmt::format("{} {} defect {}", finding.position, finding.zone, number_text(size)));
    }
    return words;
}

} // namespace guidepin::job
