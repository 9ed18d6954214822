// SPDX-License-Identifier: Apache-2.0
// Sessions and pairing codes by a clock that is moved: what is good, and when it ends.
#include "web/session.hpp"
#include "web/page.hpp"
#include "web/pages/photo.hpp"
#include "web/pages/power_drawing.hpp"
#include "web/pages/upload.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <ctime>
#include <set>

#include <fmt/format.h>

namespace guidepin::web {
namespace session_test {

TEST(Sessions, EndByThemselves)
{
    Sessions sessions;
    std::string const id = sessions.begin("Ines", false, 0);
    ASSERT_TRUE(sessions.find(id, Sessions::idle_ms).has_value());
    EXPECT_FALSE(sessions.find(id, 2 * Sessions::idle_ms + 1).has_value()) << "idle too long";
    std::string const busy = sessions.begin("Ines", false, 0);
    for (std::int64_t now = 0; now <= Sessions::longest_ms; now += Sessions::idle_ms / 2)
        ASSERT_TRUE(sessions.find(busy, now).has_value());
    EXPECT_FALSE(sessions.find(busy, Sessions::longest_ms + 1).has_value()) << "in use, but too long";
    EXPECT_FALSE(sessions.find("", 0).has_value());
}

TEST(Sessions, AnOpenPageAloneKeepsNoneAlive)
{
    Sessions sessions;
    std::string const id = sessions.begin("Ines", false, 0);
    for (std::int64_t now = 0; now <= Sessions::idle_ms; now += Sessions::idle_ms / 16)
        ASSERT_TRUE(sessions.holds(id, now));
    EXPECT_FALSE(sessions.holds(id, Sessions::idle_ms + 1));
}

TEST(Sessions, AreBoundedAndForgotten)
{
    Sessions sessions;
    std::string const first = sessions.begin("Ines", false, 0);
    std::string const second = sessions.begin("Ines", false, 1);
    ASSERT_TRUE(sessions.find(first, 2).has_value());
    for (std::size_t i = 0; i < Sessions::sessions_at_most - 1; ++i) sessions.begin("Tomasz", false, 3);
    EXPECT_EQ(sessions.count(), Sessions::sessions_at_most);
    EXPECT_FALSE(sessions.holds(second, 3)) << "the one unused for longest makes room";
    EXPECT_TRUE(sessions.holds(first, 3));
    sessions.purge(Sessions::idle_ms + 4);
    EXPECT_EQ(sessions.count(), 0U);
}

TEST(Sessions, TheirClockDoesNotFollowTheWallClock)
{
    // Oracle: CLOCK_BOOTTIME itself; the wall clock is decades away from it.
    timespec boot{};
    ASSERT_EQ(::clock_gettime(CLOCK_BOOTTIME, &boot), 0);
    std::int64_t const expected = static_cast<std::int64_t>(boot.tv_sec) * 1000;
    EXPECT_GE(since_start_ms(), expected);
    EXPECT_LT(since_start_ms(), expected + 3'600'000);
}

TEST(Sessions, ACodeIsGoodOnceAndForTenMinutes)
{
    using Outcome = Redeemed::Outcome;
    Sessions sessions;
    std::string const code = sessions.code_for("Tomasz", 0);
    EXPECT_EQ(code.size(), 8U);
    auto const redeemed = sessions.redeem(code, "192.0.2.7", Sessions::code_lives_ms);
    EXPECT_EQ(redeemed.outcome, Outcome::good);
    EXPECT_EQ(redeemed.person, "Tomasz");
    EXPECT_EQ(sessions.redeem(code, "192.0.2.7", 0).outcome, Outcome::wrong) << "once";
    std::string const late = sessions.code_for("Tomasz", 0);
    EXPECT_EQ(sessions.redeem(late, "192.0.2.7", Sessions::code_lives_ms + 1).outcome, Outcome::wrong);
    EXPECT_EQ(in_fours("12345678"), "1234 5678");
}

TEST(Sessions, GuessingSlowsTheGuesserAndVoidsNobodysCode)
{
    using Outcome = Redeemed::Outcome;
    Sessions sessions;
    std::string const code = sessions.code_for("Ines", 0);
    for (int i = 0; i <= Guesses::free_tries; ++i)
        EXPECT_EQ(sessions.redeem("x", "192.0.2.66", 0).outcome, Outcome::wrong);
    auto const waits = sessions.redeem(code, "192.0.2.66", 0);
    EXPECT_EQ(waits.outcome, Outcome::wait) << "the right code is not tried either";
    EXPECT_EQ(waits.wait_ms, Guesses::first_wait_ms);
    for (int i = 0; i < 1000; ++i) sessions.redeem(code, "192.0.2.66", 0);
    EXPECT_EQ(sessions.redeem(code, "192.0.2.66", 0).wait_ms, Guesses::first_wait_ms)
        << "asking while it waits costs nothing more";
    EXPECT_EQ(sessions.redeem(code, "192.0.2.7", 0).outcome, Outcome::good) << "another address";
}

TEST(Sessions, WhenTheBudgetIsSpentNewCodesAreTooLongToGuess)
{
    using Outcome = Redeemed::Outcome;
    Sessions sessions;
    std::string const known = sessions.code_for("Ines", 0);
    std::string const wrong = known == "00000000" ? "11111111" : "00000000";
    for (std::size_t i = 0; i < Guesses::budget; ++i)
        EXPECT_EQ(sessions.redeem(wrong, fmt::format("2001:db8::{:x}", i), 0).outcome, Outcome::wrong);
    auto const paused = sessions.redeem(known, "192.0.2.7", 1);
    EXPECT_EQ(paused.outcome, Outcome::paused);
    EXPECT_EQ(paused.wait_ms, Guesses::window_ms - 1);
    std::string const longer = sessions.code_for("Ines", 1);
    EXPECT_EQ(longer.size(), 16U);
    EXPECT_EQ(sessions.redeem(longer, "192.0.2.7", 1).outcome, Outcome::good) << "nobody is locked out";
    EXPECT_EQ(sessions.redeem(known, "192.0.2.7", Guesses::window_ms).outcome, Outcome::good)
        << "the short one was never void: the first wrong ones are ten minutes old, and so is it";
    EXPECT_EQ(sessions.code_for("Ines", Guesses::window_ms).size(), 8U);
}

TEST(Sessions, ManyCodesVoidTheOldestAlone)
{
    using Outcome = Redeemed::Outcome;
    Sessions sessions;
    std::string const oldest = sessions.code_for("Ines", 0), next = sessions.code_for("Tomasz", 1);
    for (std::size_t i = 0; i + 1 < Sessions::codes_at_most; ++i) sessions.code_for("Vera", 2);
    EXPECT_EQ(sessions.redeem(oldest, "192.0.2.7", 3).outcome, Outcome::wrong);
    EXPECT_EQ(sessions.redeem(next, "192.0.2.7", 3).outcome, Outcome::good);
}

TEST(Sessions, TokensAndIdsDiffer)
{
    Sessions sessions;
    std::set<std::string> seen;
    for (int i = 0; i < 200; ++i) {
        std::string const id = sessions.begin("Ines", false, 0);
        EXPECT_TRUE(seen.insert(id).second);
        EXPECT_TRUE(seen.insert(sessions.find(id, 0)->token).second);
    }
}

TEST(Roles, AreThoseOfThisMoment)
{
    std::vector<job::Person> people = {{"Ines", job::Role::technician, {}, {}},
                                       {"Vera", job::Role::reviewer, {}, {}}};
    EXPECT_EQ(role_of(people, "Olga", "Ines"), job::Role::technician);
    EXPECT_EQ(role_of(people, "Olga", "Nobody"), std::nullopt) << "has no part in the job";
    EXPECT_EQ(role_of(people, "Olga", "Olga"), job::Role::lead) << "who started the workbench";
    people.push_back({"Olga", job::Role::reviewer, {}, {}});
    EXPECT_EQ(role_of(people, "Olga", "Olga"), job::Role::reviewer) << "unless they gave it away";
    Session session;
    session.person = "Olga";
    EXPECT_EQ(role_of(people, "Olga", session), job::Role::reviewer);
    session.at_machine = true;
    EXPECT_EQ(role_of(people, "Olga", session), job::Role::lead) << "so that somebody can name people";
}

TEST(Roles, MayWhatTheyMay)
{
    Exchange exchange;
    EXPECT_TRUE(exchange.may(Access::anybody));
    EXPECT_FALSE(exchange.may(Access::read)) << "not paired";
    exchange.session = "s";
    exchange.role = job::Role::reviewer;
    EXPECT_TRUE(exchange.may(Access::note));
    EXPECT_FALSE(exchange.may(Access::enter));
    exchange.role = job::Role::technician;
    EXPECT_TRUE(exchange.may(Access::enter));
    EXPECT_FALSE(exchange.may(Access::lead));
    exchange.role = job::Role::lead;
    EXPECT_TRUE(exchange.may(Access::lead));
}

TEST(Pages, EachRowIsWholeAndNoneTwice)
{
    std::set<std::pair<std::string_view, std::string_view>> seen;
    for (Page const& page : pages()) {
        EXPECT_TRUE(seen.emplace(page.method, page.path).second) << page.path;
        EXPECT_FALSE(page.title.empty() || page.help.empty()) << page.path;
        EXPECT_NE(page.show, nullptr);
        // A change is never open to who has not paired, but for pairing itself.
        if (page.method != "POST") continue;
        EXPECT_TRUE(page.access != Access::anybody || page.path == "/pair" || page.path == "/about")
            << page.path;
        EXPECT_NE(page.access, Access::read) << page.path;
    }
    EXPECT_GT(seen.size(), 20U);
}

TEST(Uploads, NamesAreTextNeverPaths)
{
    EXPECT_EQ(shown_name("../../etc/passwd"), "passwd");
    EXPECT_EQ(shown_name("C:\\Users\\x\\day.csv"), "day.csv");
    EXPECT_EQ(shown_name("a\nb\x01.csv"), "ab.csv");
    EXPECT_EQ(shown_name("\xff\xfe"), "file");
    EXPECT_EQ(shown_name(""), "file");
    EXPECT_LE(shown_name(std::string(4000, 'x')).size(), 120U);
}

TEST(Photos, AreWhatTheySay)
{
    EXPECT_EQ(*bytes_of("TWFu"), "Man"); // RFC 4648, section 10 has the like: "foobar"
    EXPECT_EQ(*bytes_of("Zm9vYmFy"), "foobar");
    EXPECT_EQ(*bytes_of("Zm9vYg=="), "foob");
    EXPECT_FALSE(bytes_of("a<b").has_value());
    EXPECT_TRUE(picture_of("data:image/jpeg;base64,/9j/4AAQ").has_value());
    EXPECT_FALSE(picture_of("data:image/svg+xml;base64,PHN2Zz4=").has_value());
    EXPECT_FALSE(picture_of("data:image/png;base64,PHN2Zz4=").has_value()) << "no PNG inside";
    EXPECT_FALSE(picture_of("javascript:alert(1)").has_value());
}

TEST(Powers, HeightsFollowValues)
{
    PowerRow row;
    row.low = -30;
    row.high = -15;
    row.powers = {{1, -15.0}, {2, -22.5}, {3, -40.0}};
    row.number = [](double value, int) { return std::to_string(value); };
    auto const scene = power_drawing(row, 400);
    std::vector<drawing::Line> stems;
    for (drawing::Node const& node : scene.nodes) {
        auto const* line = std::get_if<drawing::Line>(&node.shape);
        if (line && line->stroke.width > 4) stems.push_back(*line);
    }
    ASSERT_EQ(stems.size(), 6U) << "for each position its power, then how far it is from the mean";
    // The scale reaches from a decibel under the lowest power to the top of the window: 26 dB over 96 units.
    double const per_db = 96.0 / 26;
    EXPECT_NEAR(stems[2].to.y - stems[0].to.y, 7.5 * per_db, 1e-9);
    EXPECT_NEAR(stems[4].to.y - stems[0].to.y, 25 * per_db, 1e-9);
    // Mean (-15 - 22.5 - 40) / 3 = -25.8333: 10.8333 and 3.3333 above, 14.1667 below, from one line.
    auto const away = [&](std::size_t i) { return stems[i].from.y - stems[i].to.y; };
    EXPECT_GT(away(1), 0);
    EXPECT_NEAR(away(3) / away(1), 3.3333333 / 10.8333333, 1e-6);
    EXPECT_NEAR(away(5) / away(1), -14.1666667 / 10.8333333, 1e-6);
    EXPECT_EQ(stems[1].from.y, stems[5].from.y);
    EXPECT_EQ(stems[4].stroke.paint.token, drawing::Token::fail) << "outside the plausible window";
    EXPECT_EQ(stems[0].stroke.paint.token, drawing::Token::accent);
}

} // namespace session_test
} // namespace guidepin::web
