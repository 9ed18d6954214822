// SPDX-License-Identifier: Apache-2.0
#pragma once

#include "record/chain.hpp"
#include "record/sqlite/sqlite_store.hpp"

#include <map>

namespace guidepin::record::sqlite {

/// One transaction of a SqliteStore, which outlives it.
class SqliteWrite final : public Write
{
  public:
    /// The transaction was begun by the caller.
    static Result<std::unique_ptr<Write>> make(SqliteStore const& store, Holder const& holder);
    ~SqliteWrite() override;

    Result<Appended> append(std::span<Draft const> drafts) override;
    Outcome adopt(std::span<Record const> records, std::span<Head const> heads) override;
    Outcome set_property(std::string_view name, std::string_view value) override;
    Outcome replace_derived(DerivedTables const& tables, std::string_view basis) override;
    Outcome upsert_derived(DerivedTables const& tables, std::string_view basis) override;
    Result<std::string> chains_digest() override;
    Outcome commit() override;

  private:
    SqliteWrite(SqliteStore const& store, Holder const& holder, Statement insert);
    Outcome insert(RecordView const& record);
    Outcome sign_head();
    Outcome insert_head(Head const& head);
    Outcome verify_new_records();
    Outcome usable() const;

    SqliteStore const& store_;
    Holder const& holder_;
    Statement insert_;
    detail::Tip tip_, tip_before_;
    std::map<std::string, std::int64_t, std::less<>> first_new_; ///< by station
    bool failed_ = false; ///< something was not kept: the rest cannot be either
    bool open_ = true;
};

} // namespace guidepin::record::sqlite
