// SPDX-License-Identifier: Apache-2.0
// Properties of the charts and of the robust statistics that hold for any input.
#include "loss/distribution.hpp"
#include "loss/random.hpp"
#include "watch/charts.hpp"
#include "watch/negative_loss.hpp"
#include "watch/robust.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::watch {
namespace properties_test {

rc::Gen<double> number()
{
    return rc::gen::map(rc::gen::inRange(-1000, 1000), [](int n) { return n / 100.0; });
}
rc::Gen<std::vector<double>> numbers(std::size_t least)
{
    return rc::gen::suchThat(rc::gen::container<std::vector<double>>(number()),
                             [least](std::vector<double> const& x) { return x.size() >= least; });
}

RC_GTEST_PROP(AverageRunLength, FallsAsTheShiftGrows, ())
{
    double const lambda = *rc::gen::inRange(3, 100) / 100.0;
    double const L = *rc::gen::inRange(200, 350) / 100.0;
    double const shift = *rc::gen::inRange(0, 300) / 100.0;
    RC_ASSERT(ewma_arl(lambda, L, shift + 0.1) < ewma_arl(lambda, L, shift));
    RC_ASSERT(std::abs(ewma_arl(lambda, L, -shift) / ewma_arl(lambda, L, shift) - 1) < 1e-8);
    double const k = *rc::gen::inRange(10, 100) / 100.0;
    double const h = *rc::gen::inRange(100, 600) / 100.0;
    RC_ASSERT(cusum_arl(k, h, shift + 0.1) < cusum_arl(k, h, shift));
    RC_ASSERT(cusum_arl(k, h, shift, h / 2) < cusum_arl(k, h, shift));
}

/// Closed form of a chart that looks at each value alone: 1 / P(|Z + shift| > L).
double shewhart_arl(double L, double shift)
{
    return 1 / (loss::normal_cdf(-L - shift) + loss::normal_cdf(-L + shift));
}

TEST(AverageRunLength, IdentitiesAndDesign)
{
    // Lambda 1 is a Shewhart chart; a CUSUM with h towards 0 signals at |x| > k.
    for (double const shift : {0.0, 0.7, 2.0})
        EXPECT_NEAR(ewma_arl(1, 3, shift) / shewhart_arl(3, shift), 1, 1e-9);
    EXPECT_NEAR(cusum_arl(3, 1e-9, 1) / shewhart_arl(3, 1), 1, 1e-6);
    for (double const arl0 : {10.0, 500.0, 20000.0}) {
        EXPECT_NEAR(ewma_arl(.2, ewma_limit_for(.2, arl0), 0) / arl0, 1, 1e-6);
        EXPECT_NEAR(cusum_arl(.5, cusum_limit_for(.5, arl0), 0) / arl0, 1, 1e-6);
        double const h = cusum_limit_for(.5, arl0, .5);
        EXPECT_NEAR(cusum_arl(.5, h, 0, h / 2) / arl0, 1, 1e-6);
    }
}

TEST(AverageRunLength, ChartsRunAsLongAsComputed)
{
    // Simulation against the integral equation: 1500 runs, so 4 standard errors of about a run length's own
    // spread.
    loss::Random random{11};
    constexpr int runs = 1500;
    double ewma = 0;
    double cusum = 0;
    for (int run = 0; run < runs; ++run) {
        Ewma average{.2, 2.5};
        Cusum sum{.5, 3};
        bool by_ewma = false;
        bool by_cusum = false;
        while (!by_ewma || !by_cusum) {
            double const x = random.normal() + .4;
            if (!by_ewma) {
                ewma += 1;
                by_ewma = average.add(x);
            }
            if (!by_cusum) {
                cusum += 1;
                by_cusum = sum.add(x);
            }
        }
    }
    double const by_ewma = ewma_arl(.2, 2.5, .4);
    double const by_cusum = cusum_arl(.5, 3, .4);
    EXPECT_NEAR(ewma / runs / by_ewma, 1, 4 / std::sqrt(runs));
    EXPECT_NEAR(cusum / runs / by_cusum, 1, 4 / std::sqrt(runs));
}

TEST(ChangePoint, IntervalHoldsTheTruthAsOftenAsItSays)
{
    loss::Random random{5};
    int held = 0;
    constexpr int runs = 400;
    for (int run = 0; run < runs; ++run) {
        std::size_t const truth = 5 + random.whole(30);
        std::vector<double> x(40);
        for (std::size_t i = 0; i < x.size(); ++i) x[i] = random.normal() + (i >= truth ? 1.5 : 0);
        std::vector<double> const sds(40, 1);
        auto const change =
            change_point(x, sds, StepNuisance{0, std::numeric_limits<double>::infinity(), {}, {}}, .90);
        ASSERT_TRUE(change);
        held += change->earliest <= truth && truth <= change->latest ? 1 : 0;
        EXPECT_NEAR(std::accumulate(change->probability.begin(), change->probability.end(), 0.0), 1, 1e-12);
    }
    // At least 90 % but for chance (2.5 standard errors); whole indices make the interval a little wider.
    EXPECT_GE(held, 345);
}

TEST(ChangePoint, WithKindsIsTheSumOverTheirErrorsWrittenOut)
{
    // Oracle: the covariance of the values written out, inverted by elimination: another way to the same
    // posterior.
    loss::Random random{6};
    constexpr std::size_t n = 9;
    std::vector<double> x(n);
    std::vector<double> sds(n);
    std::vector<std::size_t> const kind{0, 0, 1, 0, 1, 1, 2, 2, 0};
    std::vector<double> const kind_sd{0.3, 0.5, 0};
    for (std::size_t i = 0; i < n; ++i) {
        sds[i] = 0.5 + random.uniform();
        x[i] = random.normal() + (i >= 4 ? 2 : 0);
    }
    auto const change = change_point(x, sds, StepNuisance{0.2, 0.7, kind, kind_sd});
    ASSERT_TRUE(change);
    auto const solved = [&](std::vector<double> right) {
        std::vector<double> v(n * n);
        for (std::size_t i = 0; i < n; ++i)
            for (std::size_t j = 0; j < n; ++j)
                v[i * n + j] = 0.49 + (kind[i] == kind[j] ? kind_sd[kind[i]] * kind_sd[kind[i]] : 0) +
                               (i == j ? sds[i] * sds[i] : 0);
        for (std::size_t c = 0; c < n; ++c)
            for (std::size_t r = 0; r < n; ++r) {
                if (r == c) continue;
                double const factor = v[r * n + c] / v[c * n + c];
                for (std::size_t j = 0; j < n; ++j) v[r * n + j] -= factor * v[c * n + j];
                right[r] -= factor * right[c];
            }
        for (std::size_t i = 0; i < n; ++i) right[i] /= v[i * n + i];
        return right;
    };
    std::vector<double> away = x;
    for (double& value : away) value -= 0.2;
    auto const whitened = solved(away);
    std::vector<double> score(n);
    double sum = 0;
    for (std::size_t t = 0; t < n; ++t) {
        std::vector<double> step(n, 0);
        for (std::size_t i = t; i < n; ++i) step[i] = 1;
        auto const by = solved(step);
        double precision = 0;
        double pull = 0;
        for (std::size_t i = t; i < n; ++i) {
            precision += by[i];
            pull += whitened[i];
        }
        score[t] = std::exp(0.5 * pull * pull / precision) / std::sqrt(precision);
        sum += score[t];
        if (t == change->first_after) {
            EXPECT_NEAR(change->after - change->before, pull / precision, 1e-9);
            EXPECT_NEAR(change->sd_of_step, 1 / std::sqrt(precision), 1e-9);
        }
    }
    for (std::size_t t = 0; t < n; ++t) EXPECT_NEAR(change->probability[t], score[t] / sum, 1e-9) << t;
}

TEST(Robust, TheBiweightForgetsWhatHuberOnlyBounds)
{
    std::vector<double> x{-0.9, -0.4, -0.1, 0.1, 0.4, 0.9, 50, 60};
    EXPECT_NEAR(biweight_location(x, 0.6), 0, 1e-6);
    EXPECT_GT(huber_location(x, 0.6), 0.1);
    EXPECT_TRUE(std::isnan(biweight_location(std::vector<double>{}, 1)));
}

TEST(RobustStep, ForgetsWhatIsFarOff)
{
    loss::Random random{7};
    std::vector<double> x(40);
    for (std::size_t i = 0; i < x.size(); ++i) x[i] = 0.03 * random.normal() + (i >= 25 ? 0.1 : 0);
    std::vector<double> const sds(40, 0.03);
    auto const clean = robust_step(x, sds, StepNuisance{}, 25);
    EXPECT_NEAR(clean.size, 0.1, 3 * clean.u);
    EXPECT_GE(clean.borne_out, 0.8);
    for (std::size_t const bad : {3u, 4u, 28u, 31u}) x[bad] += 2;
    auto const spoilt = robust_step(x, sds, StepNuisance{}, 25);
    EXPECT_NEAR(spoilt.size, clean.size, clean.u);
    // Two of fifteen say something else.
    EXPECT_NEAR(spoilt.borne_out, clean.borne_out, 0.15);
    EXPECT_LE(spoilt.borne_out, clean.borne_out);
    EXPECT_EQ(robust_step(std::vector<double>{}, std::vector<double>{}, StepNuisance{}, 0).u, 0);
}

RC_GTEST_PROP(Robust, LocationsMoveWithTheData, ())
{
    double const by = *number();
    auto x = *numbers(3);
    double const m = median(x);
    double const huber = huber_location(x, 1.0);
    double const biweight = biweight_location(x, 1.0);
    double const mad = median_absolute_deviation(x);
    for (double& v : x) v += by;
    RC_ASSERT(std::abs(biweight_location(x, 1.0) - biweight - by) < 1e-4);
    RC_ASSERT(std::abs(median(x) - m - by) < 1e-9);
    RC_ASSERT(std::abs(huber_location(x, 1.0) - huber - by) < 1e-6);
    RC_ASSERT(std::abs(median_absolute_deviation(x) - mad) < 1e-9);
    std::reverse(x.begin(), x.end());
    RC_ASSERT(std::abs(median(x) - m - by) < 1e-9);
    x.push_back(std::numeric_limits<double>::quiet_NaN());
    RC_ASSERT(std::abs(median(x) - m - by) < 1e-9);
}

RC_GTEST_PROP(Robust, HuberSolvesItsEquation, ())
{
    auto const x = *numbers(1);
    double const sd = *rc::gen::inRange(1, 300) / 100.0;
    double const at = huber_location(x, sd);
    auto const pull = [&](double m) {
        double sum = 0;
        for (double const v : x) sum += std::clamp((v - m) / sd, -1.345, 1.345);
        return sum;
    };
    RC_ASSERT(pull(at - 1e-6) >= -1e-9);
    RC_ASSERT(pull(at + 1e-6) <= 1e-9);
}

TEST(Robust, RefusesWhatCannotBeDecided)
{
    EXPECT_TRUE(std::isnan(median(std::vector<double>{})));
    EXPECT_FALSE(change_point(std::vector<double>{}, std::vector<double>{}, StepNuisance{0, 1, {}, {}}));
}

TEST(NegativeLoss, OneClearReadingIsEnoughAndManyFairOnesAreNot)
{
    loss::ShiftedGamma const one{0, 4.2828, .02802}; // one grade B connection
    NegativeLossWatch watch;
    for (std::size_t i = 0; i < 1000; ++i) watch.add(.05, one, 0, .05, i);
    EXPECT_EQ(watch.evidence().below, 0u);
    EXPECT_FALSE(watch.evidence().suspect());
    watch.add(-.101, one, 0, .05, 1000);
    EXPECT_EQ(watch.evidence().below, 1u);
    // 3.6e-4 once in 1001 readings is no wonder.
    EXPECT_FALSE(watch.evidence().suspect());
    watch.add(-.22, one, 0, .05, 1001);
    EXPECT_TRUE(watch.evidence().suspect());
    EXPECT_EQ(watch.evidence().worst_row, 1001u);
}

} // namespace properties_test
} // namespace guidepin::watch
