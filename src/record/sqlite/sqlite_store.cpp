// SPDX-License-Identifier: Apache-2.0
#include "record/sqlite/sqlite_store.hpp"

#include "record/sqlite/sqlite_write.hpp"
#include "record/statements.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <cstring>

namespace guidepin::record::sqlite {

RecordView record_at(Statement const& row)
{
    RecordView record;
    record.station = row.text(0);
    record.sequence = row.integer(1);
    record.kind = row.text(2);
    record.time.ms = row.integer(3);
    // A number that no offset can be must not pass for one: the lowest is refused wherever a record is made
    // or hashed.
    std::int64_t const offset = row.integer(4);
    bool const fits = offset == static_cast<std::int16_t>(offset);
    record.time.offset_minutes = fits ? static_cast<std::int16_t>(offset) : INT16_MIN;
    record.operator_name = row.text(5);
    record.program = row.text(6);
    record.facts = row.text(7);
    record.previous = row.digest(8);
    record.hash = row.digest(9);
    record.body = row.text(10);
    return record;
}

Head head_at(Statement const& row)
{
    Head head;
    head.station = row.text(0);
    head.sequence = row.integer(1);
    head.hash = row.digest(2);
    std::string_view const signature = row.text(3);
    if (signature.size() == head.signature.bytes.size()) {
        std::memcpy(head.signature.bytes.data(), signature.data(), signature.size());
    }
    return head;
}

SqliteStore::SqliteStore(Database database, OpenOptions const& options, bool derived_usable)
    : database_(std::move(database))
    , options_(options)
    , holder_(database_.path())
    , station_(options.key != nullptr ? options.key->station() : std::string())
    , derived_usable_(derived_usable)
{
}

Result<std::unique_ptr<Write>> SqliteStore::begin_write()
{
    if (options_.access == OpenOptions::Access::read) {
        return Error{Errc::refused,
                     fmt::format("{} was opened for reading; nothing can be changed in it", name())};
    }
    auto const begun = database_.run(Sql{"begin immediate"});
    if (!begun && begun.error().code == Errc::busy) {
        return Error{Errc::busy,
                     fmt::format("{} is being written by {}, which did not finish within {} s. Wait for it "
                                 "or end it, then repeat",
                                 name(), holder_.who(), fixed_text(options_.wait_ms / 1000.0, 1))};
    }
    if (!begun) return begun.error();
    holder_.enter(options_.maker.program);
    auto write = SqliteWrite::make(*this, holder_);
    if (!write) {
        [[maybe_unused]] auto const undone = database_.run(Sql{"rollback"});
        holder_.leave();
    }
    return write;
}

namespace {

/// Steps through `rows` and shows each.
Outcome show_each(Statement& rows, RecordVisitor const& visitor)
{
    while (true) {
        TRY_ASSIGN(bool const row, rows.step());
        if (!row) return {};
        TRY(visitor(record_at(rows)));
    }
}

struct Key
{
    std::string station;
    std::int64_t sequence;
};

} // namespace

Outcome SqliteStore::visit(RecordQuery const& query, RecordVisitor const& visitor) const
{
    auto const wanted_kind = [&](std::string_view kind) {
        return query.kinds.empty() ||
               std::find(query.kinds.begin(), query.kinds.end(), kind) != query.kinds.end();
    };
    bool const by_chain = query.order == RecordQuery::Order::chain;
    if (by_chain && query.kinds.size() != 1) {
        TRY_ASSIGN(auto rows, database_.prepare(query.station ? statement::records_of_station
                                                              : statement::records_by_chain));
        int at = 0;
        if (query.station) rows.bind(++at, *query.station);
        rows.bind(++at, query.from_sequence);
        rows.bind(++at, query.to_sequence);
        return show_each(rows, [&](RecordView const& record) -> Outcome {
            if (!wanted_kind(record.kind)) return {};
            return visitor(record);
        });
    }
    // Sorted by key first, so that the bodies are not carried through the sort.
    std::vector<Key> keys;
    {
        bool const one_kind = query.kinds.size() == 1;
        TRY_ASSIGN(auto rows, database_.prepare(!one_kind  ? statement::keys_by_time
                                                : by_chain ? statement::keys_of_kind_by_chain
                                                           : statement::keys_of_kind_by_time));
        int at = 0;
        if (one_kind) rows.bind(++at, query.kinds.front());
        rows.bind(++at, query.from_sequence);
        rows.bind(++at, query.to_sequence);
        while (true) {
            TRY_ASSIGN(bool const row, rows.step());
            if (!row) break;
            if (query.station && rows.text(0) != *query.station) continue;
            if (wanted_kind(rows.text(2))) keys.push_back({std::string(rows.text(0)), rows.integer(1)});
        }
    }
    TRY_ASSIGN(auto one, database_.prepare(statement::record_at));
    for (Key const& key : keys) {
        one.bind(1, key.station);
        one.bind(2, key.sequence);
        TRY(show_each(one, visitor));
        one.reset();
    }
    return {};
}

Result<std::optional<Record>> SqliteStore::find(std::string_view station, std::int64_t sequence) const
{
    TRY_ASSIGN(auto row, database_.prepare(statement::record_at));
    row.bind(1, station);
    row.bind(2, sequence);
    TRY_ASSIGN(bool const found, row.step());
    if (!found) return std::optional<Record>{};
    return std::optional<Record>(Record(record_at(row)));
}

Result<std::optional<Record>> SqliteStore::find(Digest const& hash) const
{
    TRY_ASSIGN(auto row, database_.prepare(statement::record_with_hash));
    row.bind(1, hash);
    TRY_ASSIGN(bool const found, row.step());
    if (!found) return std::optional<Record>{};
    return std::optional<Record>(Record(record_at(row)));
}

Result<std::int64_t> SqliteStore::count(std::string_view kind) const
{
    TRY_ASSIGN(auto row, database_.prepare(kind.empty() ? statement::count_all : statement::count_kind));
    if (!kind.empty()) row.bind(1, kind);
    TRY_ASSIGN(bool const found, row.step());
    return found ? row.integer(0) : std::int64_t{0};
}

namespace {

Result<std::vector<Head>> all_of(Database const& database, Sql query)
{
    std::vector<Head> heads;
    TRY_ASSIGN(auto rows, database.prepare(query));
    while (true) {
        TRY_ASSIGN(bool const row, rows.step());
        if (!row) return heads;
        heads.push_back(head_at(rows));
    }
}

} // namespace

Result<std::vector<Head>> SqliteStore::heads() const
{
    return all_of(database_, statement::all_heads);
}
Result<std::vector<Head>> SqliteStore::latest_heads() const
{
    return all_of(database_, statement::latest_heads);
}

Result<std::optional<std::string>> SqliteStore::property(std::string_view name) const
{
    TRY_ASSIGN(auto row, database_.prepare(statement::property));
    row.bind(1, name);
    TRY_ASSIGN(bool const found, row.step());
    if (!found) return std::optional<std::string>{};
    return std::optional<std::string>(row.text(0));
}

Outcome SqliteStore::verify_container() const
{
    TRY_ASSIGN(auto const found, database_.text(Sql{"pragma integrity_check(1)"}));
    if (found == "ok") return {};
    return Error{Errc::damaged,
                 fmt::format("{}: the file's pages or indexes are damaged: {}", name(), found)};
}

} // namespace guidepin::record::sqlite
