// SPDX-License-Identifier: Apache-2.0
// Making and opening a job file: whose file it is, which schema it has, and whether it may be written.
#include "record/sqlite/schema.hpp"
#include "record/sqlite/sqlite_store.hpp"
#include "record/statements.hpp"

#include "base/asset.hpp"

#include <array>
#include <cerrno>
#include <cstring>
#include <filesystem>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

namespace guidepin::record {

std::span<Asset const> embedded_assets();

namespace sqlite {

namespace {

/// First program version that can read the schema with this number; a new script adds its row.
constexpr std::array schema_needs{std::string_view{"0.1.0"}};
static_assert(schema_needs.size() == newest_schema);

std::string_view asset(std::string_view opening)
{
    for (Asset const& one : embedded_assets()) {
        if (one.name.starts_with(opening)) return one.bytes;
    }
    return {};
}

/// Looks whether there is a file that may be opened at all; a device or a pipe would block for ever. The file
/// itself is never opened here: POSIX drops all locks that this process holds on a file when the process
/// closes any descriptor of it, and another view of the same job may be open.
Outcome require_file(std::string const& path)
{
    struct stat about = {};
    if (::stat(path.c_str(), &about) != 0) {
        if (errno == ENOENT || errno == ENOTDIR) {
            return Error{Errc::not_found,
                         fmt::format("There is no job {}. \"guidepin new\" makes one", path)};
        }
        return Error{Errc::environment, fmt::format("{} cannot be read: {}", path, std::strerror(errno))};
    }
    if (!S_ISREG(about.st_mode)) return Error{Errc::invalid_input, fmt::format("{} is not a file", path)};
    if (::faccessat(AT_FDCWD, path.c_str(), R_OK, AT_EACCESS) != 0)
        return Error{Errc::environment, fmt::format("{} cannot be read: {}", path, std::strerror(errno))};
    return {};
}

/// Reads the header through the connection.
Outcome require_job_file(Database const& database)
{
    std::string const& path = database.path();
    auto const id = database.integer(Sql{"pragma application_id"});
    if (!id && id.error().code == Errc::damaged)
        return Error{Errc::invalid_input, fmt::format("{} is not a job file of Guidepin", path)};
    if (!id) return id.error();
    if (*id == application_id) return {};
    TRY_ASSIGN(std::int64_t const pages, database.integer(Sql{"pragma page_count"}));
    if (pages == 0)
        return Error{Errc::invalid_input, fmt::format("{} is empty, not a job file of Guidepin", path)};
    return Error{Errc::invalid_input,
                 fmt::format("{} is a database of another program, not a job file of Guidepin", path)};
}

bool has_unfinished_work(std::string const& path)
{
    std::error_code code;
    auto const size = std::filesystem::file_size(path + "-wal", code);
    return !code && size > 0;
}

/// Opens for reading, also where nothing may be written beside the file.
Result<Database> open_for_reading(std::string const& path, int wait_ms)
{
    TRY_ASSIGN(auto database, Database::open(path, Database::Mode::read));
    database.wait_for_others(wait_ms);
    auto const tried = require_job_file(database);
    if (tried) {
        TRY(database.integer(Sql{"select count(*) from sqlite_schema"}));
        return database;
    }
    if (tried.error().code != Errc::environment) return tried.error();
    if (has_unfinished_work(path)) {
        return Error{
            Errc::environment,
            fmt::format(
                "{} has unfinished work beside it ({}-wal), and its folder is read-only. Copy all files that "
                "begin with that name to a folder that you may write, and open the copy",
                path, path)};
    }
    TRY_ASSIGN(auto unchanging, Database::open(path, Database::Mode::unchanging));
    TRY(require_job_file(unchanging));
    return unchanging;
}

Result<Database> open_for_writing(std::string const& path, int wait_ms)
{
    std::string const folder = std::filesystem::path(path).parent_path().string();
    // Beside the file SQLite keeps its journal, so the folder has to be writable too.
    for (std::string const& place : {path, folder.empty() ? std::string(".") : folder}) {
        if (::faccessat(AT_FDCWD, place.c_str(), W_OK, AT_EACCESS) != 0) {
            return Error{Errc::environment, fmt::format("{} cannot be written: {}: {}. Copy the job to a "
                                                        "folder that you may write, or give yourself "
                                                        "the right to it",
                                                        path, place, std::strerror(errno))};
        }
    }
    TRY_ASSIGN(auto database, Database::open(path, Database::Mode::write));
    database.wait_for_others(wait_ms);
    TRY(require_job_file(database)); // before a pragma could change a file that is not ours
    TRY(database.run(Sql{"pragma foreign_keys = on"}));
    TRY(database.run(Sql{"pragma synchronous = full"}));
    TRY(database.run(Sql{"pragma journal_size_limit = 16777216"}));
    if (database.is_read_only()) return Error{Errc::environment, fmt::format("{} is read-only", path)};
    return database;
}

Result<std::string> property_of(Database const& database, std::string_view name)
{
    TRY_ASSIGN(auto row, database.prepare(statement::property));
    row.bind(1, name);
    TRY_ASSIGN(bool const found, row.step());
    return found ? std::string(row.text(0)) : std::string();
}

Outcome set(Database const& database, std::string_view name, std::string_view value)
{
    TRY_ASSIGN(auto row, database.prepare(statement::set_property));
    row.bind(1, name);
    row.bind(2, value);
    return row.run();
}

Outcome require_known_schema(Database const& database, Maker const& maker)
{
    TRY_ASSIGN(std::int64_t const schema, database.integer(Sql{"pragma user_version"}));
    if (schema > newest_schema) {
        auto const needs = property_of(database, "schema-needs");
        std::string const wanted = needs && !needs->empty() ? *needs : std::string("a later version");
        return Error{
            Errc::newer_version,
            fmt::format("{} has schema {}; this program ({}) knows up to {}. Install Guidepin {} or later",
                        database.path(), schema, maker.program, newest_schema, wanted)};
    }
    if (schema < 1)
        return Error{Errc::damaged,
                     fmt::format("{} has no schema; it is not a whole job file", database.path())};
    auto const readable = property_of(database, "schema");
    if (!readable)
        return Error{Errc::damaged, fmt::format("{} cannot be read as a job: {}", database.path(),
                                                readable.error().message)};
    return {};
}

Outcome make_derived(Database const& database)
{
    for (Sql const drop :
         {Sql{"drop table if exists derived_link"}, Sql{"drop table if exists derived_test"},
          Sql{"drop table if exists derived_finding"}, Sql{"drop table if exists derived_progress"},
          Sql{"drop table if exists derived_text"}}) {
        TRY(database.run(drop));
    }
    TRY(database.run_script(derived_script()));
    TRY(set(database, "derived-basis", ""));
    return set(database, "derived-version", derived_version());
}

/// Tables made by an earlier derived.sql are made again, empty: whoever computes them sees that by the empty
/// basis.
Outcome renew_derived(SqliteStore& store)
{
    TRY_ASSIGN(auto const write, store.begin_write());
    TRY_ASSIGN(auto const version, property_of(store.database(), "derived-version"));
    if (version == derived_version() && require_our_tables(store.database(), true))
        return {}; // another program was first
    TRY(make_derived(store.database()));
    TRY(write->set_property("derived-digest", DerivedDigest{}.hex()));
    return write->commit();
}

Outcome write_new_file(std::string const& path, CreateOptions const& options)
{
    TRY_ASSIGN(auto const database, Database::open(path, Database::Mode::create));
    TRY(database.run(
        Sql{"pragma page_size = 16384"})); // a link-tested record is some 3 kB: several share a page
    TRY(database.run(Sql{"begin immediate"}));
    TRY(database.run(Sql{"pragma application_id = 0x47504A42"}));
    TRY(database.run_script(schema_script(1)));
    TRY(set(database, "schema", "1"));
    TRY(set(database, "schema-needs", schema_needs.back()));
    TRY(set(database, "created-by", options.maker.program));
    TRY(set(database, "created-with", options.creating_options));
    TRY(set(database, "job-id", options.job_id));
    TRY(make_derived(database));
    TRY(database.run(Sql{"pragma user_version = 1"}));
    TRY(database.run(Sql{"commit"}));
    return database.run(Sql{"pragma journal_mode = wal"});
}

/// The records that the job begins with.
Outcome write_opening(std::string const& path, CreateOptions const& options)
{
    OpenOptions open;
    open.maker = options.maker;
    open.access = OpenOptions::Access::write;
    open.key = options.key;
    {
        TRY_ASSIGN(auto const store, open_sqlite(path, open));
        TRY(append(*store, options.opening));
    }
    // The log does not come along when the file goes to its place.
    if (!has_unfinished_work(path)) return {};
    return Error{
        Errc::environment,
        fmt::format("{}: the disk did not take the first records; see to the disk (space, quota, cable) "
                    "and repeat",
                    path)};
}

/// So that the name of a new file outlives a power cut.
Outcome sync_folder_of(std::string const& path)
{
    std::filesystem::path const parent = std::filesystem::path(path).parent_path();
    std::filesystem::path const folder = parent.empty() ? std::filesystem::path(".") : parent;
    int const handle = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (handle < 0) return {}; // a folder that may be written but not read: nothing to be done
    int const synced = ::fsync(handle);
    int const code = errno;
    ::close(handle);
    if (synced == 0 || code == EINVAL || code == EROFS) return {}; // not every file system can
    return Error{Errc::environment,
                 fmt::format("{}: the disk did not take it: {}", path, std::strerror(code))};
}

void remove_beside(std::string const& path)
{
    for (char const* ending : {"", "-wal", "-shm", "-journal"}) ::unlink((path + ending).c_str());
}

} // namespace

std::string_view schema_script(int number)
{
    return asset(fmt::format("{:04}_", number));
}
std::string_view derived_script()
{
    return asset("derived.sql");
}
std::string derived_version()
{
    return sha256(derived_script()).hex();
}

} // namespace sqlite

Outcome create_sqlite(std::string const& path, CreateOptions const& options)
{
    struct stat about
    {
    };
    Error const exists{
        Errc::conflict,
        fmt::format("{} exists already; a job is never written over. Choose another name", path)};
    if (::lstat(path.c_str(), &about) == 0) return exists;
    // Made beside, with its first records, and linked into place: whole, or not there.
    std::string const beside = fmt::format("{}.{}", path, ::getpid());
    sqlite::remove_beside(beside); // of a program that was killed and had this number
    auto written = sqlite::write_new_file(beside, options);
    if (written && !options.opening.empty()) written = sqlite::write_opening(beside, options);
    if (!written) {
        sqlite::remove_beside(beside);
        return written.error().within(fmt::format("Job {} was not made", path));
    }
    int const linked = ::link(beside.c_str(), path.c_str());
    int const code = errno;
    sqlite::remove_beside(beside);
    if (linked != 0 && code == EEXIST) return exists;
    if (linked != 0)
        return Error{Errc::environment, fmt::format("Job {} was not made: {}", path, std::strerror(code))};
    return sqlite::sync_folder_of(path);
}

namespace {

Result<std::unique_ptr<Store>> open_known(std::string const& path, OpenOptions const& options)
{
    TRY(sqlite::require_file(path));
    bool const writes = options.access == OpenOptions::Access::write;
    TRY_ASSIGN(auto place, sqlite::Place::of(path));
    TRY_ASSIGN(auto database, writes ? sqlite::open_for_writing(path, options.wait_ms)
                                     : sqlite::open_for_reading(path, options.wait_ms));
    TRY(place.still_there());
    TRY(sqlite::require_known_schema(database, options.maker));
    TRY_ASSIGN(auto const derived, sqlite::property_of(database, "derived-version"));
    TRY(sqlite::require_our_tables(database, false));
    // What follows from the records can be dropped at any time: it is made again.
    bool const derived_known =
        derived == sqlite::derived_version() && sqlite::require_our_tables(database, true);
    auto store = std::make_unique<sqlite::SqliteStore>(std::move(database), std::move(place), options,
                                                       derived_known || writes);
    if (writes && !derived_known) TRY(sqlite::renew_derived(*store));
    return std::unique_ptr<Store>(std::move(store));
}

} // namespace

Result<std::unique_ptr<Store>> open_sqlite(std::string const& path, OpenOptions const& options)
{
    auto store = open_known(path, options);
    if (store || store.error().code != Errc::internal) return store;
    // Our statements are right for our files: what SQLite cannot make sense of here is the file.
    return Error{Errc::damaged, fmt::format("{} is damaged: {}", path, store.error().message)};
}

} // namespace guidepin::record
