// SPDX-License-Identifier: Apache-2.0
// Oracle: numerical integration by scipy 1.10.1 (integrate.quad of gamma.pdf times norm.cdf, relative 1e-12);
// closed form for no spread.
#include "watch/negative_loss.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace guidepin::watch {
namespace negative_loss_test {

TEST(NegativeLoss, ChanceOfAReadingBelowMinusATenth)
{
    // One and two grade B connections, u .05, reading -.10: quad over the gamma density.
    EXPECT_NEAR(loss::probability_at_most({0, 4.2828, .02802}, .05, -.10), 3.7938566349e-4, 1e-12);
    EXPECT_NEAR(loss::probability_at_most({0, 8.5656, .02802}, .05, -.10), 3.5439572285e-6, 1e-14);
    // No connection at all: -.12 at u .05 is 2.4 standard deviations, .0082.
    EXPECT_NEAR(loss::probability_at_most({0, 0, 0}, .05, -.12), .008197535924596131, 1e-15);
}

TEST(NegativeLoss, ManyReadingsAreTakenIntoAccount)
{
    NegativeLossWatch watch;
    for (std::size_t i = 0; i < 99; ++i) watch.add(.1, {0, 4.2828, .02802}, 0, .05, i);
    watch.add(-.1000001, {0, 4.2828, .02802}, 0, .05, 99);
    // 1 - (1 - p)^100
    EXPECT_NEAR(watch.evidence().chance(), 1 - std::pow(1 - 3.7938566e-4, 100), 1e-6);
}

} // namespace negative_loss_test
} // namespace guidepin::watch
