// SPDX-License-Identifier: Apache-2.0
// The certificate that we make, read back by OpenSSL's own program: independent of how it was written.
#include "web/own_certificate.hpp"

#include <gtest/gtest.h>

#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <fstream>

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include "scratch_folder.hpp"

namespace guidepin::web {
namespace own_certificate_test {

namespace fs = std::filesystem;

constexpr std::int64_t day_ms = 24LL * 3600 * 1000;

std::string said_by(std::string const& command)
{
    std::string text;
    std::FILE* const pipe = ::popen(command.c_str(), "r");
    char bytes[4096];
    while (pipe && std::fgets(bytes, sizeof bytes, pipe)) text += bytes;
    if (pipe) ::pclose(pipe);
    return text;
}

class OwnCertificateTest : public ::testing::Test
{
  protected:
    OwnCertificate make(std::vector<std::string> const& names, std::int64_t now_ms)
    {
        auto const made = own_certificate(folder_.string(), names, now_ms);
        EXPECT_TRUE(made.has_value()) << made.error().message;
        return made ? *made : OwnCertificate{};
    }
    std::string text_of(OwnCertificate const& own)
    {
        return said_by(fmt::format("openssl x509 -in '{}' -noout -text -fingerprint -sha256 2>&1", own.path));
    }
    bool holds_for(OwnCertificate const& own, std::string const& address)
    {
        return said_by(fmt::format("openssl x509 -in '{}' -noout -checkip '{}' 2>&1", own.path, address))
                   .find("does match") != std::string::npos;
    }

