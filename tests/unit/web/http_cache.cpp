// SPDX-License-Identifier: Apache-2.0
#include "web/http_cache.hpp"

#include <gtest/gtest.h>

namespace guidepin::web {
namespace http_cache_test {

std::shared_ptr<std::string const> text(std::string words)
{
    return std::make_shared<std::string const>(std::move(words));
}

TEST(HttpCache, GivesWhatWasPutForTheSameKeyAndStampAlone)
{
    StampedCache<std::string> cache(1U << 20U);
    cache.put("a", {1, 7}, text("one"), 3);
    ASSERT_NE(cache.get("a", {1, 7}), nullptr);
    EXPECT_EQ(*cache.get("a", {1, 7}), "one");
    EXPECT_EQ(cache.get("b", {1, 7}), nullptr);
    EXPECT_EQ(cache.get("a", {2, 7}), nullptr) << "something changed";
    EXPECT_EQ(cache.get("a", {1, 7}), nullptr) << "what is old is gone";
    cache.put("a", {2, 7}, text("two"), 3);
    EXPECT_EQ(cache.get("a", {2, 8}), nullptr) << "time went on";
}

TEST(HttpCache, ALateRendererDoesNotPutTheOldOverTheNew)
{
    StampedCache<std::string> cache(1U << 20U);
    cache.put("a", {5, 0}, text("new"), 3);
    cache.put("a", {4, 0}, text("old"), 3);
    EXPECT_EQ(cache.get("a", {4, 0}), nullptr);
    ASSERT_NE(cache.get("a", {5, 0}), nullptr);
    EXPECT_EQ(*cache.get("a", {5, 0}), "new");
}

TEST(HttpCache, HoldsItsLimitAndForgetsWhatWasUsedLongestAgo)
{
    StampedCache<std::string> cache(10'000);
    for (int i = 0; i < 100; ++i) {
        cache.put(std::to_string(i), {1, 0}, text("x"), 500);
        ASSERT_LE(cache.bytes(), 10'000U);
        EXPECT_NE(cache.get("0", {1, 0}), nullptr) << "used again and again";
    }
    EXPECT_EQ(cache.get("50", {1, 0}), nullptr);
    EXPECT_NE(cache.get("99", {1, 0}), nullptr);
    cache.put("large", {1, 0}, text("x"), 9'000);
    EXPECT_EQ(cache.get("large", {1, 0}), nullptr) << "one value does not drive out all others";
}

} // namespace http_cache_test
} // namespace guidepin::web
