// SPDX-License-Identifier: Apache-2.0
#include "web/http_work.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <future>

namespace guidepin::web {
namespace http_work_test {

TEST(HttpWork, AFullQueueRefusesAndNothingThatWasTakenIsForgotten)
{
    std::promise<void> go;
    std::shared_future<void> const gone(go.get_future());
    std::promise<void> begun;
    std::atomic<int> done{0}, given_up{0};
    Work work({1, 3, 2, std::chrono::hours(1)});
    ASSERT_TRUE(work.add(false, [&](bool late) {
        begun.set_value();
        gone.wait();
        if (!late) ++done;
    }));
    begun.get_future().wait();
    for (int i = 0; i < 3; ++i) EXPECT_TRUE(work.add(false, [&](bool late) { late ? ++given_up : ++done; }));
    EXPECT_FALSE(work.add(false, [&](bool) { ++done; }));
    EXPECT_TRUE(work.add(true, [&](bool late) { late ? ++given_up : ++done; }))
        << "strangers have a queue of their own";
    go.set_value();
    work.end();
    EXPECT_EQ(done + given_up, 5) << "each that was taken is done or given up";
    EXPECT_FALSE(work.add(false, [](bool) {}));
}

TEST(HttpWork, StrangersHoldOneThreadAndGoLast)
{
    std::promise<void> go;
    std::shared_future<void> const gone(go.get_future());
    std::atomic<int> at_once{0}, most{0}, strangers{0};
    std::promise<void> served;
    Work work({3, 100, 100, std::chrono::hours(1)});
    for (int i = 0; i < 10; ++i)
        work.add(true, [&](bool) {
            most = std::max<int>(most, ++at_once);
            gone.wait();
            --at_once;
            ++strangers;
        });
    work.add(false, [&](bool) { served.set_value(); });
    // Ten strangers wait for what never comes before this does.
    EXPECT_EQ(served.get_future().wait_for(std::chrono::minutes(1)), std::future_status::ready);
    EXPECT_EQ(strangers, 0);
    go.set_value();
    work.end();
    EXPECT_LE(most, 1);
}

TEST(HttpWork, WhatWaitedTooLongIsGivenUp)
{
    std::promise<void> go;
    std::shared_future<void> const gone(go.get_future());
    std::promise<bool> was_late;
    Work work({1, 10, 10, std::chrono::milliseconds(1)});
    work.add(false, [&](bool) {
        gone.wait();
        std::this_thread::sleep_for(std::chrono::milliseconds(20));
    });
    work.add(false, [&](bool late) { was_late.set_value(late); });
    go.set_value();
    EXPECT_TRUE(was_late.get_future().get());
}

} // namespace http_work_test
} // namespace guidepin::web
