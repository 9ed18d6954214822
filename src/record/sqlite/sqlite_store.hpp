// SPDX-License-Identifier: Apache-2.0
// The store in one SQLite file. Made by create_sqlite() and open_sqlite() of record/store.hpp.
#pragma once

#include "record/sqlite/database.hpp"
#include "record/sqlite/holder.hpp"
#include "record/store.hpp"

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
    SqliteStore(Database database, OpenOptions const& options, bool derived_usable);

    std::string const& name() const override { return database_.path(); }
    std::string const& station() const override { return station_; }
    Result<std::unique_ptr<Write>> begin_write() override;

    Outcome visit(RecordQuery const& query, RecordVisitor const& visitor) const override;
    Result<std::optional<Record>> find(std::string_view station, std::int64_t sequence) const override;
    Result<std::optional<Record>> find(Digest const& hash) const override;
    Result<std::int64_t> count(std::string_view kind) const override;
    Result<std::vector<Head>> heads() const override;
    Result<std::vector<Head>> latest_heads() const override;
    Result<std::optional<std::string>> property(std::string_view name) const override;

    Result<std::string> derived_basis() const override;
    Result<LinkPage> links(LinkQuery const& query) const override;
    Result<std::optional<DerivedLink>> link(std::string_view id) const override;
    Result<std::vector<DerivedTest>> tests_of(std::string_view link) const override;
    Result<std::vector<DerivedFinding>> findings(FindingQuery const& query) const override;
    Result<std::vector<DerivedProgress>> progress(std::string_view scope) const override;
    Result<std::optional<std::string>> text(std::string_view name) const override;
    Result<DerivedTables> derived_tables() const override;

    Outcome verify_container() const override;

    // For SqliteWrite.
    Database const& database() const { return database_; }
    OpenOptions const& options() const { return options_; }

  private:
    Database database_;
    OpenOptions options_;
    Holder holder_;
    std::string station_;
    bool derived_usable_; ///< made by this program's derived.sql
};

RecordView record_at(Statement const& row);
Head head_at(Statement const& row);

// derived.cpp
Outcome replace_derived(Database const& database, DerivedTables const& tables);
Outcome upsert_derived(Database const& database, DerivedTables const& tables);

} // namespace guidepin::record::sqlite
