// SPDX-License-Identifier: Apache-2.0
#include "job/entry/bodies.hpp"

#include "base/no_number.hpp"
#include "base/text.hpp"
#include "record/visit_json.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using record::JsonValue;
using record::JsonWriter;

constexpr std::int64_t no_time = verdict::ReadingColumns::no_time;

template <class Number>
void write_integers(JsonWriter& json, std::string_view key, std::vector<Number> const& values)
{
    json.key(key).begin_array();
    for (Number const value : values) json.integer(static_cast<std::int64_t>(value));
    json.end_array();
}

void write_numbers(JsonWriter& json, std::string_view key, std::vector<double> const& values)
{
    json.key(key).begin_array();
    for (double const value : values) json.number_or_null(value);
    json.end_array();
}

/// Times as text of the first and milliseconds after it; all at once where they are equal.
void write_times(JsonWriter& json, std::vector<std::int64_t> const& times, std::int16_t offset)
{
    auto const known = std::find_if(times.begin(), times.end(), [](std::int64_t t) { return t != no_time; });
    if (known == times.end()) return;
    std::int64_t const first = *known;
    bool const same = std::all_of(times.begin(), times.end(), [&](std::int64_t t) { return t == first; });
    if (!same) {
        json.key("after_ms").begin_array();
        for (std::int64_t const t : times) {
            if (t == no_time) {
                json.null();
            } else {
                json.integer(t - first);
            }
        }
        json.end_array();
    }
    json.key("taken_at").string(instant_text(Instant{first, offset}));
}

/// Whole numbers beyond are not exact in JSON (RFC 8785, 3.2.2.3).
constexpr double longest_after_ms = 9007199254740992;

Error damaged(std::string const& what)
{
    return Error{Errc::damaged, what};
}

template <class Number>
Outcome read_integers(JsonValue const& object, std::string_view key, std::vector<Number>& into)
{
    auto const* const list = object.find(key);
    if (!list || !list->array()) return damaged(fmt::format("\"{}\" is missing", key));
    for (JsonValue const& value : *list->array()) {
        if (!value.number()) return damaged(fmt::format("\"{}\" holds something that is no number", key));
        double const number = *value.number();
        constexpr double least = std::numeric_limits<Number>::min();
        constexpr double most = std::numeric_limits<Number>::max();
        if (!(number >= least && number <= most))
            return damaged(fmt::format("\"{}\" holds {}; the least is {}, the most {}", key,
                                       number_text(number), number_text(least), number_text(most)));
        into.push_back(static_cast<Number>(number));
    }
    return {};
}

Outcome read_numbers(JsonValue const& object, std::string_view key, std::size_t size,
                     std::vector<double>& into)
{
    auto const* const list = object.find(key);
    if (!list || !list->array()) {
        into.resize(into.size() + size, nan);
        return {};
    }
    if (list->array()->size() != size)
        return damaged(fmt::format("\"{}\" has another length than \"position\"", key));
    for (JsonValue const& value : *list->array()) into.push_back(value.number() ? *value.number() : nan);
    return {};
}

Outcome read_times(JsonValue const& object, std::size_t size, std::vector<std::int64_t>& into,
                   std::int16_t& offset)
{
    auto const instant = parse_instant(object.text_or("taken_at"));
    if (!instant) {
        into.resize(into.size() + size, no_time);
        return {};
    }
    offset = instant->offset_minutes;
    auto const* const after = object.find("after_ms");
    if (!after || !after->array()) {
        into.resize(into.size() + size, instant->ms);
        return {};
    }
    if (after->array()->size() != size) return damaged("\"after_ms\" has another length than \"position\"");
    for (JsonValue const& value : *after->array()) {
        if (value.number() && !(std::abs(*value.number()) <= longest_after_ms))
            return damaged(fmt::format("\"after_ms\" holds {}; the most is {}", number_text(*value.number()),
                                       number_text(longest_after_ms)));
        into.push_back(value.number() ? instant->ms + static_cast<std::int64_t>(*value.number()) : no_time);
    }
    return {};
}

Instant latest(std::vector<std::int64_t> const& times, std::int16_t offset)
{
    std::int64_t last = no_time;
    for (std::int64_t const t : times) last = std::max(last, t);
    return Instant{last == no_time ? 0 : last, offset};
}

} // namespace

