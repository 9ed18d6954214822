// SPDX-License-Identifier: Apache-2.0
// Oracles: first outputs of SplitMix64 and xoshiro256** computed here from the published description;
// moments.
#include "loss/random.hpp"
#include "loss/distribution.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include <gtest/gtest.h>

namespace guidepin::loss {
namespace random_test {

TEST(Random, FollowsThePublishedGenerator)
{
    // SplitMix64 from seed 1234567: first output as published with the generator, 6457827717110365317.
    std::uint64_t seed = 1234567;
    auto const split = [&seed] {
        std::uint64_t z = (seed += 0x9e3779b97f4a7c15ULL);
        z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
        z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
        return z ^ (z >> 31);
    };
    std::array<std::uint64_t, 4> s{split(), split(), split(), split()};
    EXPECT_EQ(s[0], 6457827717110365317ULL);
    auto const turned = [](std::uint64_t x, int by) { return (x << by) | (x >> (64 - by)); };
    Random random{1234567};
    for (int i = 0; i < 1000; ++i) {
        std::uint64_t const expected = turned(s[1] * 5, 7) * 9;
        std::uint64_t const t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = turned(s[3], 45);
        ASSERT_EQ(random.bits(), expected);
    }
}

// Largest distance between the sample's distribution and F; 1.95 / sqrt(n) is exceeded once in a thousand
// samples.
template <class F>
double distance(std::vector<double> x, F cdf)
{
    std::sort(x.begin(), x.end());
    double worst = 0;
    auto const n = static_cast<double>(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) {
        auto const at = static_cast<double>(i);
        double const f = cdf(x[i]);
        worst = std::max({worst, std::abs(f - at / n), std::abs(f - (at + 1) / n)});
    }
    return worst;
}

TEST(Random, DrawsWhatItSays)
{
    constexpr int n = 20000;
    Random random{42};
    std::vector<double> uniform(n);
    std::vector<double> normal(n);
    for (double& x : uniform) x = random.uniform();
    for (double& x : normal) x = random.normal();
    EXPECT_LT(distance(uniform, [](double x) { return x; }), 1.95 / std::sqrt(n));
    EXPECT_LT(distance(normal, normal_cdf), 1.95 / std::sqrt(n));
    for (double const shape : {0.4, 1.0, 4.2828, 30.0}) {
        std::vector<double> gamma(n);
        for (double& x : gamma) x = random.gamma(shape);
        EXPECT_LT(distance(gamma,
                           [shape](double x) {
                               return Gamma{shape, 1}.cdf(x);
                           }),
                  1.95 / std::sqrt(n))
            << shape;
    }
    std::array<int, 7> counts{};
    for (int i = 0; i < 7000; ++i) ++counts[random.whole(7)];
    for (int const count : counts) EXPECT_NEAR(count, 1000, 5 * std::sqrt(1000));
}

} // namespace random_test
} // namespace guidepin::loss
