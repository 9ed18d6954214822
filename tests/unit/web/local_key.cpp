// SPDX-License-Identifier: Apache-2.0
// The one-time key by its file: what a person who reads that file opens.
#include "web/local_key.hpp"
#include "web/private_file.hpp"

#include <gtest/gtest.h>

#include <filesystem>
#include <set>

#include <fmt/format.h>

#include "scratch_folder.hpp"

namespace guidepin::web {
namespace local_key_test {

std::string key_in(std::string const& address)
{
    return address.substr(address.find("?key=") + 5);
}

TEST(LocalKey, HoldsOnceAndTheNextOneIsInItsFile)
{
    support::ScratchFolder const scratch;
    std::filesystem::path const folder = scratch.path() / "home";
    ASSERT_TRUE(make_private_folder(folder.string()).has_value());
    std::string const path = (folder / "workbench-8350.address").string();
    {
        LocalKey key("http://127.0.0.1:8350/", path);
        EXPECT_EQ(key.trouble(), "");
        std::set<std::string> seen;
        for (int i = 0; i < 3; ++i) {
            std::string const address = key.one_time_address();
            EXPECT_EQ(address.rfind("http://127.0.0.1:8350/?key=", 0), 0U);
            EXPECT_EQ(read_private_file(path).value_or(""), address + "\n");
            std::string const word = key_in(address);
            EXPECT_EQ(word.size(), 48U) << "192 bits";
            EXPECT_TRUE(seen.insert(word).second);
            EXPECT_FALSE(key.use("")) << "nothing is no key";
            EXPECT_FALSE(key.use(word.substr(1)));
            EXPECT_FALSE(key.use(std::string(48, '0')));
            EXPECT_TRUE(key.use(word));
            EXPECT_FALSE(key.use(word)) << "once";
        }
    }
    EXPECT_FALSE(std::filesystem::exists(path)) << "the file goes with the workbench";
}

TEST(LocalKey, SaysWhenItsFileCannotBeWritten)
{
    LocalKey key("http://127.0.0.1:8350/", "/no/such/folder/workbench-8350.address");
    EXPECT_NE(key.trouble().find("/no/such/folder"), std::string::npos) << key.trouble();
    EXPECT_TRUE(key.use(key_in(key.one_time_address())));
}

} // namespace local_key_test
} // namespace guidepin::web