Instant ReferenceEntry::taken() const
{
    return latest(taken_ms, offset_minutes);
}
Instant CordCheckEntry::taken() const
{
    return latest(taken_ms, offset_minutes);
}

Result<std::string> job_opened_body(JobOpened const& opened)
{
    JsonWriter json;
    json.begin_object().key("job").string(opened.id).key("title").string(opened.title).end_object();
    return json.finish();
}

Result<JobOpened> job_opened_of(std::string_view body)
{
    TRY_ASSIGN(JsonValue const json, record::parse_json(body));
    return JobOpened{json.text_or("job"), json.text_or("title")};
}

Result<std::string> source_file_body(SourceFile const& file)
{
    JsonWriter json;
    json.begin_object();
    json.key("layout").string(file.layout);
    json.key("name").string(file.name);
    json.key("sha256").string(file.sha256);
    json.key("size").integer(static_cast<std::int64_t>(file.size));
    json.end_object();
    return json.finish();
}

Result<SourceFile> source_file_of(std::string_view body)
{
    TRY_ASSIGN(JsonValue const json, record::parse_json(body));
    SourceFile file;
    file.name = json.text_or("name");
    file.size = static_cast<std::size_t>(json.integer_or("size", 0));
    file.sha256 = json.text_or("sha256");
    file.layout = json.text_or("layout");
    return file;
}

Result<std::string> schedule_body(std::vector<plant::LinkSpec> const& links, SourceFile const& source)
{
    JsonWriter json;
    json.begin_object().key("links").begin_array();
    for (plant::LinkSpec const& link : links) {
        json.begin_object();
        json.key("applications").begin_array();
        for (std::string const& application : link.applications) json.string(application);
        json.end_array();
        json.key("category").string(link.category);
        json.key("end_a").string(link.a.name);
        json.key("end_b").string(link.b.name);
        json.key("face").string(plant::name_of(link.face));
        json.key("family").string(link.family.name());
        json.key("fibres").string(plant::occupancy_text(link.fibres));
        json.key("fitting_a").string(plant::name_of(link.a.fitting));
        json.key("fitting_b").string(plant::name_of(link.b.fitting));
        json.key("inner_connections").integer(link.inner_connections);
        json.key("length_m").number(link.length.value());
        json.key("link").string(link.id);
        json.key("pins_a").string(plant::name_of(link.a.pins));
        json.key("pins_b").string(plant::name_of(link.b.pins));
        json.key("splices").integer(link.splices);
        json.key("trunk_type").string(link.trunk_type);
        json.key("zone").string(link.zone);
        json.end_object();
    }
    json.end_array().key("source").string(source.sha256).end_object();
    return json.finish();
}

namespace {

Result<plant::LinkSpec> link_of_schedule(JsonValue const& row)
{
    plant::LinkSpec link;
    TRY_ASSIGN(link.id, row.text_of("link"));
    link.zone = row.text_or("zone");
    link.category = row.text_or("category");
    link.length = Metres{row.number_or("length_m", 0)};
    TRY_ASSIGN(link.family, plant::parse_family(row.text_or("family", "mpo-12")));
    TRY_ASSIGN(link.fibres, plant::parse_occupancy(row.text_or("fibres", "all"), link.family));
    link.trunk_type = row.text_or("trunk_type");
    TRY_ASSIGN(link.face, plant::parse_face(row.text_or("face", "flat")));
    for (auto [end, name, pins, fitting] :
         {std::tuple{&link.a, "end_a", "pins_a", "fitting_a"}, {&link.b, "end_b", "pins_b", "fitting_b"}}) {
        end->name = row.text_or(name);
        TRY_ASSIGN(end->pins, plant::parse_pins(row.text_or(pins, "pinned")));
        TRY_ASSIGN(end->fitting, plant::parse_end_fitting(row.text_or(fitting, "opposed")));
    }
    link.inner_connections = static_cast<int>(row.integer_or("inner_connections", 0));
    link.splices = static_cast<int>(row.integer_or("splices", 0));
    if (auto const* const applications = row.find("applications"); applications && applications->array()) {
        for (JsonValue const& application : *applications->array()) {
            if (application.string()) link.applications.push_back(*application.string());
        }
    }
    return link;
}

} // namespace

