// SPDX-License-Identifier: Apache-2.0
// What is read, and what is refused before it can block, crash or drop the locks of an open job.
#include "job/files/files.hpp"

#include "record/open_files.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <thread>

#include <fcntl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include "scratch_folder.hpp"

namespace guidepin::job {
namespace files_test {

using testing::HasSubstr;

class Files : public testing::Test
{
  protected:
    std::string path(char const* name) const { return folder_ + "/" + name; }
    std::string write(char const* name, std::string_view bytes) const
    {
        std::ofstream(path(name), std::ios::binary) << bytes;
        return path(name);
    }
    static void refused(std::string const& path, char const* what)
    {
        auto const file = MappedFile::open(path);
        ASSERT_FALSE(file) << path;
        EXPECT_EQ(file.error().code, Errc::invalid_input);
        EXPECT_THAT(file.error().message, HasSubstr(what));
        EXPECT_THAT(file.error().message, HasSubstr(path));
        EXPECT_FALSE(read_file(path));
    }

    support::ScratchFolder const scratch_;
    std::string const folder_ = scratch_.path().string();
};

TEST_F(Files, a_file_is_read_whole)
{
    std::string bytes(3'000'001, 'x');
    for (std::size_t i = 0; i < bytes.size(); ++i) bytes[i] = static_cast<char>(i * 31);
    EXPECT_EQ(read_file(write("whole", bytes)).value(), bytes);
    EXPECT_EQ(read_file(write("empty", "")).value(), "");
    EXPECT_EQ(MappedFile::open(path("none")).error().code, Errc::not_found);
}

TEST_F(Files, a_beginning_is_read_and_no_more)
{
    std::string const name = write("long", std::string(100'000, 'a') + "b");
    EXPECT_EQ(MappedFile::open_beginning(name, 1000)->bytes(), std::string(1000, 'a'));
    EXPECT_EQ(MappedFile::open_beginning(name, 1'000'000)->bytes().size(), 100'001u);
    // A file of a terabyte without a byte in it: its beginning can be read, the whole of it is refused.
    std::string const huge = write("huge", "head");
    ASSERT_EQ(::truncate(huge.c_str(), off_t{1} << 40), 0);
    EXPECT_EQ(MappedFile::open_beginning(huge, 4)->bytes(), "head");
    refused(huge, "more than 4096 MiB");
}

TEST_F(Files, pipes_sockets_devices_and_folders_are_refused_at_once)
{
    ASSERT_EQ(::mkfifo(path("pipe").c_str(), 0600), 0);
    refused(path("pipe"), "a pipe, not a file; save what it gives to a file first");
    int const socket = ::socket(AF_UNIX, SOCK_STREAM, 0);
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    std::strncpy(address.sun_path, path("socket").c_str(), sizeof address.sun_path - 1);
    ASSERT_EQ(::bind(socket, reinterpret_cast<sockaddr*>(&address), sizeof address), 0);
    refused(path("socket"), "a socket");
    ::close(socket);
    refused("/dev/zero", "a device");
    refused("/dev/null", "a device");
    refused(folder_, "a folder");
    std::filesystem::create_symlink(path("pipe"), path("link"));
    refused(path("link"), "a pipe");
}

TEST_F(Files, a_file_that_reports_no_size_is_read_all_the_same)
{
    auto const bytes = read_file("/proc/self/status");
    ASSERT_TRUE(bytes) << bytes.error().message;
    EXPECT_THAT(*bytes, HasSubstr("VmPeak"));
}

TEST_F(Files, a_job_that_is_open_here_is_refused_before_it_is_opened)
{
    std::string const job = write("job", "SQLite format 3");
    std::filesystem::create_hard_link(job, path("other-name"));
    struct stat about
    {
    };
    ASSERT_EQ(::stat(job.c_str(), &about), 0);
    // A lock of this process: any close() of the file would drop it.
    int const held = ::open(job.c_str(), O_RDWR | O_CLOEXEC);
    struct flock lock = {};
    lock.l_type = F_WRLCK;
    lock.l_whence = SEEK_SET;
    ASSERT_EQ(::fcntl(held, F_SETLK, &lock), 0);
    auto const is_locked = [&] {
        // Asked by a child: a process never conflicts with itself.
        pid_t const child = ::fork();
        if (child == 0) {
            struct flock asked = {};
            asked.l_type = F_WRLCK;
            asked.l_whence = SEEK_SET;
            int const other = ::open(job.c_str(), O_RDWR | O_CLOEXEC);
            ::_exit(::fcntl(other, F_GETLK, &asked) == 0 && asked.l_type == F_WRLCK ? 1 : 0);
        }
        int status = 0;
        ::waitpid(child, &status, 0);
        return WEXITSTATUS(status) == 1;
    };
    ASSERT_TRUE(is_locked());
    record::note_open(about.st_dev, about.st_ino);
    refused(job, "the job file itself");
    refused(path("other-name"), "the job file itself");
    EXPECT_TRUE(is_locked()) << "reading the job's file dropped its lock";
    record::note_closed(about.st_dev, about.st_ino);
    EXPECT_TRUE(MappedFile::open(job));
    EXPECT_FALSE(is_locked()) << "this test can see a lock that was dropped";
    ::close(held);
}

TEST_F(Files, a_file_that_is_cut_short_while_it_is_read_never_ends_the_program)
{
    std::string const name = write("changing", "");
    std::string const whole(4'000'000, 'w');
    std::atomic<bool> stop = false;
    std::thread writer([&] {
        while (!stop) {
            int const out = ::open(name.c_str(), O_WRONLY | O_CLOEXEC | O_TRUNC);
            for (std::size_t at = 0; at < whole.size(); at += 500'000) {
                if (::write(out, whole.data() + at, 500'000) < 0) break;
            }
            ::close(out);
        }
    });
    // On a busy machine the writer may not run at all during many reads: count what the test is about.
    int refusals = 0;
    auto const patience = std::chrono::steady_clock::now() + std::chrono::minutes(2);
    while (refusals < 20 && std::chrono::steady_clock::now() < patience) {
        auto const file = MappedFile::open(name);
        if (!file) {
            EXPECT_EQ(file.error().code, Errc::busy);
            EXPECT_THAT(file.error().message, HasSubstr("changed this file while it was read"));
            ++refusals;
            continue;
        }
        // Looked at some time after it was read: what a mapping would have lost by now is still there.
        std::this_thread::yield();
        EXPECT_EQ(std::count(file->bytes().begin(), file->bytes().end(), 'w'),
                  static_cast<std::ptrdiff_t>(file->bytes().size()));
    }
    stop = true;
    writer.join();
    EXPECT_EQ(refusals, 20) << "the file never changed at the right moment: this test showed nothing";
}

} // namespace files_test
} // namespace guidepin::job
