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

namespace {

/// Ends the read transaction that it began, if it began one.
class SqliteSnapshot final : public Snapshot
{
  public:
    static Result<std::unique_ptr<Snapshot>> begin(Database const& database)
    {
        if (database.in_transaction()) return std::make_unique<Snapshot>();
        TRY(database.run(Sql{"begin"}));
        std::unique_ptr<SqliteSnapshot> snapshot(new SqliteSnapshot(database));
        // SQLite takes its snapshot at the first look.
        TRY(database.integer(Sql{"select count(*) from sqlite_schema"}));
        return std::unique_ptr<Snapshot>(std::move(snapshot));
    }
    ~SqliteSnapshot() override { [[maybe_unused]] auto const ended = database_.run(Sql{"rollback"}); }

  private:
    explicit SqliteSnapshot(Database const& database)
        : database_(database)
    {
    }
    Database const& database_;
};

} // namespace

SqliteStore::SqliteStore(Database database, Place place, OpenOptions const& options, bool derived_usable)
    : place_(std::move(place))
    , database_(std::move(database))
    , options_(options)
    , holder_(database_.path())
    , station_(options.key != nullptr ? options.key->station() : std::string())
    , derived_usable_(derived_usable)
{
    look_at_mark();
    if (auto const version = database_.data_version()) seen_version_ = *version;
    place_.remember_content(version_);
}

void SqliteStore::look_at_mark()
{
    if (auto const lost = property(log_lost); lost && *lost && !(*lost)->empty()) {
        caution_ =
            fmt::format("{} goes on from a copy that was made without its -wal file: records from after {} "
                        "may be missing in it",
                        database_.path(), **lost);
        return;
    }
    auto const log_bytes = place_.log_bytes();
    if (log_bytes.value_or(0) > 0) return; // what it holds is read with the file
    auto const marked = property(log_in_use);
    if (!marked || !*marked || (*marked)->empty()) return;
    // Beside the file that was marked, an empty log was emptied. Beside a copy, whoever read the copy made
    // it.
    if (log_bytes && **marked == place_.mark()) return;
    auto const last = newest_record();
    if (!last) return;
    caution_ =
        fmt::format("{} was copied or moved without its file {}-wal while a program had it open. Its last "
                    "record is of {}; the program may have shown verdicts and kept entries that are newer. "
                    "Look for the -wal file where the copy came from, or take another copy",
                    database_.path(), database_.path(), instant_text(*last));
}

Result<Instant> SqliteStore::newest_record() const
{
    TRY_ASSIGN(auto row, database_.prepare(Sql{
                             "select time_ms, offset_minutes from record order by time_ms desc limit 1"}));
    TRY_ASSIGN(bool const found, row.step());
    if (!found) return Instant{};
    return Instant{row.integer(0), static_cast<std::int16_t>(row.integer(1))};
}

SqliteStore::~SqliteStore()
{
    if (marked_ && still_there()) clear_mark();
}

Outcome SqliteStore::mark_log_in_use()
{
    if (marked_) {
        // Another program may have ended meanwhile and have cleared the mark.
        TRY_ASSIGN(auto const there, property(log_in_use));
        if (there && !there->empty()) return {};
    }
    TRY_ASSIGN(auto set, database_.prepare(statement::set_property));
    std::string const mark = place_.mark();
    set.bind(1, log_in_use);
    set.bind(2, mark);
    TRY(set.run());
    TRY_ASSIGN(auto const known_loss, property(log_lost));
    if (!caution_.empty() && (!known_loss || known_loss->empty())) {
        // The mark of the copy takes the place of the one that says what is missing: this stays.
        TRY_ASSIGN(Instant const last, newest_record());
        std::string const since = instant_text(last);
        TRY_ASSIGN(auto lost, database_.prepare(statement::set_property));
        lost.bind(1, log_lost);
        lost.bind(2, since);
        TRY(lost.run());
    }
    marked_ = true;
    TRY(database_.run(Sql{"commit"}));
    settle();
    return {};
}

void SqliteStore::clear_mark()
{
    // Nothing here decides anything: what fails is tried by the next program that writes.
    if (!database_.run(Sql{"begin immediate"})) return;
    auto const cleared = [&]() -> Outcome {
        TRY_ASSIGN(auto set, database_.prepare(statement::set_property));
        set.bind(1, log_in_use);
        set.bind(2, std::string_view{});
        TRY(set.run());
        return database_.run(Sql{"commit"});
    }();
    if (!cleared) static_cast<void>(database_.run(Sql{"rollback"}));
    settle();
}

void SqliteStore::settle() const
{
    database_.wait_for_others(0); // a reader in the middle of its work is not waited for
    auto const emptied = database_.empty_log();
    database_.wait_for_others(options_.wait_ms);
    log_left_ = !emptied || !*emptied;
    place_.remember_content(version_);
}

Result<std::int64_t> SqliteStore::changes_of_others() const
{
    if (log_left_ && !database_.in_transaction()) settle();
    auto const version = database_.data_version();
    bool const is_news = version && *version != seen_version_;
    if (is_news) seen_version_ = *version;
    if ((is_news || !place_.knows_content()) && !database_.in_transaction())
        place_.remember_content(version_);
    return version;
}

Result<std::unique_ptr<Snapshot>> SqliteStore::snapshot() const
{
    return SqliteSnapshot::begin(database_);
}

Result<std::unique_ptr<Write>> SqliteStore::begin_write()
{
    if (options_.access == OpenOptions::Access::read) {
        return Error{Errc::refused,
                     fmt::format("{} was opened for reading; nothing can be changed in it", name())};
    }
    TRY(still_there());
    auto const begin = [&]() -> Outcome {
        auto const begun = database_.run(Sql{"begin immediate"});
        if (begun || begun.error().code != Errc::busy) return begun;
        return Error{Errc::busy,
                     fmt::format("{} is being written by {}, which did not finish within {} s. Wait for it "
                                 "or end it, then repeat",
                                 name(), holder_.who(), fixed_text(options_.wait_ms / 1000.0, 1))};
    };
    TRY(begin());
    // The transaction that is open when something fails goes with this.
    struct Undo
    {
        SqliteStore const* store;
        ~Undo()
        {
            if (!store) return;
            if (store->database_.in_transaction()) static_cast<void>(store->database_.run(Sql{"rollback"}));
            store->holder_.leave();
        }
    } undo{this};
    holder_.enter(options_.maker.program);
    TRY(still_there());
    TRY(mark_log_in_use());
    if (!database_.in_transaction()) TRY(begin());
    place_.forget_content(); // from here on it is changed by us
    TRY_ASSIGN(auto write, SqliteWrite::make(*this, holder_));
    undo.store = nullptr;
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
