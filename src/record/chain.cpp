// SPDX-License-Identifier: Apache-2.0
#include "record/chain.hpp"

#include "record/canonical_json.hpp"
#include "record/kind.hpp"

#include <fmt/format.h>

namespace guidepin::record::detail {

namespace {

Outcome add(Tip& tip, StationKey const& key, Maker const& maker, Draft const& draft,
            RecordVisitor const& insert)
{
    RecordView record;
    record.station = key.station();
    record.sequence = tip.sequence + 1;
    record.kind = draft.kind;
    record.time = draft.time;
    record.operator_name = draft.operator_name;
    record.program = maker.program;
    record.facts = maker.facts;
    record.previous = tip.hash;
    record.body = draft.body;
    record.hash = hash_of(record);
    TRY(insert(record));
    tip = {record.sequence, record.hash};
    return {};
}

} // namespace

Error no_key(std::string const& store_name)
{
    return Error{Errc::refused,
                 fmt::format("{} was opened without a station key; nothing can be added to it", store_name)};
}

Result<Appended> grow(Tip& tip, StationKey const* key, Maker const& maker, std::span<Draft const> drafts,
                      RecordVisitor const& insert)
{
    if (key == nullptr) return no_key("The job");
    Appended appended{key->station(), tip.sequence + 1, tip.sequence};
    if (drafts.empty()) return appended;
    if (tip.sequence == 0) {
        Draft const first{std::string(kind::station_key), drafts.front().time, drafts.front().operator_name,
                          station_key_body(key->public_key())};
        TRY(add(tip, *key, maker, first, insert));
        appended.first = tip.sequence + 1;
    }
    for (Draft const& draft : drafts) {
        if (!is_known_kind(draft.kind) || draft.kind == kind::station_key) {
            return Error{Errc::internal,
                         fmt::format("Record kind \"{}\" is not one that can be added", draft.kind)};
        }
        auto const canonical = require_canonical(draft.body);
        if (!canonical) return canonical.error().within(fmt::format("Body of a {} record", draft.kind));
        if (draft.body.front() != '{') {
            return Error{Errc::invalid_input,
                         fmt::format("Body of a {} record has to be a JSON object", draft.kind)};
        }
        if (!can_be_recorded(draft.time)) {
            return Error{Errc::invalid_input,
                         fmt::format("Time of a {} record: {} ms, {} min from UTC is no date", draft.kind,
                                     draft.time.ms, draft.time.offset_minutes)};
        }
        for (std::string const* text : {&draft.operator_name, &maker.program, &maker.facts}) {
            JsonWriter json;
            auto const good = json.string(*text).finish();
            if (!good)
                return good.error().within(fmt::format("Operator or version of a {} record", draft.kind));
        }
        TRY(add(tip, *key, maker, draft, insert));
    }
    appended.last = tip.sequence;
    return appended;
}

Outcome follow(Tip& tip, RecordView const& record)
{
    if (record.sequence != tip.sequence + 1) {
        return Error{Errc::damaged, fmt::format("record {} is missing: record {} follows record {}",
                                                tip.sequence + 1, record.sequence, tip.sequence)};
    }
    if (hash_of(record) != record.hash) {
        return Error{Errc::damaged,
                     "its hash does not match its contents: it was changed after it was written"};
    }
    if (record.previous != tip.hash) {
        return Error{Errc::damaged, "it does not name the record before it: one of the two was replaced"};
    }
    tip = {record.sequence, record.hash};
    return {};
}

} // namespace guidepin::record::detail
