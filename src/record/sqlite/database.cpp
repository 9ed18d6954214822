// SPDX-License-Identifier: Apache-2.0
#include "record/sqlite/database.hpp"

#include <algorithm>
#include <cassert>
#include <cerrno>
#include <cstring>

#include <sqlite3.h>

namespace guidepin::record::sqlite {

void Statement::Finalize::operator()(sqlite3_stmt* statement) const
{
    sqlite3_finalize(statement);
}
void Database::Close::operator()(sqlite3* handle) const
{
    sqlite3_close_v2(handle);
}

// Binding fails only for a parameter that is not there, a bug, or for lack of memory, which the step reports.
// Text is bound without a copy: it has to live until the statement was run.
void Statement::bind(int at, std::string_view text)
{
    [[maybe_unused]] int const code =
        sqlite3_bind_text64(statement_.get(), at, text.data() == nullptr ? "" : text.data(), text.size(),
                            SQLITE_STATIC, SQLITE_UTF8);
    assert(code != SQLITE_RANGE);
}

void Statement::bind_bytes(int at, std::string_view bytes)
{
    [[maybe_unused]] int const code =
        bytes.empty() ? sqlite3_bind_zeroblob(statement_.get(), at, 0)
                      : sqlite3_bind_blob64(statement_.get(), at, bytes.data(), bytes.size(), SQLITE_STATIC);
    assert(code != SQLITE_RANGE);
}

void Statement::bind(int at, std::int64_t value)
{
    [[maybe_unused]] int const code = sqlite3_bind_int64(statement_.get(), at, value);
    assert(code != SQLITE_RANGE);
}

void Statement::bind(int at, double value)
{
    [[maybe_unused]] int const code = sqlite3_bind_double(statement_.get(), at, value);
    assert(code != SQLITE_RANGE);
}

void Statement::bind_null(int at)
{
    sqlite3_bind_null(statement_.get(), at);
}

void Statement::bind(int at, Digest const& digest)
{
    bind_bytes(at, {reinterpret_cast<char const*>(digest.bytes.data()), digest.bytes.size()});
}

Result<bool> Statement::step()
{
    int const code = sqlite3_step(statement_.get());
    if (code == SQLITE_ROW) return true;
    if (code == SQLITE_DONE) return false;
    Error error = database_->trouble(code);
    sqlite3_reset(statement_.get());
    return error;
}

Outcome Statement::run()
{
    while (true) {
        TRY_ASSIGN(bool const row, step());
        if (!row) break;
    }
    reset();
    return {};
}

void Statement::reset()
{
    sqlite3_reset(statement_.get());
    sqlite3_clear_bindings(statement_.get());
}

std::string_view Statement::text(int column) const
{
    auto const* bytes = static_cast<char const*>(sqlite3_column_blob(statement_.get(), column));
    auto const size = sqlite3_column_bytes(statement_.get(), column);
    return bytes == nullptr ? std::string_view{} : std::string_view{bytes, static_cast<std::size_t>(size)};
}

std::int64_t Statement::integer(int column) const
{
    return sqlite3_column_int64(statement_.get(), column);
}
double Statement::number(int column) const
{
    return sqlite3_column_double(statement_.get(), column);
}
bool Statement::is_null(int column) const
{
    return sqlite3_column_type(statement_.get(), column) == SQLITE_NULL;
}

Digest Statement::digest(int column) const
{
    Digest digest;
    std::string_view const bytes = text(column);
    if (bytes.size() == digest.bytes.size()) std::memcpy(digest.bytes.data(), bytes.data(), bytes.size());
    return digest;
}

Result<Database> Database::open(std::string const& path, Mode mode)
{
    Database database;
    database.path_ = path;
    int flags = SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_PRIVATECACHE;
    std::string name = path;
    switch (mode) {
    case Mode::create:
        flags |= SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE;
        break;
    case Mode::write:
        flags |= SQLITE_OPEN_READWRITE;
        break;
    case Mode::read:
        flags |= SQLITE_OPEN_READONLY;
        break;
    case Mode::unchanging:
        flags |= SQLITE_OPEN_READONLY | SQLITE_OPEN_URI;
        name = "file:" + url_escaped(path) + "?immutable=1";
        break;
    }
    sqlite3* handle = nullptr;
    int const code = sqlite3_open_v2(name.c_str(), &handle, flags, nullptr);
    database.handle_.reset(handle);
    if (code != SQLITE_OK) return database.trouble(code);
    sqlite3_extended_result_codes(handle, 1);
    // The file may come from a stranger: nothing written in its schema runs on its own.
    sqlite3_db_config(handle, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
    sqlite3_db_config(handle, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
    sqlite3_db_config(handle, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, nullptr);
    sqlite3_db_config(handle, SQLITE_DBCONFIG_ENABLE_VIEW, 0, nullptr);
    return database;
}

Result<Statement> Database::prepare(Sql statement) const
{
    sqlite3_stmt* prepared = nullptr;
    auto const text = statement.text();
    int const code =
        sqlite3_prepare_v3(handle_.get(), text.data(), static_cast<int>(text.size()), 0, &prepared, nullptr);
    if (code != SQLITE_OK) return trouble(code);
    return Statement(this, prepared);
}

Outcome Database::run(Sql statement) const
{
    TRY_ASSIGN(auto prepared, prepare(statement));
    return prepared.run();
}

Outcome Database::run_script(std::string_view script) const
{
    int const code = sqlite3_exec(handle_.get(), std::string(script).c_str(), nullptr, nullptr, nullptr);
    if (code != SQLITE_OK) return trouble(code);
    return {};
}

Result<std::int64_t> Database::integer(Sql statement) const
{
    TRY_ASSIGN(auto prepared, prepare(statement));
    TRY_ASSIGN(bool const row, prepared.step());
    return row ? prepared.integer(0) : std::int64_t{0};
}

Result<std::string> Database::text(Sql statement) const
{
    TRY_ASSIGN(auto prepared, prepare(statement));
    TRY_ASSIGN(bool const row, prepared.step());
    return row ? std::string(prepared.text(0)) : std::string();
}

void Database::wait_for_others(int wait_ms) const
{
    sqlite3_busy_timeout(handle_.get(), wait_ms);
}
bool Database::is_read_only() const
{
    return sqlite3_db_readonly(handle_.get(), "main") == 1;
}

bool Database::in_transaction() const
{
    return sqlite3_get_autocommit(handle_.get()) == 0;
}

Result<bool> Database::empty_log() const
{
    int frames = 0, moved = 0;
    int const code =
        sqlite3_wal_checkpoint_v2(handle_.get(), "main", SQLITE_CHECKPOINT_TRUNCATE, &frames, &moved);
    if ((code & 0xFF) == SQLITE_BUSY || (code & 0xFF) == SQLITE_LOCKED) return false;
    if (code != SQLITE_OK) return trouble(code);
    return frames <= moved;
}

Error Database::trouble(int code) const
{
    int const system = handle_ ? sqlite3_system_errno(handle_.get()) : 0;
    std::string const said = handle_ ? sqlite3_errmsg(handle_.get()) : sqlite3_errstr(code);
    if (system == EFBIG) {
        return Error{Errc::environment, fmt::format("{}: as on a full disk, the file cannot grow: it would "
                                                    "pass the limit on the size of a file (ulimit -f); raise "
                                                    "that limit and repeat. Nothing of this change was kept",
                                                    path_)};
    }
    std::string const because = system != 0 ? std::string(": ") + std::strerror(system) : std::string();
    switch (code & 0xFF) {
    case SQLITE_FULL:
        return Error{
            Errc::environment,
            fmt::format("{}: the disk is full{}; free some space and repeat. Nothing of this change was kept",
                        path_, because)};
    case SQLITE_IOERR:
        return Error{Errc::environment, fmt::format("{}: the disk did not take or give the data{}; see to "
                                                    "the disk (space, quota, cable) and repeat. "
                                                    "Nothing of this change was kept",
                                                    path_, because)};
    case SQLITE_READONLY:
        return Error{Errc::environment,
                     fmt::format("{} or its folder is read-only{}; copy it to a folder that you may write",
                                 path_, because)};
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
    case SQLITE_AUTH:
        return Error{
            Errc::environment,
            fmt::format("{} cannot be opened{}; its folder has to exist and you need the right to it", path_,
                        because)};
    case SQLITE_NOMEM:
        return Error{Errc::environment, fmt::format("{}: out of memory", path_)};
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return Error{Errc::busy, fmt::format("{} is in use by another program", path_)};
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
        return Error{Errc::damaged, fmt::format("{} is damaged: {}", path_, said)};
    case SQLITE_CONSTRAINT:
        return Error{Errc::damaged, fmt::format("{}: a row does not fit the others: {}", path_, said)};
    default:
        return Error{Errc::internal, fmt::format("{}: {} (code {})", path_, said, code)};
    }
}

} // namespace guidepin::record::sqlite
