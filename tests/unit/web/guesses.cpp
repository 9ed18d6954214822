// SPDX-License-Identifier: Apache-2.0
// Oracle: the waits are powers of two by their definition; the budget is counted by a list of its own here.
#include "web/guesses.hpp"

#include <gtest/gtest.h>

#include <deque>
#include <random>
#include <set>

#include <fmt/format.h>

namespace guidepin::web {
namespace guesses_test {

TEST(Guesses, EachWrongOneDoublesTheWaitOfItsAddressAlone)
{
    Guesses guesses;
    std::int64_t now = 1000;
    for (int i = 0; i < Guesses::free_tries; ++i) guesses.wrong("192.0.2.66", true, now);
    EXPECT_EQ(guesses.wait_of("192.0.2.66", now), 0) << "a person mistypes";
    std::int64_t expected = Guesses::first_wait_ms;
    for (int i = 0; i < 30; ++i) {
        guesses.wrong("192.0.2.66", true, now);
        EXPECT_EQ(guesses.wait_of("192.0.2.66", now), std::min(expected, Guesses::longest_wait_ms)) << i;
        EXPECT_EQ(guesses.wait_of("192.0.2.7", now), 0) << "another address waits for nothing";
        now += guesses.wait_of("192.0.2.66", now);
        EXPECT_EQ(guesses.wait_of("192.0.2.66", now), 0) << "the wait is over";
        expected = std::min(2 * expected, Guesses::longest_wait_ms);
    }
    guesses.right("192.0.2.66");
    guesses.wrong("192.0.2.66", true, now);
    EXPECT_EQ(guesses.wait_of("192.0.2.66", now), 0) << "a right code wipes the slate";
}

TEST(Guesses, AreForgottenAfterAQuietHour)
{
    Guesses guesses;
    for (int i = 0; i < 5; ++i) guesses.wrong("192.0.2.66", false, 0);
    std::int64_t const over = guesses.wait_of("192.0.2.66", 0);
    ASSERT_GT(over, 0);
    guesses.wrong("192.0.2.66", false, over + Guesses::forgotten_after_ms - 1);
    EXPECT_GT(guesses.wait_of("192.0.2.66", over + Guesses::forgotten_after_ms - 1), over) << "not yet";
    std::int64_t const later = 10 * Guesses::forgotten_after_ms;
    guesses.wrong("192.0.2.66", false, later);
    EXPECT_EQ(guesses.wait_of("192.0.2.66", later), 0);
}

TEST(Guesses, NoTenMinutesSeeMoreThanTheBudgetHoweverManyAddressesThereAre)
{
    unsigned const seed = std::random_device{}();
    SCOPED_TRACE(fmt::format("seed {}", seed));
    std::mt19937 random(seed);
    Guesses guesses;
    std::deque<std::int64_t> looked_at;
    std::int64_t now = 0;
    for (int i = 0; i < 20'000; ++i) {
        now += static_cast<std::int64_t>(random() % 3000);
        while (!looked_at.empty() && now - looked_at.front() >= Guesses::window_ms) looked_at.pop_front();
        std::string const address = fmt::format("2001:db8::{:x}", random() % 5000);
        if (guesses.wait_of(address, now) > 0) continue;
        std::int64_t const pause = guesses.pause(now);
        EXPECT_EQ(pause == 0, looked_at.size() < Guesses::budget) << "at " << now;
        if (pause > 0) {
            EXPECT_EQ(pause, looked_at.front() + Guesses::window_ms - now);
            continue;
        }
        guesses.wrong(address, true, now);
        looked_at.push_back(now);
        ASSERT_LE(looked_at.size(), Guesses::budget);
    }
    EXPECT_GT(now, 10 * Guesses::window_ms);
}

TEST(Guesses, KeepABoundedNumberOfAddressesAndTheLongestWaitsOfThem)
{
    Guesses guesses;
    for (int i = 0; i < 12; ++i) guesses.wrong("192.0.2.66", false, 0);
    std::int64_t const wait = guesses.wait_of("192.0.2.66", 0);
    for (int i = 0; i < 10'000; ++i) {
        guesses.wrong(fmt::format("2001:db8::{:x}", i), false, 1);
        ASSERT_LE(guesses.addresses(), Guesses::addresses_at_most);
    }
    EXPECT_EQ(guesses.wait_of("192.0.2.66", 0), wait) << "many addresses do not wash out one that guesses on";
}

} // namespace guesses_test
} // namespace guidepin::web