Result<std::vector<plant::LinkSpec>> links_of_schedule(std::string_view body)
{
    std::vector<plant::LinkSpec> links;
    auto const take = [&](JsonValue const& row) -> Outcome {
        TRY_ASSIGN(plant::LinkSpec link, link_of_schedule(row));
        links.push_back(std::move(link));
        return {};
    };
    TRY_ASSIGN(JsonValue const rest, record::visit_elements(body, "links", take));
    auto const* const list = rest.find("links");
    if (!list || !list->array()) return damaged("A schedule record without \"links\"");
    return links;
}

Result<std::string> reference_body(ReferenceEntry const& reference)
{
    JsonWriter json;
    json.begin_object();
    json.key("kit").begin_object();
    json.key("launch").string(reference.kit.launch).key("meter").string(reference.kit.meter);
    json.key("source").string(reference.kit.source).key("substitution").string(reference.kit.substitution);
    json.key("tail").string(reference.kit.tail).end_object();
    json.key("method").string(reference.method);
    json.key("positions").string(reference.instrument_positions ? "instrument" : "cabling");
    write_integers(json, "position", reference.position);
    write_numbers(json, "power_dbm", reference.power_dbm);
    json.key("reference").string(reference.id.text());
    json.key("source").string(reference.source_sha256);
    write_times(json, reference.taken_ms, reference.offset_minutes);
    write_integers(json, "wavelength_nm", reference.wavelength_nm);
    json.end_object();
    return json.finish();
}

namespace {

/// Positions of a plug: what is computed from them rests on this range.
Outcome require_positions(std::vector<std::int16_t> const& positions, std::size_t first, char const* what)
{
    for (std::size_t i = first; i < positions.size(); ++i) {
        if (positions[i] < 1 || positions[i] > plant::max_positions)
            return damaged(fmt::format("{} names position {}; a plug has positions 1 to {}", what,
                                       positions[i], plant::max_positions));
    }
    return {};
}

Outcome require_far_positions(std::vector<std::int16_t> const& positions, std::size_t first, char const* what)
{
    for (std::size_t i = first; i < positions.size(); ++i) {
        if (positions[i] > plant::max_positions)
            return damaged(fmt::format("{} names far position {}; a plug has positions 1 to {}", what,
                                       positions[i], plant::max_positions));
    }
    return {};
}

} // namespace

Result<ReferenceEntry> reference_of(std::string_view body)
{
    TRY_ASSIGN(JsonValue const json, record::parse_json(body));
    ReferenceEntry reference;
    TRY_ASSIGN(std::string id, json.text_of("reference"));
    reference.id = verdict::ReferenceId(std::move(id));
    reference.method = json.text_or("method");
    if (auto const* const kit = json.find("kit")) {
        reference.kit = {.source = kit->text_or("source"),
                         .meter = kit->text_or("meter"),
                         .launch = kit->text_or("launch"),
                         .tail = kit->text_or("tail"),
                         .substitution = kit->text_or("substitution")};
    }
    reference.instrument_positions = json.text_or("positions") == "instrument";
    reference.source_sha256 = json.text_or("source");
    TRY(read_integers(json, "position", reference.position));
    TRY(read_integers(json, "wavelength_nm", reference.wavelength_nm));
    TRY(read_numbers(json, "power_dbm", reference.position.size(), reference.power_dbm));
    TRY(read_times(json, reference.position.size(), reference.taken_ms, reference.offset_minutes));
    if (reference.wavelength_nm.size() != reference.position.size())
        return damaged("A reference record with columns of different length");
    if (reference.id.empty() || reference.position.empty())
        return damaged("A reference record without a name or without a power");
    TRY(require_positions(reference.position, 0, "A reference record"));
    return reference;
}

Result<std::string> cord_check_body(CordCheckEntry const& check)
{
    JsonWriter json;
    json.begin_object();
    write_numbers(json, "attenuation_db", check.attenuation_db);
    json.key("check").string(check.id.text());
    write_integers(json, "far", check.far_position);
    write_numbers(json, "length_m", check.length_m);
    write_integers(json, "position", check.position);
    json.key("reference").string(check.reference.text());
    json.key("source").string(check.source_sha256);
    write_times(json, check.taken_ms, check.offset_minutes);
    write_integers(json, "wavelength_nm", check.wavelength_nm);
    json.end_object();
    return json.finish();
}

