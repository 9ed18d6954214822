// SPDX-License-Identifier: Apache-2.0
#include "record/sqlite/sqlite_write.hpp"

#include "record/statements.hpp"

#include <algorithm>

namespace guidepin::record::sqlite {

SqliteWrite::SqliteWrite(SqliteStore const& store, Holder const& holder, Statement insert)
    : store_(store)
    , holder_(holder)
    , insert_(std::move(insert))
{
}

Result<std::unique_ptr<Write>> SqliteWrite::make(SqliteStore const& store, Holder const& holder)
{
    TRY_ASSIGN(auto insert, store.database().prepare(statement::insert_record));
    std::unique_ptr<SqliteWrite> write(new SqliteWrite(store, holder, std::move(insert)));
    TRY_ASSIGN(auto tip, store.database().prepare(statement::tip));
    tip.bind(1, store.station());
    TRY_ASSIGN(bool const found, tip.step());
    if (found) write->tip_ = {tip.integer(0), tip.digest(1)};
    write->tip_before_ = write->tip_;
    return std::unique_ptr<Write>(std::move(write));
}

SqliteWrite::~SqliteWrite()
{
    if (!open_) return;
    insert_.reset();
    // SQLite may have rolled back by itself after a full disk; then there is nothing left to undo.
    [[maybe_unused]] auto const undone = store_.database().run(Sql{"rollback"});
    holder_.leave();
}

Outcome SqliteWrite::usable() const
{
    if (open_ && !failed_) return {};
    return Error{Errc::internal, "A change that failed or was committed cannot go on"};
}

Outcome SqliteWrite::insert(RecordView const& record)
{
    insert_.bind(1, record.station);
    insert_.bind(2, record.sequence);
    insert_.bind(3, record.kind);
    insert_.bind(4, record.time.ms);
    insert_.bind(5, std::int64_t{record.time.offset_minutes});
    insert_.bind(6, record.operator_name);
    insert_.bind(7, record.program);
    insert_.bind(8, record.facts);
    insert_.bind(9, record.previous);
    insert_.bind(10, record.hash);
    insert_.bind(11, record.body);
    TRY(insert_.run());
    auto const known = first_new_.find(record.station);
    if (known == first_new_.end()) {
        first_new_.emplace(std::string(record.station), record.sequence);
    } else {
        known->second = std::min(known->second, record.sequence);
    }
    return {};
}

Result<Appended> SqliteWrite::append(std::span<Draft const> drafts)
{
    TRY(usable());
    if (store_.options().key == nullptr) return detail::no_key(store_.name());
    auto appended = detail::grow(tip_, store_.options().key, store_.options().maker, drafts,
                                 [this](RecordView const& record) { return insert(record); });
    if (!appended) failed_ = true;
    return appended;
}

Outcome SqliteWrite::adopt(std::span<Record const> records, std::span<Head const> heads)
{
    TRY(usable());
    failed_ = true; // until all of it is in
    for (Record const& record : records) {
        TRY(insert(record.view()));
        if (record.station == store_.station() && record.sequence > tip_.sequence) {
            tip_ = {record.sequence, record.hash};
            tip_before_ = tip_; // signed by the head that came with it
        }
    }
    for (Head const& head : heads) TRY(insert_head(head));
    failed_ = false;
    return {};
}

Outcome SqliteWrite::insert_head(Head const& head)
{
    TRY_ASSIGN(auto existing, store_.database().prepare(statement::head_at));
    existing.bind(1, head.station);
    existing.bind(2, head.sequence);
    TRY_ASSIGN(bool const found, existing.step());
    if (found) {
        if (head_at(existing) == head) return {};
        return Error{Errc::conflict, fmt::format("Station {}, record {}: two signatures differ", head.station,
                                                 head.sequence)};
    }
    TRY_ASSIGN(auto insert, store_.database().prepare(statement::insert_head));
    insert.bind(1, head.station);
    insert.bind(2, head.sequence);
    insert.bind(3, head.hash);
    insert.bind_bytes(
        4, {reinterpret_cast<char const*>(head.signature.bytes.data()), head.signature.bytes.size()});
    return insert.run();
}

Outcome SqliteWrite::set_property(std::string_view name, std::string_view value)
{
    TRY(usable());
    TRY_ASSIGN(auto set, store_.database().prepare(statement::set_property));
    set.bind(1, name);
    set.bind(2, value);
    return set.run();
}

Outcome SqliteWrite::replace_derived(DerivedTables const& tables, std::string_view basis)
{
    TRY(usable());
    failed_ = true;
    TRY_ASSIGN(DerivedDigest const digest, DerivedDigest::of(tables));
    TRY(sqlite::replace_derived(store_.database(), tables));
    failed_ = false;
    TRY(set_property("derived-digest", digest.hex()));
    return set_property("derived-basis", basis);
}

Outcome SqliteWrite::upsert_derived(DerivedTables const& tables, std::string_view basis)
{
    TRY(usable());
    failed_ = true;
    TRY_ASSIGN(auto const before, store_.property("derived-digest"));
    DerivedDigest digest;
    if (before) {
        digest = DerivedDigest::from_hex(*before);
    } else { // the file was made by a version that kept none
        TRY_ASSIGN(auto const rows, store_.derived_tables());
        TRY_ASSIGN(digest, DerivedDigest::of(rows));
    }
    TRY(sqlite::upsert_derived(store_.database(), tables, digest));
    failed_ = false;
    TRY(set_property("derived-digest", digest.hex()));
    return set_property("derived-basis", basis);
}

Result<std::string> SqliteWrite::chains_digest()
{
    TRY_ASSIGN(auto heads, store_.latest_heads());
    if (tip_.sequence > tip_before_.sequence) {
        std::erase_if(heads, [this](Head const& head) { return head.station == store_.station(); });
        heads.push_back({store_.station(), tip_.sequence, tip_.hash, {}});
        std::sort(heads.begin(), heads.end(),
                  [](Head const& a, Head const& b) { return a.station < b.station; });
    }
    return record::chains_digest(heads);
}

Outcome SqliteWrite::sign_head()
{
    if (tip_.sequence == tip_before_.sequence) return {};
    return insert_head(signed_head(*store_.options().key, tip_.sequence, tip_.hash));
}

// Reads back what the file now holds, as a later reader will, before anything is kept.
Outcome SqliteWrite::verify_new_records()
{
    for (auto const& [station, first] : first_new_) {
        detail::Tip tip;
        if (first > 1) {
            TRY_ASSIGN(auto const before, store_.find(station, first - 1));
            if (!before)
                return Error{Errc::damaged,
                             fmt::format("Station {}: record {} is missing", station, first - 1)};
            tip = {before->sequence, before->hash};
        }
        RecordQuery query;
        query.station = station;
        query.from_sequence = first;
        query.order = RecordQuery::Order::chain;
        TRY(store_.visit(query, [&](RecordView const& record) -> Outcome {
            auto const follows = detail::follow(tip, record);
            if (follows) return {};
            return follows.error().within(
                fmt::format("{}: station {}, record {}", store_.name(), record.station, record.sequence));
        }));
    }
    return {};
}

Outcome SqliteWrite::commit()
{
    TRY(usable());
    failed_ = true;
    insert_.reset();
    TRY(verify_new_records());
    TRY(sign_head());
    TRY(store_.still_there());
    TRY(store_.database().run(Sql{"commit"}));
    open_ = false;
    holder_.leave();
    store_.settle();
    // A file that was taken away at this very moment does not hold the change for anybody else.
    return store_.still_there();
}

} // namespace guidepin::record::sqlite
