// SPDX-License-Identifier: Apache-2.0
// The file itself: whose it is, which version, what happens when the disk, the folder or another program is
// in the way.
#include "record/check.hpp"

#include "places.hpp"

#include <chrono>
#include <csignal>
#include <fstream>
#include <functional>
#include <iostream>

#include <sqlite3.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

namespace guidepin::record::test {
namespace sqlite_file_test {

std::string content_of(std::string const& path)
{
    std::ifstream file(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
}

void run_sql(std::string const& path, char const* sql)
{
    sqlite3* handle = nullptr;
    ASSERT_EQ(sqlite3_open(path.c_str(), &handle), SQLITE_OK);
    EXPECT_EQ(sqlite3_exec(handle, sql, nullptr, nullptr, nullptr), SQLITE_OK) << sqlite3_errmsg(handle);
    sqlite3_close(handle);
}

Result<std::unique_ptr<Store>> try_open(std::string const& path, OpenOptions::Access access,
                                        StationKey const* key = nullptr)
{
    return open_sqlite(path, OpenOptions{maker, access, key, 200});
}

/// Runs in a process of its own, whose limits and rights may be cut. True: `body` returned true.
bool in_a_child(std::function<bool()> const& body)
{
    pid_t const child = ::fork();
    if (child == 0) ::_exit(body() ? 0 : 1);
    int status = 0;
    EXPECT_EQ(::waitpid(child, &status, 0), child);
    return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

struct JobFile
{
    Folder folder;
    StationKey key = key_number(1);
    std::string path = folder.file("a.job");
    JobFile()
    {
        EXPECT_TRUE(create_sqlite(path, create_options));
        EXPECT_TRUE(append(*opened(path, &key), notes(1, 3)));
    }
};

TEST(SqliteFile, SaysWhatItIs)
{
    JobFile const job;
    std::string const header = content_of(job.path).substr(0, 100);
    EXPECT_EQ(header.substr(0, 15), "SQLite format 3");
    EXPECT_EQ(header.substr(68, 4), "GPJB");
    EXPECT_EQ(header.substr(60, 4), std::string("\0\0\0\1", 4));
    EXPECT_FALSE(std::filesystem::exists(job.path + "-wal")) << "one file when nobody works on it";
    EXPECT_FALSE(std::filesystem::exists(job.path + "-holder"));
    std::size_t files = 0;
    for ([[maybe_unused]] auto const& entry : std::filesystem::directory_iterator(job.folder.path())) ++files;
    EXPECT_EQ(files, 1U);
}

TEST(SqliteFile, IsNeverWrittenOver)
{
    JobFile const job;
    std::string const before = content_of(job.path);
    auto const refused = create_sqlite(job.path, create_options);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().code, Errc::conflict);
    EXPECT_EQ(content_of(job.path), before);
    auto const nowhere = create_sqlite(job.folder.file("none/b.job"), create_options);
    ASSERT_FALSE(nowhere);
    EXPECT_EQ(nowhere.error().code, Errc::environment);
}

TEST(SqliteFile, FilesThatAreNotOursAreRefused)
{
    Folder const folder;
    std::ofstream(folder.file("text")) << "link,zone\n" << std::string(200, 'x');
    std::ofstream(folder.file("empty"));
    run_sql(folder.file("other.db"), "create table t (a)");
    for (auto const access : {OpenOptions::Access::read, OpenOptions::Access::write}) {
        EXPECT_EQ(try_open(folder.file("none"), access).error().code, Errc::not_found);
        EXPECT_EQ(try_open(folder.path(), access).error().code, Errc::invalid_input);
        EXPECT_EQ(try_open(folder.file("text"), access).error().code, Errc::invalid_input);
        EXPECT_EQ(try_open(folder.file("empty"), access).error().code, Errc::invalid_input);
        auto const other = try_open(folder.file("other.db"), access);
        ASSERT_FALSE(other);
        EXPECT_EQ(other.error().code, Errc::invalid_input);
        EXPECT_NE(other.error().message.find("another program"), std::string::npos);
    }
}

TEST(SqliteFile, NewerOneIsRefusedWithTheVersionItNeeds)
{
    JobFile const job;
    run_sql(job.path,
            "pragma user_version = 7; update property set value = '3.2.0' where name = 'schema-needs'");
    for (auto const access : {OpenOptions::Access::read, OpenOptions::Access::write}) {
        auto const refused = try_open(job.path, access);
        ASSERT_FALSE(refused);
        EXPECT_EQ(refused.error().code, Errc::newer_version);
        EXPECT_NE(refused.error().message.find("schema 7"), std::string::npos) << refused.error().message;
        EXPECT_NE(refused.error().message.find("Install Guidepin 3.2.0 or later"), std::string::npos)
            << refused.error().message;
    }
}

TEST(SqliteFile, HalfAJobIsDamaged)
{
    JobFile const job;
    run_sql(job.path, "drop table property");
    auto const refused = try_open(job.path, OpenOptions::Access::read);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().code, Errc::damaged);
}

TEST(SqliteFile, DerivedTablesOfAnotherVersionAreMadeAgain)
{
    JobFile const job;
    {
        auto const store = opened(job.path, &job.key);
        auto write = store->begin_write();
        DerivedTables tables;
        tables.texts = {DerivedText{"a", "b"}};
        ASSERT_TRUE((*write)->replace_derived(tables, "basis"));
        ASSERT_TRUE((*write)->commit());
        EXPECT_EQ(store->derived_basis().value(), "basis");
    }
    run_sql(job.path, "update property set value = 'old' where name = 'derived-version'; drop table "
                      "derived_text; create table derived_text (x)");
    EXPECT_EQ(opened(job.path, nullptr, OpenOptions::Access::read)->derived_basis().value(), "")
        << "not to be trusted";
    auto const store = opened(job.path, &job.key);
    EXPECT_EQ(store->derived_basis().value(), "");
    EXPECT_TRUE(store->derived_tables()->texts.empty());
    EXPECT_EQ(store->count().value(), 4);
}

TEST(SqliteFile, ReadingCannotWrite)
{
    JobFile const job;
    auto const store = opened(job.path, &job.key, OpenOptions::Access::read);
    auto const refused = append(*store, notes(1, 1));
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().code, Errc::refused);
}

TEST(SqliteFile, ReadOnlyFolderCanBeReadAndNotWritten)
{
    JobFile const job;
    std::string const before = content_of(job.path);
    ASSERT_EQ(::chmod(job.path.c_str(), 0444), 0);
    ASSERT_EQ(::chmod(job.folder.path().c_str(), 0555), 0);
    bool const clear = in_a_child([&] {
        // Rights mean nothing to root: become somebody without any.
        if (::geteuid() == 0 && ::setuid(65534) != 0) return false;
        auto const writing = try_open(job.path, OpenOptions::Access::write, &job.key);
        if (writing || writing.error().code != Errc::environment) return false;
        if (writing.error().message.find("cannot be written") == std::string::npos) return false;
        auto const created = create_sqlite(job.folder.file("b.job"), create_options);
        if (created || created.error().code != Errc::environment) return false;
        auto const reading = try_open(job.path, OpenOptions::Access::read);
        if (!reading) return false;
        auto const report = check(**reading);
        return report && !report->first && report->records == 4;
    });
    EXPECT_TRUE(clear);
    ASSERT_EQ(::chmod(job.folder.path().c_str(), 0755), 0);
    EXPECT_EQ(content_of(job.path), before);
    EXPECT_FALSE(std::filesystem::exists(job.folder.file("b.job")));
}

TEST(SqliteFile, FullDiskIsAClearErrorAndLeavesTheFileAsItWas)
{
    JobFile const job;
    std::string const before = content_of(job.path);
    std::vector<Draft> const large(300,
                                   draft(kind::note, 0, "{\"text\":\"" + std::string(20'000, 'x') + "\"}"));
    // A limit on the size of files stands in for a disk that fills up; it hits the journal in the middle of
    // the change.
    for (rlim_t const room : {rlim_t{0}, rlim_t{100'000}, rlim_t{1'000'000}, rlim_t{5'000'000}}) {
        bool const clear = in_a_child([&] {
            ::signal(SIGXFSZ, SIG_IGN);
            rlimit const limit{room, room};
            if (::setrlimit(RLIMIT_FSIZE, &limit) != 0) return false;
            auto const store = try_open(job.path, OpenOptions::Access::write, &job.key);
            if (!store) return store.error().code == Errc::environment;
            auto const refused = append(**store, large);
            if (refused) return false;
            if (refused.error().code != Errc::environment) std::cerr << refused.error().message << '\n';
            return refused.error().code == Errc::environment &&
                   refused.error().message.find("disk") != std::string::npos;
        });
        EXPECT_TRUE(clear) << room;
        auto const store = opened(job.path, &job.key);
        ASSERT_TRUE(store);
        EXPECT_EQ(store->count().value(), 4) << room;
        EXPECT_FALSE(check(*store)->first) << room;
    }
    EXPECT_EQ(content_of(job.path), before) << "byte for byte";
    EXPECT_TRUE(append(*opened(job.path, &job.key), large)) << "and with room it goes on";
}

TEST(SqliteFile, SecondProgramWaitsAndThenSaysWhoHoldsIt)
{
    JobFile const job;
    auto const ours = opened(job.path, &job.key, OpenOptions::Access::write, 300);
    {
        auto const write = ours->begin_write();
        ASSERT_TRUE(write);
        pid_t const us = ::getpid();
        bool const told = in_a_child([&] {
            auto const theirs =
                open_sqlite(job.path, OpenOptions{maker, OpenOptions::Access::write, &job.key, 300});
            if (!theirs) return false;
            auto const start = std::chrono::steady_clock::now();
            auto const refused = append(**theirs, notes(5, 1));
            auto const waited = std::chrono::steady_clock::now() - start;
            if (refused || refused.error().code != Errc::busy) return false;
            std::string const who = "Guidepin 0.1.0 (process " + std::to_string(us) + " on ";
            if (refused.error().message.find(who) == std::string::npos) {
                std::cerr << refused.error().message << '\n';
                return false;
            }
            // Reading is never in the way.
            return waited >= std::chrono::milliseconds(250) && (*theirs)->count().value() == 4;
        });
        EXPECT_TRUE(told);
    }
    EXPECT_TRUE(in_a_child([&] {
        auto const theirs =
            open_sqlite(job.path, OpenOptions{maker, OpenOptions::Access::write, &job.key, 300});
        return theirs && append(**theirs, notes(5, 1));
    })) << "free again";
    EXPECT_EQ(ours->count().value(), 5);
}

TEST(SqliteFile, WaitsForAnotherProgramThatFinishesInTime)
{
    JobFile const job;
    int pipe_ends[2];
    ASSERT_EQ(::pipe(pipe_ends), 0);
    pid_t const child = ::fork();
    if (child == 0) {
        auto const store =
            open_sqlite(job.path, OpenOptions{maker, OpenOptions::Access::write, &job.key, 300});
        auto write = (*store)->begin_write();
        [[maybe_unused]] auto const told = ::write(pipe_ends[1], "x", 1);
        ::usleep(300'000);
        bool const good = (*write)->append(notes(5, 1)) && (*write)->commit();
        ::_exit(good ? 0 : 1);
    }
    char letter = 0;
    ASSERT_EQ(::read(pipe_ends[0], &letter, 1), 1);
    auto const store = opened(job.path, &job.key, OpenOptions::Access::write, 5000);
    auto const appended = append(*store, notes(6, 1));
    ASSERT_TRUE(appended) << appended.error().message;
    EXPECT_EQ(appended->first, 6) << "behind the other's record";
    int status = 0;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    EXPECT_EQ(status, 0);
    EXPECT_FALSE(check(*store)->first);
    ::close(pipe_ends[0]);
    ::close(pipe_ends[1]);
}

TEST(SqliteFile, KilledHolderLeavesNoLock)
{
    JobFile const job;
    int pipe_ends[2];
    ASSERT_EQ(::pipe(pipe_ends), 0);
    pid_t const child = ::fork();
    if (child == 0) {
        auto const store =
            open_sqlite(job.path, OpenOptions{maker, OpenOptions::Access::write, &job.key, 300});
        auto write = (*store)->begin_write();
        bool const good = (*write)->append(notes(5, 50)).has_value();
        [[maybe_unused]] auto const told = ::write(pipe_ends[1], good ? "x" : "", 1);
        ::pause();
        ::_exit(0);
    }
    char letter = 0;
    ASSERT_EQ(::read(pipe_ends[0], &letter, 1), 1);
    ASSERT_EQ(::kill(child, SIGKILL), 0);
    int status = 0;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    EXPECT_TRUE(std::filesystem::exists(job.path + "-holder")) << "the name stays behind";
    auto const store = opened(job.path, &job.key, OpenOptions::Access::write, 300);
    ASSERT_TRUE(store);
    auto const appended = append(*store, notes(6, 1));
    ASSERT_TRUE(appended) << appended.error().message;
    EXPECT_EQ(appended->first, 5) << "nothing of what was not committed";
    EXPECT_FALSE(check(*store)->first);
    EXPECT_FALSE(std::filesystem::exists(job.path + "-holder"));
    ::close(pipe_ends[0]);
    ::close(pipe_ends[1]);
}

// kill -9 at any moment leaves whole imports only. The moments are fixed and spread over the time that
// imports take, the making of the file included.
TEST(SqliteFile, KilledAtAnyMomentLeavesWholeImportsOnly)
{
    JobFile const opened_before; // so that no child has to make the tables that a job is compared with
    Folder const folder;
    std::string const path = folder.file("a.job");
    StationKey const key = key_number(1);
    constexpr int batch = 40;
    std::vector<Draft> const import(
        batch, draft(kind::link_tested, 1000, "{\"levels\":\"" + std::string(3000, 'x') + "\"}"));
    std::int64_t whole_before = 0;
    int rounds_with_work = 0;
    // On a busy machine a child may not reach its first import in time: then more rounds follow.
    for (unsigned round = 0; round < 40 || (rounds_with_work < 10 && round < 400); ++round) {
        pid_t const child = ::fork();
        if (child == 0) {
            if (!std::filesystem::exists(path) && !create_sqlite(path, create_options)) ::_exit(2);
            auto const store = open_sqlite(path, OpenOptions{maker, OpenOptions::Access::write, &key, 1000});
            while (store && append(**store, import)) {
            }
            ::_exit(3);
        }
        ::usleep(1000 + round * 7919 % 60'000);
        ASSERT_EQ(::kill(child, SIGKILL), 0);
        int status = 0;
        ASSERT_EQ(::waitpid(child, &status, 0), child);
        ASSERT_TRUE(WIFSIGNALED(status))
            << "round " << round << ": the child stopped by itself, " << WEXITSTATUS(status);
        if (!std::filesystem::exists(path)) continue; // killed before the file was there
        auto const store = opened(path, nullptr, OpenOptions::Access::read);
        ASSERT_TRUE(store) << round;
        auto const tested = store->count(kind::link_tested);
        ASSERT_TRUE(tested) << tested.error().message;
        EXPECT_EQ(*tested % batch, 0) << "round " << round;
        EXPECT_GE(*tested, whole_before) << "round " << round << ": what was kept stays";
        EXPECT_EQ(static_cast<std::int64_t>(store->heads()->size()), *tested / batch) << "each import signed";
        if (*tested > whole_before) ++rounds_with_work;
        whole_before = *tested;
        if (round % 8 == 7) {
            auto const report = check(*store);
            ASSERT_TRUE(report) << report.error().message;
            ASSERT_FALSE(report->first) << "round " << round << ": " << report->first->text();
        }
    }
    EXPECT_GE(rounds_with_work, 10) << "the kills have to fall into imports, or this test shows nothing";
}

} // namespace sqlite_file_test
} // namespace guidepin::record::test