Result<CordCheckEntry> cord_check_of(std::string_view body)
{
    TRY_ASSIGN(JsonValue const json, record::parse_json(body));
    CordCheckEntry check;
    TRY_ASSIGN(std::string id, json.text_of("check"));
    check.id = verdict::CheckId(std::move(id));
    check.reference = verdict::ReferenceId(json.text_or("reference"));
    check.source_sha256 = json.text_or("source");
    TRY(read_integers(json, "position", check.position));
    TRY(read_integers(json, "far", check.far_position));
    TRY(read_integers(json, "wavelength_nm", check.wavelength_nm));
    TRY(read_numbers(json, "attenuation_db", check.position.size(), check.attenuation_db));
    TRY(read_numbers(json, "length_m", check.position.size(), check.length_m));
    TRY(read_times(json, check.position.size(), check.taken_ms, check.offset_minutes));
    if (check.wavelength_nm.size() != check.position.size() ||
        check.far_position.size() != check.position.size()) {
        return damaged("A cord-check record with columns of different length");
    }
    if (check.position.empty()) return damaged("A cord-check record without a reading");
    TRY(require_positions(check.position, 0, "A cord-check record"));
    TRY(require_far_positions(check.far_position, 0, "A cord-check record"));
    return check;
}

Result<std::string> reference_event_body(ReferenceEvent const& event)
{
    JsonWriter json;
    json.begin_object();
    json.key("at").string(instant_text(event.at));
    json.key("event").string(event.event);
    json.key("note").string(event.note);
    json.key("reference").string(event.reference.text());
    json.end_object();
    return json.finish();
}

Result<ReferenceEvent> reference_event_of(std::string_view body)
{
    TRY_ASSIGN(JsonValue const json, record::parse_json(body));
    ReferenceEvent event;
    TRY_ASSIGN(event.event, json.text_of("event"));
    event.reference = verdict::ReferenceId(json.text_or("reference"));
    event.note = json.text_or("note");
    auto const at = parse_instant(json.text_or("at"));
    if (!at) return damaged("A reference-event record without a time");
    event.at = *at;
    return event;
}

Result<std::string> link_tested_body(verdict::ReadingColumns const& readings,
                                     std::span<std::uint32_t const> rows, std::string const& source_sha256)
{
    thread_local JsonWriter json;
    json.begin_object().key("link").string(readings.links.text(readings.link[rows.front()]));
    json.key("readings").begin_array();
    std::size_t start = 0;
    while (start < rows.size()) {
        // A group is what shares end, wavelength, reference, operator, zone and having a time, row after row.
        std::uint32_t const head = rows[start];
        std::size_t end = start + 1;
        while (end < rows.size() && readings.launch_end[rows[end]] == readings.launch_end[head] &&
               readings.wavelength_nm[rows[end]] == readings.wavelength_nm[head] &&
               readings.reference[rows[end]] == readings.reference[head] &&
               readings.operator_name[rows[end]] == readings.operator_name[head] &&
               readings.offset_minutes[rows[end]] == readings.offset_minutes[head] &&
               (readings.taken_ms[rows[end]] == no_time) == (readings.taken_ms[head] == no_time)) {
            ++end;
        }
        auto const group = rows.subspan(start, end - start);
        json.begin_object();
        std::int64_t const first_time = readings.taken_ms[head];
        bool same_time = true, any_far = false, any_length = false;
        for (std::uint32_t const row : group) {
            same_time = same_time && readings.taken_ms[row] == first_time;
            any_far = any_far || readings.far_position[row] != verdict::far_not_stated;
            any_length = any_length || !std::isnan(readings.length_m[row]);
        }
        if (!same_time && first_time != no_time) {
            json.key("after_ms").begin_array();
            for (std::uint32_t const row : group) {
                if (readings.taken_ms[row] == no_time) {
                    json.null();
                } else {
                    json.integer(readings.taken_ms[row] - first_time);
                }
            }
            json.end_array();
        }
        if (!readings.is_power) {
            json.key("attenuation_db").begin_array();
            for (std::uint32_t const row : group) json.number_or_null(readings.value[row]);
            json.end_array();
        }
        json.key("end").string(readings.launch_end[head] == verdict::LaunchEnd::a ? "a" : "b");
        if (any_far) {
            json.key("far").begin_array();
            for (std::uint32_t const row : group) json.integer(readings.far_position[row]);
            json.end_array();
        }
        if (any_length) {
            json.key("length_m").begin_array();
            for (std::uint32_t const row : group) json.number_or_null(readings.length_m[row]);
            json.end_array();
        }
        if (readings.operator_name[head] != verdict::Dictionary::missing) {
            json.key("operator").string(readings.operators.text(readings.operator_name[head]));
        }
        json.key("position").begin_array();
        for (std::uint32_t const row : group) json.integer(readings.position[row]);
        json.end_array();
        if (readings.is_power) {
            json.key("power_dbm").begin_array();
            for (std::uint32_t const row : group) json.number_or_null(readings.value[row]);
            json.end_array();
        }
        if (readings.reference[head] != verdict::Dictionary::missing) {
            json.key("reference").string(readings.references.text(readings.reference[head]));
        }
        if (first_time != no_time)
            json.key("taken_at").string(instant_text(Instant{first_time, readings.offset_minutes[head]}));
        json.key("wavelength_nm").integer(readings.wavelength_nm[head]);
        json.end_object();
        start = end;
    }
    json.end_array().key("source").string(source_sha256).end_object();
    return json.finish();
}

