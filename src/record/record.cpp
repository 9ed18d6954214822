// SPDX-License-Identifier: Apache-2.0
#include "record/record.hpp"

#include "record/canonical_json.hpp"
#include "record/kind.hpp"

#include <fmt/format.h>

namespace guidepin::record {

namespace {

/// The members after the body. The body's key sorts first, so that it can be hashed in place.
std::string members_after_body(RecordView const& record)
{
    JsonWriter json;
    json.begin_object();
    json.key("facts").string(record.facts);
    json.key("format").integer(1);
    json.key("kind").string(record.kind);
    json.key("operator").string(record.operator_name);
    json.key("previous");
    if (record.sequence == 1 && record.previous.is_zero()) {
        json.null();
    } else {
        json.string(record.previous.hex());
    }
    json.key("program").string(record.program);
    json.key("sequence").integer(record.sequence);
    json.key("station").string(record.station);
    json.key("time").string(can_be_recorded(record.time)
                                ? instant_text(record.time)
                                : fmt::format("{} ms, {} min", record.time.ms, record.time.offset_minutes));
    json.end_object();
    auto text = json.finish();
    // Text that is not UTF-8 has no canonical form. It cannot be appended; in a damaged file it must still
    // hash to something, and to something else than any sound record.
    std::string members(1, ',');
    if (text) {
        members.append(*text, 1, std::string::npos);
    } else {
        members.append("\"broken\":").append(text.error().message).append("}");
    }
    return members;
}

constexpr std::int64_t first_ms = -62135596800000; // 0001-01-01T00:00:00Z
constexpr std::int64_t last_ms = 253402214399999; // 9999-12-30T23:59:59.999Z, so that no zone leaves the year

} // namespace

bool can_be_recorded(Instant const& time)
{
    return time.ms >= first_ms && time.ms <= last_ms && time.offset_minutes > -24 * 60 &&
           time.offset_minutes < 24 * 60;
}

Record::Record(RecordView const& from)
    : station(from.station)
    , sequence(from.sequence)
    , kind(from.kind)
    , time(from.time)
    , operator_name(from.operator_name)
    , program(from.program)
    , facts(from.facts)
    , previous(from.previous)
    , hash(from.hash)
    , body(from.body)
{
}

RecordView Record::view() const
{
    return {station, sequence, kind, time, operator_name, program, facts, previous, hash, body};
}

std::string envelope(RecordView const& record)
{
    std::string text(before_body);
    text += record.body;
    text += members_after_body(record);
    return text;
}

Digest hash_of(RecordView const& record)
{
    return Sha256().update(before_body).update(record.body).update(members_after_body(record)).finish();
}

std::string head_statement(std::string_view station, std::int64_t sequence, Digest const& hash)
{
    return fmt::format(R"({{"hash":"{}","purpose":"guidepin chain head","sequence":{},"station":"{}"}})",
                       hash.hex(), sequence, station);
}

Head signed_head(StationKey const& key, std::int64_t sequence, Digest const& hash)
{
    return {key.station(), sequence, hash, key.sign(head_statement(key.station(), sequence, hash))};
}

std::string station_key_body(PublicKey const& key)
{
    return fmt::format(R"({{"algorithm":"Ed25519","public_key":"{}"}})", key.hex());
}

Result<PublicKey> key_from_first_record(RecordView const& record)
{
    if (record.sequence != 1 || record.kind != kind::station_key) {
        return Error{Errc::damaged, "the first record of a chain has to be the station's key"};
    }
    TRY_ASSIGN(auto const body, parse_json(record.body));
    TRY_ASSIGN(auto const text, body.text_of("public_key"));
    TRY_ASSIGN(auto const key, PublicKey::from_hex(text));
    if (station_of(key) != record.station) {
        return Error{Errc::damaged, fmt::format("the key belongs to station {}, not to {}", station_of(key),
                                                record.station)};
    }
    return key;
}

} // namespace guidepin::record
