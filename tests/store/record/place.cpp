// SPDX-License-Identifier: Apache-2.0
// The job file goes away, is replaced, or loses its log while it is open; the kernel's list of locks; a copy
// without the log. Oracles: the kernel (fcntl from another process, stat), SQLite's own integrity check on
// the file that came instead.
#include "record/check.hpp"
#include "record/open_files.hpp"

#include "places.hpp"

#include <filesystem>
#include <functional>

#include <fcntl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

namespace guidepin::record::test {
namespace place_test {

struct OpenJob
{
    Folder folder;
    StationKey key = key_number(1);
    std::string path = folder.file("a.job");
    std::unique_ptr<Store> store;
    OpenJob()
    {
        EXPECT_TRUE(create_sqlite(path, create_options));
        store = opened(path, &key);
        EXPECT_TRUE(append(*store, notes(1, 3)));
    }
};

/// Whether some process other than the one that asks holds a lock on the file: a child asks, for a process
/// never sees its own locks.
bool is_locked(std::string const& path)
{
    pid_t const child = ::fork();
    if (child == 0) {
        int const file = ::open(path.c_str(), O_RDWR);
        struct flock lock = {};
        lock.l_type = F_WRLCK;
        lock.l_whence = SEEK_SET;
        ::_exit(file >= 0 && ::fcntl(file, F_GETLK, &lock) == 0 && lock.l_type != F_UNLCK ? 1 : 0);
    }
    int status = 0;
    EXPECT_EQ(::waitpid(child, &status, 0), child);
    return WIFEXITED(status) && WEXITSTATUS(status) == 1;
}

TEST(OpenJobFile, KeepsItsLocksWhateverElseThisProcessOpens)
{
    OpenJob job;
    EXPECT_TRUE(is_locked(job.path));
    {
        // A second view, as the workbench has for its computing and its packages.
        auto const second = opened(job.path, nullptr, OpenOptions::Access::read);
        EXPECT_EQ(second->count().value(), 4);
        auto const third = opened(job.path, &job.key);
        EXPECT_TRUE(append(*third, notes(4, 1)));
    }
    EXPECT_TRUE(is_locked(job.path)) << "the views that closed took no lock with them";
    // What is not a job file is looked at without opening the job either.
    EXPECT_FALSE(open_sqlite(job.folder.file("none"), {}));
    EXPECT_TRUE(is_locked(job.path));
    struct stat about = {};
    ASSERT_EQ(::stat(job.path.c_str(), &about), 0);
    EXPECT_TRUE(is_open_here(about.st_dev, about.st_ino)) << "so that nobody here reads it as a file";
    job.store.reset();
    EXPECT_FALSE(is_open_here(about.st_dev, about.st_ino));
    EXPECT_FALSE(is_locked(job.path));
}

TEST(OpenJobFile, WithoutCheckpointsOfOthersTheLogIsEmptyAfterEachChange)
{
    OpenJob const job;
    EXPECT_EQ(std::filesystem::file_size(job.path + "-wal"), 0U) << "a copy of the file alone has everything";
    std::filesystem::copy_file(job.path, job.folder.file("copy.job"));
    auto const copy = opened(job.folder.file("copy.job"), nullptr, OpenOptions::Access::read);
    EXPECT_EQ(copy->count().value(), 4);
}

using Trouble = std::function<void(OpenJob&)>;

void expect_refused(OpenJob& job, std::string const& words)
{
    auto const there = job.store->still_there();
    ASSERT_FALSE(there);
    EXPECT_EQ(there.error().code, Errc::environment);
    EXPECT_NE(there.error().message.find(words), std::string::npos) << there.error().message;
    auto const kept = append(*job.store, notes(10, 1));
    ASSERT_FALSE(kept) << "what cannot be kept must not be acknowledged";
    EXPECT_EQ(kept.error().code, Errc::environment);
}

TEST(OpenJobFile, ThatIsGoneIsNoticed)
{
    OpenJob job;
    ASSERT_EQ(::unlink(job.path.c_str()), 0);
    expect_refused(job, "is gone");
    OpenJob other;
    std::filesystem::rename(other.path, other.folder.file("elsewhere.job"));
    expect_refused(other, "is gone");
    std::filesystem::rename(other.folder.file("elsewhere.job"), other.path);
    EXPECT_TRUE(other.store->still_there()) << "put back, it is the same file";
    EXPECT_TRUE(append(*other.store, notes(10, 1)));
    OpenJob third;
    std::filesystem::remove_all(third.folder.path());
    expect_refused(third, "is gone");
}

TEST(OpenJobFile, ThatWasReplacedIsNoticedAndTheNewOneStaysWhole)
{
    OpenJob job;
    std::string const beside = job.folder.file("b.job");
    ASSERT_TRUE(create_sqlite(beside, CreateOptions{maker, "job-2", "{}", {}, nullptr}));
    ASSERT_TRUE(append(*opened(beside, &job.key), notes(1, 40)));
    ASSERT_EQ(::rename(beside.c_str(), job.path.c_str()), 0);
    expect_refused(job, "was replaced");
    auto const check_new = [&] {
        auto const fresh = opened(job.path, nullptr, OpenOptions::Access::read);
        EXPECT_TRUE(fresh->verify_container());
        EXPECT_EQ(fresh->count().value(), 41);
        EXPECT_EQ(fresh->property("job-id").value(), "job-2");
    };
    check_new(); // while the old one is still open
    job.store.reset();
    check_new(); // and after it has closed
    EXPECT_TRUE(append(*opened(job.path, &job.key), notes(100, 1)));
}

TEST(OpenJobFile, ThatLostItsLogIsNoticed)
{
    for (char const* ending : {"-wal", "-shm"}) {
        OpenJob job;
        ASSERT_EQ(::unlink((job.path + ending).c_str()), 0);
        expect_refused(job, "was removed");
        job.store.reset();
        auto const again = opened(job.path, &job.key);
        EXPECT_EQ(again->count().value(), 4) << "what was acknowledged is there";
        EXPECT_TRUE(again->verify_container());
    }
}

TEST(OpenJobFile, CopiedWithoutItsLogSaysThatItMayBeOlder)
{
    OpenJob job;
    // A reader in the middle of its work keeps new records in the log.
    auto const reader = opened(job.path, nullptr, OpenOptions::Access::read);
    std::string const copy = job.folder.file("copy.job");
    {
        auto const snapshot = reader->snapshot();
        ASSERT_TRUE(snapshot);
        ASSERT_TRUE(append(*job.store, notes(5, 2)));
        EXPECT_GT(std::filesystem::file_size(job.path + "-wal"), 0U);
        std::filesystem::copy_file(job.path, copy);
        auto const older = opened(copy, nullptr, OpenOptions::Access::read);
        EXPECT_EQ(older->count().value(), 4) << "the copy is older";
        EXPECT_NE(older->caution().find("without its file"), std::string::npos) << older->caution();
        EXPECT_NE(opened(copy, nullptr, OpenOptions::Access::read)->caution(), "")
            << "an empty log that a reader of the copy left proves nothing";
        EXPECT_EQ(opened(job.path, nullptr, OpenOptions::Access::read)->caution(), "")
            << "the file itself is whole";
        // What is written to a copy does not hide that something is missing, nor since when.
        std::string const written = job.folder.file("written.job");
        std::filesystem::copy_file(job.path, written);
        std::string said;
        for (int from : {20, 30}) {
            ASSERT_TRUE(append(*opened(written, &job.key), notes(from, 1)));
            std::string const again = opened(written, nullptr, OpenOptions::Access::read)->caution();
            EXPECT_NE(again.find("goes on from a copy"), std::string::npos) << again;
            EXPECT_TRUE(said.empty() || said == again) << said << "\n" << again;
            said = again;
        }
    }
    ASSERT_TRUE(job.store->changes_of_others()); // looks once more
    EXPECT_EQ(std::filesystem::file_size(job.path + "-wal"), 0U)
        << "once the reader is done, the log is emptied";
    EXPECT_EQ(opened(job.path, nullptr, OpenOptions::Access::read)->caution(), "");
    job.store.reset();
    std::filesystem::remove(copy);
    std::filesystem::copy_file(job.path, copy);
    auto const whole = opened(copy, nullptr, OpenOptions::Access::read);
    EXPECT_EQ(whole->count().value(), 6);
    EXPECT_EQ(whole->caution(), "") << "nobody had it open";
}

TEST(Snapshot, ShowsOneMomentWhateverOthersWrite)
{
    OpenJob job;
    auto const reader = opened(job.path, nullptr, OpenOptions::Access::read);
    {
        auto const snapshot = reader->snapshot();
        ASSERT_TRUE(snapshot);
        ASSERT_TRUE(append(*job.store, notes(4, 2)));
        EXPECT_EQ(reader->count().value(), 4);
        auto const inner = reader->snapshot();
        ASSERT_TRUE(inner);
        EXPECT_EQ(reader->count().value(), 4);
    }
    EXPECT_EQ(reader->count().value(), 6);
}

TEST(NewJobFile, HasItsFirstRecordsAsSoonAsItIsThere)
{
    Folder const folder;
    StationKey const key = key_number(1);
    CreateOptions options = create_options;
    options.opening = notes(1, 2);
    options.key = &key;
    ASSERT_TRUE(create_sqlite(folder.file("a.job"), options));
    {
        auto const store = opened(folder.file("a.job"), nullptr, OpenOptions::Access::read);
        EXPECT_EQ(store->count().value(), 3) << "with the station's key";
        EXPECT_FALSE(check(*store)->first);
    }
    std::filesystem::remove(folder.file("a.job-wal")); // a reader cannot take them away
    std::filesystem::remove(folder.file("a.job-shm"));
    options.key = nullptr;
    auto const refused = create_sqlite(folder.file("b.job"), options);
    EXPECT_FALSE(refused);
    EXPECT_FALSE(std::filesystem::exists(folder.file("b.job"))) << "whole, or not there";
    std::size_t files = 0;
    for ([[maybe_unused]] auto const& entry : std::filesystem::directory_iterator(folder.path())) ++files;
    EXPECT_EQ(files, 1U) << "nothing is left beside it";
}

} // namespace place_test
} // namespace guidepin::record::test
