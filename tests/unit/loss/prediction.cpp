// SPDX-License-Identifier: Apache-2.0
// The three routes against each other, and what holds for any link.
#include "loss/prediction.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::loss {
namespace prediction_test {

Gamma const b{4.2828, 0.02802};
Gamma const c{4.9313, 0.05070};

rc::Gen<Gamma> population()
{
    return rc::gen::map(rc::gen::pair(rc::gen::inRange(15, 80), rc::gen::inRange(10, 90)),
                        [](std::pair<int, int> p) {
                            return Gamma{p.first / 10.0, p.second / 1000.0};
                        });
}

RC_GTEST_PROP(Distribution, QuantileAndCdfAreInverse, ())
{
    Gamma const one = *population();
    double const p = *rc::gen::inRange(1, 9999) / 10000.0;
    ShiftedGamma const same{0, one.shape, one.scale};
    RC_ASSERT(std::abs(one.cdf(same.quantile(p)) - p) < 1e-10);
    RC_ASSERT(std::abs(one.cdf(same.quantile(p)) + same.survival(same.quantile(p)) - 1) < 1e-12);
    double const skew = *rc::gen::inRange(-150, 150) / 100.0;
    auto const any = shifted_gamma_of_cumulants(.3, .01, skew * .001);
    RC_ASSERT(std::abs(any.cdf(any.quantile(p)) - p) < 1e-9);
    RC_ASSERT(std::abs(any.mean() - .3) < 1e-9);
    RC_ASSERT(std::abs(any.sd() - .1) < 1e-9);
}

RC_GTEST_PROP(Distribution, SumsCommute, ())
{
    auto terms = *rc::gen::container<std::vector<Term>>(
        4, rc::gen::map(rc::gen::tuple(population(), rc::gen::inRange(0, 4), rc::gen::inRange(0, 5)),
                        [](std::tuple<Gamma, int, int> const& t) {
                            return Term{std::get<0>(t), std::get<1>(t), std::get<2>(t) == 0};
                        }));
    auto const forward = sum_of(terms);
    std::reverse(terms.begin(), terms.end());
    auto const backward = sum_of(terms);
    RC_ASSERT(std::abs(forward.mean() - backward.mean()) < 1e-9);
    RC_ASSERT(std::abs(forward.sd() - backward.sd()) < 1e-9);
    RC_ASSERT(std::abs(forward.skewness() - backward.skewness()) < 1e-7);
    // Means and variances add.
    double mean = 0;
    double variance = 0;
    for (auto const& term : terms) {
        mean += (term.subtracted ? -1 : 1) * term.count * term.loss.mean();
        variance += term.count * term.loss.variance();
    }
    RC_ASSERT(std::abs(forward.mean() - mean) < 1e-9);
    RC_ASSERT(std::abs(forward.variance() - variance) < 1e-9);
}

RC_GTEST_PROP(Distribution, MoreNoiseMoreTail, ())
{
    auto const one = sum_of(std::vector<Term>{{*population(), 2}});
    double const u = *rc::gen::inRange(1, 100) / 1000.0;
    double const y = *rc::gen::inRange(-200, 1500) / 1000.0;
    double const below = probability_at_most(one, u, y);
    RC_ASSERT(below <= probability_at_most(one, u, y + .01) + 1e-12);
    if (y < 0) RC_ASSERT(below <= probability_at_most(one, u * 1.1, y));
}

TEST(Prediction, RoutesAgree)
{
    // A link with everything: two grades, a joint inside the reference, fibre that is not exactly known.
    LinkConfiguration link;
    link.length = 150_m;
    link.attenuation = DecibelPerKilometre{2.6};
    link.attenuation_relative_u = .08;
    link.joints = {{"end connection", c, 2},
                   {"inner connection", b, 3},
                   {"splice", {2, .03}, 1},
                   {"reference joint", b, 1, true}};
    auto const moments = predict(link);
    auto const grid = predict(link, {Route::convolution, 1, 0});
    auto const drawn = predict(link, {Route::simulation, 99, 100000});
    EXPECT_STREQ(moments.route(), "matched moments");
    EXPECT_NEAR(moments.fibre().value(), .39, 1e-12);
    EXPECT_NEAR(moments.mean().value(), .39 + 2 * c.mean() + 2 * b.mean() + .06, 1e-12);
    EXPECT_NEAR(grid.mean().value(), moments.mean().value(), 1e-6);
    EXPECT_NEAR(grid.sd().value(), moments.sd().value(), 1e-5);
    double const error = moments.sd().value() / std::sqrt(100000);
    EXPECT_NEAR(drawn.mean().value(), moments.mean().value(), 4 * error);
    for (double const p : {.01, .05, .5, .95, .99, .999}) {
        // Three moments say nothing of the fourth: 6 mdB up to 99 %, 10 mdB at 99.9 % of a sum of 1.9 dB.
        EXPECT_NEAR(moments.quantile(p).value(), grid.quantile(p).value(), p > .99 ? .010 : .006) << p;
        EXPECT_NEAR(drawn.quantile(p).value(), grid.quantile(p).value(), .025) << p;
        EXPECT_NEAR(grid.chance_within(grid.quantile(p)).value(), p, 1e-6);
    }
    // Same seed, same digits; another seed, others.
    EXPECT_EQ(drawn.quantile(.9).value(),
              predict(link, {Route::simulation, 99, 100000}).quantile(.9).value());
    EXPECT_NE(drawn.quantile(.9).value(),
              predict(link, {Route::simulation, 98, 100000}).quantile(.9).value());
}

TEST(Prediction, OnlyFibre)
{
    LinkConfiguration link;
    link.length = 1000_m;
    link.attenuation = DecibelPerKilometre{.35};
    auto const bare = predict(link);
    EXPECT_EQ(bare.sd().value(), 0);
    EXPECT_EQ(bare.quantile(.9).value(), .35);
    EXPECT_EQ(bare.chance_within(.36_dB).value(), 1);
    EXPECT_EQ(bare.chance_within(.34_dB).value(), 0);
}

TEST(Prediction, TwentyThousandLinksAreQuick)
{
    Predictor predictor;
    LinkConfiguration link;
    link.attenuation = DecibelPerKilometre{.35};
    auto const start = std::chrono::steady_clock::now();
    double sum = 0;
    for (int i = 0; i < 40000; ++i) { // 20,000 links at two wavelengths
        link.length = Metres{10.0 + i % 500};
        link.joints = {{"end connection", b, 2}, {"inner connection", c, i % 4}};
        sum += predictor.predict(link).shape().mean();
    }
    double const seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    EXPECT_EQ(predictor.distinct(), 4u);
    EXPECT_GT(sum, 0);
    EXPECT_LT(seconds, 5.0); // about 0.02 s optimised
}

} // namespace prediction_test
} // namespace guidepin::loss