    support::ScratchFolder const scratch_;
    fs::path const folder_ = scratch_.path() / "home";
    std::int64_t const now_ = static_cast<std::int64_t>(std::time(nullptr)) * 1000;
};

TEST_F(OwnCertificateTest, IsMadeOnceAndHolds)
{
    auto const own = make({"192.0.2.7", "2001:db8::7", "hall", "hall.local"}, now_);
    struct stat status = {};
    ASSERT_EQ(::lstat(own.path.c_str(), &status), 0);
    EXPECT_EQ(status.st_mode & 07777U, 0600U) << "the key is its owner's alone";
    std::string const seen = text_of(own);
    for (char const* part : {"IP Address:192.0.2.7", "IP Address:127.0.0.1", "DNS:localhost",
                             "DNS:hall.local", "ecdsa-with-SHA256", "CA:FALSE"})
        EXPECT_NE(seen.find(part), std::string::npos) << part << "\n" << seen;
    EXPECT_TRUE(holds_for(own, "2001:db8::7"));
    EXPECT_FALSE(holds_for(own, "192.0.2.8"));
    EXPECT_NE(seen.find(own.fingerprint), std::string::npos);
    EXPECT_NE(said_by(fmt::format("openssl verify -CAfile '{0}' '{0}' 2>&1", own.path)).find("OK"),
              std::string::npos);
    EXPECT_NE(said_by(fmt::format("openssl pkey -in '{}' -noout -check 2>&1", own.path)).find("valid"),
              std::string::npos);
    EXPECT_FALSE(own.renewed) << "the first one changes nothing for anybody";
    auto const again = make({"192.0.2.7"}, now_);
    EXPECT_EQ(again.fingerprint, own.fingerprint);
    EXPECT_TRUE(again.changes.empty());
}

TEST_F(OwnCertificateTest, IsValidForNoLongerThanBrowsersTake)
{
    auto const own = make({"192.0.2.7"}, now_);
    EXPECT_LE(own.ends_ms - now_, certificate_days * day_ms);
    EXPECT_GT(own.ends_ms - now_, 365 * day_ms);
    // -checkend: "will expire within so many seconds" makes it end with 1.
    auto const ends_within = [&](int days) {
        return std::system(fmt::format("openssl x509 -in '{}' -noout -checkend {} >/dev/null 2>&1", own.path,
                                       static_cast<long>(days) * 86400)
                               .c_str()) != 0;
    };
    EXPECT_TRUE(ends_within(certificate_days));
    EXPECT_FALSE(ends_within(390));
}

TEST_F(OwnCertificateTest, IsRenewedForAnAddressThatIsMissingAndKeepsTheOldOnes)
{
    auto const first = make({"192.0.2.7"}, now_);
    auto const second = make({"198.51.100.9", "2001:db8::9"}, now_ + 5000);
    EXPECT_NE(second.fingerprint, first.fingerprint);
    EXPECT_TRUE(second.renewed);
    ASSERT_EQ(second.changes.size(), 1U);
    EXPECT_EQ(second.changes[0].before, first.fingerprint);
    EXPECT_EQ(second.changes[0].after, second.fingerprint);
    EXPECT_EQ(second.changes[0].at_ms, now_ + 5000);
    EXPECT_EQ(second.changes[0].why, "198.51.100.9 was not in it");
    for (char const* address : {"192.0.2.7", "198.51.100.9", "2001:db8::9", "127.0.0.1", "::1"})
        EXPECT_TRUE(holds_for(second, address)) << address;
    auto const back = make({"192.0.2.7"}, now_ + 9000);
    EXPECT_EQ(back.fingerprint, second.fingerprint) << "going back and forth changes it once";
    EXPECT_EQ(back.changes.size(), 1U) << "and the change is still known";
}

TEST_F(OwnCertificateTest, IsRenewedBeforeItEndsAndWhenTheClockWasWrong)
{
    auto const first = make({"192.0.2.7"}, now_);
    std::vector<std::string> const names = {"192.0.2.7"};
    std::int64_t const due = first.ends_ms - renewed_days_before * day_ms;
    EXPECT_EQ(why_renewed(first.path, names, due), "");
    EXPECT_NE(why_renewed(first.path, names, due + 1000).find("it would have ended on "), std::string::npos);
    EXPECT_NE(why_renewed(first.path, names, first.ends_ms).find("it ended on "), std::string::npos);
    EXPECT_NE(why_renewed(first.path, names, now_ - 30 * day_ms).find("it begins only on "),
              std::string::npos);
    auto const next = make(names, due + 1000);
    EXPECT_NE(next.fingerprint, first.fingerprint);
    EXPECT_GT(next.ends_ms, first.ends_ms);
}

TEST_F(OwnCertificateTest, OneForTenYearsOrWithoutItsKeyIsReplaced)
{
    fs::create_directories(folder_);
    std::string const path = (folder_ / "workbench.pem").string();
    std::string const make_one =
        "openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -subj /CN=old "
        "-addext subjectAltName=IP:192.0.2.7 -keyout '{0}.key' -out '{0}' -days {1} 2>/dev/null";
    ASSERT_EQ(std::system(fmt::format(fmt::runtime(make_one), path, 3650).c_str()), 0);
    ASSERT_EQ(::chmod(path.c_str(), 0600), 0);
    std::ofstream(folder_ / "workbench.key") << "of an earlier version";
    auto const own = make({"192.0.2.7"}, now_);
    ASSERT_EQ(own.changes.size(), 1U);
    EXPECT_EQ(own.changes[0].why, "its key was not beside it");
    EXPECT_FALSE(fs::exists(folder_ / "workbench.key"));
    ASSERT_EQ(
        std::system(fmt::format(fmt::runtime(make_one + " && cat '{0}.key' >> '{0}'"), path, 3650).c_str()),
        0);
    EXPECT_EQ(make({"192.0.2.7"}, now_).changes.back().why,
              "it was made for longer than the 397 days that browsers take");
    ASSERT_EQ(::chmod(path.c_str(), 0644), 0);
    EXPECT_EQ(make({"192.0.2.7"}, now_).changes.back().why, "its file was not its owner's alone");
    std::ofstream(path) << "nothing of the kind";
    auto const mended = make({"192.0.2.7"}, now_);
    EXPECT_EQ(mended.changes.back().why, "it could not be read");
    EXPECT_EQ(mended.changes.back().before, "");
}

TEST_F(OwnCertificateTest, ALinkInItsPlaceIsNotWrittenThrough)
{
    fs::create_directories(folder_);
    auto const victim = folder_ / "victim";
    std::ofstream(victim) << "precious";
    fs::create_symlink(victim, folder_ / "workbench.pem");
    auto const own = make({"192.0.2.7"}, now_);
    EXPECT_FALSE(fs::is_symlink(own.path));
    EXPECT_EQ(fs::file_size(victim), std::string("precious").size());
}

TEST_F(OwnCertificateTest, ANameThatIsNoneGetsNowhere)
{
    auto const own = make({"hall,DNS:evil.example", "192.0.2.7\nIP:192.0.2.66"}, now_);
    EXPECT_EQ(text_of(own).find("evil"), std::string::npos);
    EXPECT_FALSE(holds_for(own, "192.0.2.66"));
}

TEST(Fingerprint, IsReadOutInLinesOfFourGroups)
{
    std::string fingerprint = "00";
    for (int i = 1; i < 32; ++i) fingerprint += fmt::format(":{:02X}", i);
    EXPECT_EQ(fingerprint_lines(fingerprint),
              (std::vector<std::string>{"0001 0203 0405 0607", "0809 0A0B 0C0D 0E0F", "1011 1213 1415 1617",
                                        "1819 1A1B 1C1D 1E1F"}));
    EXPECT_TRUE(fingerprint_lines("").empty());
}

} // namespace own_certificate_test
} // namespace guidepin::web
