// SPDX-License-Identifier: Apache-2.0
// Oracle: the file system's own word (stat, lstat) on what was written.
#include "web/private_file.hpp"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <iterator>

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include "scratch_folder.hpp"

namespace guidepin::web {
namespace private_file_test {

namespace fs = std::filesystem;

class PrivateFile : public ::testing::Test
{
  protected:
    void SetUp() override { ASSERT_TRUE(make_private_folder(folder_.string()).has_value()); }

    static mode_t mode_of(fs::path const& path)
    {
        struct stat status = {};
        return ::lstat(path.c_str(), &status) == 0 ? status.st_mode & 07777U : 0;
    }

    support::ScratchFolder const scratch_;
    fs::path const folder_ = scratch_.path() / "home/a/b";
};

TEST_F(PrivateFile, IsItsOwnersAloneWhateverTheUmaskIs)
{
    EXPECT_EQ(mode_of(folder_), 0700U);
    EXPECT_EQ(mode_of(folder_.parent_path()), 0700U);
    mode_t const before = ::umask(0);
    auto const path = folder_ / "key";
    auto const written = write_private_file(path.string(), "secret");
    ::umask(before);
    ASSERT_TRUE(written.has_value()) << written.error().message;
    EXPECT_EQ(mode_of(path), 0600U);
    EXPECT_EQ(read_private_file(path.string()).value_or(""), "secret");
    ASSERT_TRUE(write_private_file(path.string(), "another").has_value());
    EXPECT_EQ(read_private_file(path.string()).value_or(""), "another");
    EXPECT_EQ(std::distance(fs::directory_iterator(folder_), {}), 1) << "nothing is left beside it";
}

TEST_F(PrivateFile, ALinkIsReplacedAndNeverFollowed)
{
    auto const victim = folder_ / "victim", path = folder_ / "key";
    std::ofstream(victim) << "precious";
    fs::create_symlink(victim, path);
    auto const seen = read_private_file(path.string());
    ASSERT_FALSE(seen.has_value());
    EXPECT_EQ(seen.error().code, Errc::refused);
    ASSERT_TRUE(write_private_file(path.string(), "secret").has_value());
    EXPECT_FALSE(fs::is_symlink(path));
    std::ifstream file(victim);
    EXPECT_EQ(std::string(std::istreambuf_iterator<char>(file), {}), "precious");
}

TEST_F(PrivateFile, OneThatOthersMayReadIsRefused)
{
    auto const path = folder_ / "key";
    ASSERT_TRUE(write_private_file(path.string(), "secret").has_value());
    for (mode_t const mode : {0640U, 0604U, 0620U}) {
        ASSERT_EQ(::chmod(path.c_str(), mode), 0);
        auto const seen = read_private_file(path.string());
        ASSERT_FALSE(seen.has_value()) << fmt::format("{:o}", mode);
        EXPECT_EQ(seen.error().code, Errc::refused);
    }
    ASSERT_EQ(::mkfifo((folder_ / "pipe").c_str(), 0600), 0);
    EXPECT_FALSE(read_private_file((folder_ / "pipe").string()).has_value()) << "and nobody waits for a FIFO";
    auto const none = read_private_file((folder_ / "none").string());
    ASSERT_FALSE(none.has_value());
    EXPECT_EQ(none.error().code, Errc::not_found);
}

} // namespace private_file_test
} // namespace guidepin::web
