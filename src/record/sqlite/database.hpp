// SPDX-License-Identifier: Apache-2.0
// SQLite's C handles as values, its codes as our errors. The only code that sees sqlite3.h is in this folder.
#pragma once

#include "base/result.hpp"
#include "base/safe_text.hpp"
#include "record/digest.hpp"

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

struct sqlite3;
struct sqlite3_stmt;

namespace guidepin::record::sqlite {

class Database;

/// A prepared statement. Parameters count from 1, columns from 0; column text lives until the next step.
class Statement
{
  public:
    void bind(int at, std::string_view text);
    void bind_bytes(int at, std::string_view bytes);
    void bind(int at, std::int64_t value);
    void bind(int at, double value);
    void bind_null(int at);
    void bind(int at, Digest const& digest);

    /// True: there is a row.
    Result<bool> step();
    /// Runs to the end and makes it ready to be bound again.
    Outcome run();
    void reset();

    std::string_view text(int column) const; ///< also of a blob
    std::int64_t integer(int column) const;
    double number(int column) const;
    bool is_null(int column) const;
    Digest digest(int column) const; ///< zero when it has not 32 bytes

  private:
    friend class Database;
    struct Finalize
    {
        void operator()(sqlite3_stmt* statement) const;
    };
    Statement(Database const* database, sqlite3_stmt* statement)
        : database_(database)
        , statement_(statement)
    {
    }
    Database const* database_;
    std::unique_ptr<sqlite3_stmt, Finalize> statement_;
};

class Database
{
  public:
    enum class Mode { create, write, read, unchanging };

    /// `unchanging`: on a medium that nobody can write; no lock is taken and no file made beside it.
    static Result<Database> open(std::string const& path, Mode mode);

    Result<Statement> prepare(Sql statement) const;
    Outcome run(Sql statement) const;
    /// A schema script that was built into the program.
    Outcome run_script(std::string_view script) const;
    Result<std::int64_t> integer(Sql statement) const;
    Result<std::string> text(Sql statement) const;

    void wait_for_others(int wait_ms) const;
    bool is_read_only() const;
    /// Whether a transaction was begun and has not ended.
    bool in_transaction() const;
    /// Another number whenever another connection has changed the file since this one looked.
    Result<std::int64_t> data_version() const { return integer(Sql{"pragma data_version"}); }
    /// Moves what the write-ahead log holds into the file and empties the log. True when nothing is left in
    /// it; a reader in the middle of its work prevents that, which is no error.
    Result<bool> empty_log() const;
    std::string const& path() const { return path_; }

    /// What `code` of this database means for whoever has to act.
    Error trouble(int code) const;

  private:
    struct Close
    {
        void operator()(sqlite3* handle) const;
    };
    std::unique_ptr<sqlite3, Close> handle_;
    std::string path_;
};

} // namespace guidepin::record::sqlite
