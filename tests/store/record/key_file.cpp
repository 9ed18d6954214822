// SPDX-License-Identifier: Apache-2.0
// The station's key outside the job.
#include "places.hpp"

#include <fstream>

#include <sys/stat.h>

namespace guidepin::record::test {
namespace key_file_test {

TEST(KeyFile, MadeOnFirstUseAndReadAfterThat)
{
    Folder const folder;
    std::string const path = folder.file("share/guidepin/station.key");
    auto const made = StationKey::read_or_make(path);
    ASSERT_TRUE(made) << made.error().message;
    struct stat about
    {
    };
    ASSERT_EQ(::stat(path.c_str(), &about), 0);
    EXPECT_EQ(about.st_mode & 07777, 0600U);
    ASSERT_EQ(::stat(folder.file("share/guidepin").c_str(), &about), 0);
    EXPECT_EQ(about.st_mode & 07777, 0700U);
    auto const again = StationKey::read_or_make(path);
    ASSERT_TRUE(again) << again.error().message;
    EXPECT_EQ(again->public_key(), made->public_key());
    EXPECT_EQ(again->sign("x"), made->sign("x"));
    EXPECT_EQ(made->station().size(), 12U);
    std::size_t files = 0;
    for ([[maybe_unused]] auto const& entry :
         std::filesystem::directory_iterator(folder.file("share/guidepin")))
        ++files;
    EXPECT_EQ(files, 1U) << "nothing is left beside it";
}

TEST(KeyFile, RefusedWhenOthersMayReadIt)
{
    Folder const folder;
    std::string const path = folder.file("station.key");
    ASSERT_TRUE(StationKey::read_or_make(path));
    ASSERT_EQ(::chmod(path.c_str(), 0644), 0);
    auto const refused = StationKey::read_or_make(path);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().code, Errc::refused);
    EXPECT_NE(refused.error().message.find("chmod 600"), std::string::npos);
}

TEST(KeyFile, RefusedWhenItIsSomethingElse)
{
    Folder const folder;
    std::string const path = folder.file("station.key");
    std::ofstream(path) << "my shopping list\n";
    ASSERT_EQ(::chmod(path.c_str(), 0600), 0);
    auto const refused = StationKey::read_or_make(path);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().code, Errc::invalid_input);
}

TEST(KeyFile, SecretIsNotInTheJob)
{
    Folder const folder;
    std::string const path = folder.file("station.key");
    auto const key = StationKey::read_or_make(path);
    ASSERT_TRUE(key);
    std::string const job = folder.file("a.job");
    ASSERT_TRUE(create_sqlite(job, create_options));
    ASSERT_TRUE(append(*opened(job, &*key), notes(1, 2)));
    std::ifstream key_text(path);
    std::string opening, secret;
    std::getline(key_text, opening);
    std::getline(key_text, secret);
    ASSERT_EQ(secret.size(), 64U);
    std::array<std::uint8_t, 32> raw{};
    ASSERT_TRUE(read_hex(secret, raw.data(), raw.size()));
    std::ifstream file(job, std::ios::binary);
    std::string const content(std::istreambuf_iterator<char>(file), {});
    EXPECT_NE(content.find(key->public_key().hex()), std::string::npos);
    EXPECT_EQ(content.find(secret), std::string::npos);
    EXPECT_EQ(content.find(std::string(raw.begin(), raw.end())), std::string::npos);
}

} // namespace key_file_test
} // namespace guidepin::record::test