namespace {

/// Takes rows from `size` on away again.
void shorten(verdict::ReadingColumns& readings, std::size_t size)
{
    auto const cut = [size](auto& column) { column.resize(std::min(column.size(), size)); };
    cut(readings.link);
    cut(readings.launch_end);
    cut(readings.position);
    cut(readings.far_position);
    cut(readings.wavelength_nm);
    cut(readings.value);
    cut(readings.length_m);
    cut(readings.taken_ms);
    cut(readings.offset_minutes);
    cut(readings.reference);
    cut(readings.operator_name);
    cut(readings.line);
}

Outcome add_rows(std::string_view body, verdict::ReadingColumns& into, PowerToLoss to_loss,
                 void const* context)
{
    TRY_ASSIGN(JsonValue const json, record::parse_json(body));
    TRY_ASSIGN(std::string const link, json.text_of("link"));
    std::uint32_t const link_index = into.links.index_of(link);
    auto const* const groups = json.find("readings");
    if (!groups || !groups->array()) return damaged("A link-tested record without \"readings\"");
    for (JsonValue const& group : *groups->array()) {
        std::size_t const before = into.size();
        TRY(read_integers(group, "position", into.position));
        std::size_t const rows = into.position.size() - before;
        TRY(require_positions(into.position, before, "A link-tested record"));
        auto const* const powers = group.find("power_dbm");
        TRY(read_numbers(group, powers ? "power_dbm" : "attenuation_db", rows, into.value));
        if (group.find("far")) {
            TRY(read_integers(group, "far", into.far_position));
        } else {
            into.far_position.resize(before + rows, verdict::far_not_stated);
        }
        TRY(read_numbers(group, "length_m", rows, into.length_m));
        std::int16_t offset = 0;
        TRY(read_times(group, rows, into.taken_ms, offset));
        if (into.far_position.size() != before + rows)
            return damaged("A link-tested record with columns of different length");
        TRY(require_far_positions(into.far_position, before, "A link-tested record"));
        verdict::ReferenceId const reference(group.text_or("reference"));
        std::string const person = group.text_or("operator");
        auto const wavelength = static_cast<std::uint16_t>(group.integer_or("wavelength_nm", 0));
        into.link.resize(before + rows, link_index);
        into.launch_end.resize(before + rows,
                               group.text_or("end") == "b" ? verdict::LaunchEnd::b : verdict::LaunchEnd::a);
        into.wavelength_nm.resize(before + rows, wavelength);
        into.offset_minutes.resize(before + rows, offset);
        into.reference.resize(before + rows, reference.empty() ? verdict::Dictionary::missing
                                                               : into.references.index_of(reference));
        into.operator_name.resize(before + rows, person.empty() ? verdict::Dictionary::missing
                                                                : into.operators.index_of(person));
        into.line.resize(before + rows, 0);
        if (!powers) continue;
        for (std::size_t row = before; row < before + rows; ++row) {
            into.value[row] =
                to_loss ? to_loss(context, reference, into.position[row], wavelength, into.value[row]) : nan;
        }
    }
    return {};
}

} // namespace

Outcome add_link_tested(std::string_view body, verdict::ReadingColumns& into, PowerToLoss to_loss,
                        void const* context)
{
    std::size_t const before = into.size();
    auto const added = add_rows(body, into, to_loss, context);
    if (!added) shorten(into, before);
    return added;
}

} // namespace guidepin::job
