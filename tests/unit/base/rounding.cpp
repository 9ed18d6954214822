// SPDX-License-Identifier: Apache-2.0
// Oracle: the shortest decimal that reads back as the number has no more digits than were asked for.
#include "base/rounding.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>
#include <string>

#include <fmt/format.h>

namespace guidepin {
namespace rounding_test {

TEST(RoundedTo, TakesTheDustAndLeavesTheRest)
{
    EXPECT_EQ(rounded_to(0.6479999999999999, 6), 0.648);
    EXPECT_EQ(rounded_to(1.0499999999999998, 6), 1.05);
    EXPECT_EQ(rounded_to(66.69999694824219, 3), 66.7);
    EXPECT_EQ(rounded_to(-0.0000004, 6), 0.0);
    EXPECT_TRUE(std::isnan(rounded_to(std::numeric_limits<double>::quiet_NaN(), 3)));
    EXPECT_EQ(rounded_to(std::numeric_limits<double>::infinity(), 3),
              std::numeric_limits<double>::infinity());
    EXPECT_EQ(rounded_to(1e308, 6), 1e308) << "what cannot be scaled stays";
}

RC_GTEST_PROP(RoundedTo, HasNoMoreDigitsThanAskedFor, ())
{
    double const value = *rc::gen::inRange(-2'000'000'000, 2'000'000'000) / 7.0e6;
    int const decimals = *rc::gen::inRange(0, 9);
    double const rounded = rounded_to(value, decimals);
    RC_ASSERT(std::abs(rounded - value) <= 0.5000001 * std::pow(10.0, -decimals));
    std::string const text = fmt::format("{}", rounded);
    auto const point = text.find('.');
    if (point != std::string::npos && text.find('e') == std::string::npos)
        RC_ASSERT(text.size() - point - 1 <= static_cast<std::size_t>(std::max(1, decimals)));
    RC_ASSERT(rounded_to(rounded, decimals) == rounded);
}

} // namespace rounding_test
} // namespace guidepin
