// SPDX-License-Identifier: Apache-2.0
// The store in one SQLite file. Made by create_sqlite() and open_sqlite() of record/store.hpp.
#pragma once

#include "record/derived_digest.hpp"
#include "record/sqlite/database.hpp"
#include "record/sqlite/holder.hpp"
#include "record/sqlite/place.hpp"
#include "record/store.hpp"

#include <functional>

namespace guidepin::record::sqlite {

inline constexpr std::int64_t application_id = 0x47504A42; ///< "GPJB"
inline constexpr int newest_schema = 1;                    ///< number of the last script in schema/

/// The scripts built into the program, in order; derived.sql apart.
std::string_view schema_script(int number);
std::string_view derived_script();
/// SHA-256 of derived.sql: derived tables made by another one are made again.
std::string derived_version();

class SqliteStore final : public Store
{
  public:
    SqliteStore(Database database, Place place, OpenOptions const& options, bool derived_usable);
    ~SqliteStore() override;

    std::string const& name() const override { return database_.path(); }
    std::string const& station() const override { return station_; }
    Result<std::unique_ptr<Write>> begin_write() override;
    Result<std::unique_ptr<Snapshot>> snapshot() const override;
    Outcome still_there() const override
    {
        TRY(place_.still_there());
        return place_.not_overwritten(version_);
    }
    std::string caution() const override { return caution_; }
    Result<std::int64_t> changes_of_others() const override;

    Outcome visit(RecordQuery const& query, RecordVisitor const& visitor) const override;
    Result<std::optional<Record>> find(std::string_view station, std::int64_t sequence) const override;
    Result<std::optional<Record>> find(Digest const& hash) const override;
    Result<std::int64_t> count(std::string_view kind) const override;
    Result<std::vector<Head>> heads() const override;
    Result<std::vector<Head>> latest_heads() const override;
    Result<std::optional<std::string>> property(std::string_view name) const override;

    Result<std::string> derived_basis() const override;
    Result<std::string> derived_digest() const override;
    Result<DerivedTables> derived_tables() const override;

    Outcome verify_container() const override;

    // For SqliteWrite.
    Database const& database() const { return database_; }
    OpenOptions const& options() const { return options_; }
    /// Once a change is in the file: empties the log, where no reader is in the way.
    void settle() const;

  private:
    void look_at_mark();
    Result<Instant> newest_record() const;
    Outcome mark_log_in_use();
    void clear_mark();

    mutable Place place_; ///< goes after the database: SQLite's locks end with its last connection
    Database database_;
    OpenOptions options_;
    Holder holder_;
    std::string station_;
    std::string caution_;
    bool derived_usable_; ///< made by this program's derived.sql
    bool marked_ = false;
    mutable std::int64_t seen_version_ = 0;
    std::function<std::int64_t()> const version_ = [this] { return database_.data_version().value_or(-1); };
    mutable bool log_left_ = false; ///< a reader was in the way of settle()
};

/// Property of a file whose newest records may be in its log: the mark (Place::mark) of the file that a
/// program has open. A file that says so and has no log was copied or moved without it.
inline constexpr std::string_view log_in_use = "log-in-use";
/// Property of a file that goes on from such a copy: when its last record was made then.
inline constexpr std::string_view log_lost = "log-lost";

RecordView record_at(Statement const& row);
Head head_at(Statement const& row);

// derived.cpp
Outcome replace_derived(Database const& database, DerivedTables const& tables);
/// Brings `digest` up to date.
Outcome upsert_derived(Database const& database, DerivedTables const& tables, DerivedDigest& digest);

} // namespace guidepin::record::sqlite
