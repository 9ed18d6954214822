// SPDX-License-Identifier: Apache-2.0
// What the terminal says, and the certificate that is renewed while the workbench runs, by a clock that is
// moved.
#include "web/welcome.hpp"

#include <gtest/gtest.h>

#include <ctime>
#include <filesystem>

#include <fmt/format.h>

#include "fixed_clock.hpp"
#include "scratch_folder.hpp"

namespace guidepin::web {
namespace welcome_test {

constexpr std::int64_t day_ms = 24LL * 3600 * 1000;

class WelcomeTest : public ::testing::Test
{
  protected:
    std::unique_ptr<Welcome> open(std::string const& listen, bool terminal)
    {
        std::filesystem::create_directories(folder_);
        WelcomeSettings at;
        at.listen = listen;
        at.tls = listen != "127.0.0.1";
        at.own_folder = folder_.string();
        at.clock = &clock_;
        at.terminal = terminal;
        at.use_certificate = [this](std::string const& certificate, std::string const&) {
            served_.push_back(certificate_fingerprint(certificate).value_or(""));
            return Outcome{};
        };
        at.announce = [this](std::string_view line) { announced_ += line; };
        auto welcome = Welcome::open(std::move(at));
        EXPECT_TRUE(welcome.has_value()) << welcome.error().message;
        (*welcome)->listening(8350);
        return std::move(*welcome);
    }
    static std::string key_of(Welcome const& welcome)
    {
        std::string const address = welcome.one_time_address();
        return address.substr(address.find("key=") + 4);
    }

    support::ScratchFolder const scratch_;
    std::filesystem::path const folder_ = scratch_.path() / "home";
    FixedClock clock_{static_cast<std::int64_t>(std::time(nullptr)) * 1000};
    std::string announced_;
    std::vector<std::string> served_; ///< fingerprints, in the order of use
};

TEST_F(WelcomeTest, AloneItSaysWhereTheNextAddressIs)
{
    auto const welcome = open("127.0.0.1", false);
    EXPECT_EQ(welcome->one_time_address().rfind("http://127.0.0.1:8350/?key=", 0), 0U);
    std::string const said = welcome->greeting("", "Olga");
    EXPECT_NE(said.find((folder_ / "workbench-8350.address").string()), std::string::npos) << said;
    EXPECT_EQ(said.find("Pair"), std::string::npos);
    EXPECT_TRUE(welcome->reach()->addresses.empty());
    EXPECT_TRUE(welcome->use_key(key_of(*welcome)));
    EXPECT_EQ(announced_, "") << "a log is read by others";
}

TEST_F(WelcomeTest, OfTwoWithOnePortEachHasAFileOfItsOwn)
{
    auto const here = open("127.0.0.1", false);
    auto const elsewhere = open("::1", false);
    EXPECT_NE(here->greeting("", "Olga").find("workbench-8350.address"), std::string::npos);
    EXPECT_NE(elsewhere->greeting("", "Olga").find("workbench-..1-8350.address"), std::string::npos)
        << elsewhere->greeting("", "Olga");
    EXPECT_TRUE(here->use_key(key_of(*here)));
    EXPECT_TRUE(elsewhere->use_key(key_of(*elsewhere)));
}

TEST_F(WelcomeTest, OnATerminalTheNextAddressIsPrinted)
{
    auto const welcome = open("127.0.0.1", true);
    std::string const first = key_of(*welcome);
    EXPECT_FALSE(welcome->use_key("no key"));
    EXPECT_EQ(announced_, "");
    EXPECT_TRUE(welcome->use_key(first));
    EXPECT_NE(announced_.find(key_of(*welcome)), std::string::npos) << announced_;
    EXPECT_EQ(announced_.find(first), std::string::npos);
}

TEST_F(WelcomeTest, OnANetworkTheFingerprintStandsBesideTheCode)
{
    auto const welcome = open("192.0.2.7", false);
    std::string const said = welcome->greeting("12345678", "Olga");
    EXPECT_NE(said.find("code 1234 5678"), std::string::npos) << said;
    EXPECT_NE(said.find("https://192.0.2.7:8350/"), std::string::npos);
    for (std::string const& line : fingerprint_lines(welcome->reach()->fingerprint))
        EXPECT_NE(said.find(line), std::string::npos) << line;
    EXPECT_EQ(said.find("█"), std::string::npos) << "a file has no use for a drawing";
    auto const seen = open("192.0.2.7", true);
    EXPECT_NE(seen->greeting("12345678", "Olga").find("█"), std::string::npos);
}

TEST_F(WelcomeTest, TheCertificateIsRenewedWhileItRuns)
{
    auto const welcome = open("192.0.2.7", false);
    std::string const before = welcome->reach()->fingerprint;
    clock_.advance_ms(300 * day_ms);
    EXPECT_FALSE(welcome->look_after());
    EXPECT_EQ(announced_, "");
    clock_.advance_ms(90 * day_ms);
    EXPECT_TRUE(welcome->look_after());
    auto const after = welcome->reach();
    EXPECT_NE(after->fingerprint, before);
    ASSERT_EQ(after->changes.size(), 1U);
    EXPECT_EQ(after->changes[0].before, before);
    EXPECT_EQ(after->addresses.size(), 1U) << "the rest is as it was";
    for (std::string const& fingerprint : {before, after->fingerprint})
        EXPECT_NE(announced_.find(fingerprint_lines(fingerprint)[0]), std::string::npos) << announced_;
    EXPECT_FALSE(welcome->look_after()) << "once";
    EXPECT_EQ(served_, (std::vector<std::string>{before, after->fingerprint})) << "what the server is given";
}

TEST_F(WelcomeTest, AChangeAtTheStartIsSaidAtTheStart)
{
    open("192.0.2.7", false);
    auto const welcome = open("192.0.2.8", false);
    std::string const said = welcome->greeting("12345678", "Olga");
    EXPECT_NE(said.find("192.0.2.8 was not in it"), std::string::npos) << said;
}

} // namespace welcome_test
} // namespace guidepin::web
