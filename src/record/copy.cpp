// SPDX-License-Identifier: Apache-2.0
#include "record/copy.hpp"

#include "base/text.hpp"
#include "record/canonical_json.hpp"
#include "record/kind.hpp"
#include "record/memory/memory_store.hpp"

#include <algorithm>
#include <map>
#include <set>

#include <fmt/format.h>

namespace guidepin::record {

namespace {

constexpr std::string_view purpose = "guidepin records";
/// What follows the body. Quotes inside a text are escaped, so its last place is the one outside the body.
constexpr std::string_view after_body = ",\"facts\":\"";

Error no_copy(std::string const& name, std::size_t line, std::string_view reason)
{
    return Error{Errc::invalid_input, fmt::format("{}: line {}: {}", name, line, reason)};
}

struct Line
{
    Record record;
    Digest own; ///< SHA-256 of the line
};

Result<Line> record_of(std::string_view text)
{
    Line line;
    auto const tail = text.rfind(after_body);
    if (!text.starts_with(before_body) || tail == std::string_view::npos || tail < before_body.size())
        return Error{Errc::invalid_input, "it is no record: a record begins with its body"};
    std::string members = "{";
    members.append(text.substr(tail + 1));
    TRY_ASSIGN(auto const json, parse_json(members));
    Record& record = line.record;
    TRY_ASSIGN(record.station, json.text_of("station"));
    TRY_ASSIGN(record.sequence, json.integer_of("sequence"));
    TRY_ASSIGN(record.kind, json.text_of("kind"));
    TRY_ASSIGN(record.operator_name, json.text_of("operator"));
    TRY_ASSIGN(record.program, json.text_of("program"));
    TRY_ASSIGN(record.facts, json.text_of("facts"));
    TRY_ASSIGN(std::string const time, json.text_of("time"));
    auto const moment = parse_instant(time);
    if (!moment) return Error{Errc::invalid_input, fmt::format("its time \"{}\" is none", time)};
    record.time = *moment;
    auto const previous = Digest::from_hex(json.text_or("previous"));
    if (previous) record.previous = *previous;
    record.body = text.substr(before_body.size(), tail - before_body.size());
    if (envelope(record.view()) != text)
        return Error{Errc::invalid_input,
                     "it is not written as a record is: members that do not belong there, "
                     "or another order"};
    line.own = sha256(text);
    return line;
}

Result<Head> head_of(JsonValue const& json)
{
    Head head;
    TRY_ASSIGN(head.station, json.text_of("station"));
    TRY_ASSIGN(head.sequence, json.integer_of("sequence"));
    TRY_ASSIGN(std::string const hash, json.text_of("hash"));
    TRY_ASSIGN(std::string const signature, json.text_of("signature"));
    auto const digest = Digest::from_hex(hash);
    if (!digest || !read_hex(signature, head.signature.bytes.data(), head.signature.bytes.size()))
        return Error{Errc::invalid_input,
                     "hash or signature of a head is no hexadecimal number of its length"};
    head.hash = *digest;
    return head;
}

std::string head_line(Head const& head)
{
    return fmt::format(
        R"({{"hash":"{}","purpose":"guidepin chain head","sequence":{},"signature":"{}","station":"{}"}})"
        "\n",
        head.hash.hex(), head.sequence, head.signature.hex(), head.station);
}

} // namespace

Result<std::vector<Head>> heads_without_last(Store const& store, std::span<std::string_view const> kinds)
{
    std::map<std::string, std::int64_t, std::less<>> needed;
    RecordQuery all;
    all.order = RecordQuery::Order::chain;
    TRY(store.visit(all, [&](RecordView const& record) -> Outcome {
        bool const may_go = record.kind == kind::station_key ||
                            std::find(kinds.begin(), kinds.end(), record.kind) != kinds.end();
        if (!may_go) needed.insert_or_assign(std::string(record.station), record.sequence);
        return {};
    }));
    TRY_ASSIGN(auto const heads, store.heads());
    std::vector<Head> ends;
    for (Head const& head : heads) {
        auto const from = needed.find(head.station);
        if (from == needed.end() || head.sequence < from->second) continue;
        ends.push_back(head);
        needed.erase(from);
    }
    if (!needed.empty())
        return Error{Errc::damaged, fmt::format("{}: the records of station {} are not signed to their end; "
                                                "check the records of the job",
                                                store.name(), needed.begin()->first)};
    return ends;
}

Outcome write_copy(Store const& store, std::span<Head const> ends, CopySink const& sink)
{
    Error const full{Errc::environment, "The copy of the records could not be written; is the disk full?"};
    TRY_ASSIGN(auto const job, store.property("job-id"));
    JsonWriter first;
    first.begin_object().key("format").integer(1).key("job").string(job.value_or(""));
    first.key("purpose").string(purpose).end_object();
    TRY_ASSIGN(std::string const head, first.finish());
    if (!sink(head + "\n")) return full;
    for (Head const& end : ends) {
        RecordQuery chain;
        chain.station = end.station;
        chain.to_sequence = end.sequence;
        chain.order = RecordQuery::Order::chain;
        TRY(store.visit(chain, [&](RecordView const& record) -> Outcome {
            if (!sink(envelope(record) + "\n")) return full;
            return {};
        }));
    }
    TRY_ASSIGN(auto const heads, store.heads());
    for (Head const& signed_one : heads) {
        for (Head const& end : ends) {
            if (signed_one.station != end.station || signed_one.sequence > end.sequence) continue;
            if (!sink(head_line(signed_one))) return full;
        }
    }
    return {};
}

Result<std::unique_ptr<Store>> read_copy(std::string_view text, std::string name)
{
    std::vector<Line> lines;
    std::vector<Head> heads;
    std::string job;
    std::size_t number = 0;
    while (!text.empty()) {
        ++number;
        std::size_t const end = text.find('\n');
        if (end == std::string_view::npos)
            return no_copy(name, number, "it does not end with a line feed: the file was cut off");
        std::string_view const line = text.substr(0, end);
        text.remove_prefix(end + 1);
        if (line.starts_with(before_body)) {
            auto read = record_of(line);
            if (!read) return no_copy(name, number, read.error().message);
            lines.push_back(std::move(*read));
            continue;
        }
        auto const json = parse_json(line);
        if (!json) return no_copy(name, number, json.error().message);
        if (number == 1) {
            if (json->text_or("purpose") != purpose)
                return no_copy(name, number, "this is no copy of a job's records");
            if (json->integer_or("format", 0) != 1)
                return Error{Errc::newer_version,
                             fmt::format("{}: its format is {}; this program reads 1. Use a later program.",
                                         name, json->integer_or("format", 0))};
            job = json->text_or("job");
            continue;
        }
        // What was signed says that it is a chain's head; a line that says another thing was changed.
        if (json->text_or("purpose") != "guidepin chain head")
            return no_copy(name, number, "it is neither a record nor the head of a chain");
        auto head = head_of(*json);
        if (!head) return no_copy(name, number, head.error().message);
        heads.push_back(std::move(*head));
    }
    if (number == 0) return no_copy(name, 1, "the file is empty");
    // What others say of a record is its hash: the one that follows it, or the signed head of its place.
    std::map<std::pair<std::string, std::int64_t>, Digest> stated;
    for (Head const& head : heads) stated.try_emplace({head.station, head.sequence}, head.hash);
    for (Line const& line : lines)
        stated.insert_or_assign({line.record.station, line.record.sequence - 1}, line.record.previous);
    std::vector<Record> records;
    records.reserve(lines.size());
    std::set<std::pair<std::string, std::int64_t>> places;
    for (Line& line : lines) {
        if (!places.insert({line.record.station, line.record.sequence}).second)
            return Error{Errc::invalid_input, fmt::format("{}: record {} of station {} is there twice", name,
                                                          line.record.sequence, line.record.station)};
        auto const hash = stated.find({line.record.station, line.record.sequence});
        line.record.hash = hash != stated.end() ? hash->second : line.own;
        records.push_back(std::move(line.record));
    }
    return make_memory_store_of(std::move(name), std::move(job), std::move(records), std::move(heads));
}

} // namespace guidepin::record
