// SPDX-License-Identifier: Apache-2.0
// Oracles: JCGM 106:2012 7.3.3 (two examples), 7.4, 8.3.3, 9.5 (inputs and results as widely quoted; the
// printed text was not at hand); scipy 1.10 (scipy_tables.py). Tolerance: half a unit of the last place
// printed; 1e-9 for scipy's functions, 1e-8 for its quadratures.
#include "verdict/conformity.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace guidepin::verdict {
namespace {

#include "scipy_table.inc"

double gamma_density(double x, double shape, double scale)
{
    return x <= 0 ? 0 : std::exp((shape - 1) * std::log(x / scale) - x / scale - std::lgamma(shape)) / scale;
}

TEST(ConformityOracle, Jcgm106OneSided)
{
    // 7.3.3 example 1: breakdown voltage, upper limit -5.40 V; example 2: lower limit 490 kPa.
    EXPECT_NEAR(probability_of_conformity(-5.47, 0.05, {-no_bound, -5.40}).value(), 0.92, 0.005);
    EXPECT_NEAR(probability_of_conformity(507, 8, {490, no_bound}).value(), 0.98, 0.005);
}

TEST(ConformityOracle, Jcgm106TwoSided)
{
    // 7.4: kinematic viscosity 12.5 to 16.3 mm2/s.
    EXPECT_NEAR(probability_of_conformity(13.6, 1.8, {12.5, 16.3}).value(), 0.66, 0.005);
}

TEST(ConformityOracle, Jcgm106GuardBands)
{
    // 8.3.3: speed limit 100 km/h, relative u 2 %, at least 99.9 % sure: about 107 km/h.
    double const z = guard_band_by_probability(0.999, 1);
    EXPECT_NEAR(100 / (1 - z * 0.02), 107, 0.5);
    struct
    {
        double p, z;
    } const rows[] = {{0.80, 0.84}, {0.90, 1.28}, {0.95, 1.64}, {0.99, 2.33}, {0.999, 3.09}};
    for (auto const& row : rows) EXPECT_NEAR(guard_band_by_probability(row.p, 1), row.z, 0.0055) << row.p;
    // w = U with k = 2: the risk at the acceptance limit is at most 2.3 %.
    double const w = guard_band_by_multiple(1, 2, 0.05);
    EXPECT_NEAR(1 - probability_of_conformity(0.75 - w, 0.05, {-no_bound, 0.75}).value(), 0.023, 0.0005);
}

TEST(ConformityOracle, Jcgm106Resistors)
{
    // 9.5: 1500 ohm +-0.20, production u0 0.12, measurement u 0.04, guard band 0.02.
    auto const density = [](double x) { return normal_density((x - 1500) / 0.12) / 0.12; };
    Interval const support{1498.5, 1501.5};
    Interval const allowed{1499.80, 1500.20};
    struct
    {
        double w, consumer, producer, tolerance;
    } const rows[] = {
        {0.02, 0.01, 0.07, 0.005},        // as printed
        {0.02, 0.009878, 0.069027, 5e-7}, // scipy 1.10
        {0.00, 0.018942, 0.037208, 5e-7}, // scipy 1.10
        {0.04, 0.004334, 0.114657, 5e-7}, // scipy 1.10
    };
    for (auto const& row : rows) {
        auto const risks =
            global_risks(density, support, allowed, {1499.80 + row.w, 1500.20 - row.w}, 0.04).value();
        EXPECT_NEAR(risks.consumer, row.consumer, row.tolerance) << row.w;
        EXPECT_NEAR(risks.producer, row.producer, row.tolerance) << row.w;
        EXPECT_NEAR(risks.non_conforming, 0.095581, 5e-7);
    }
}

TEST(ConformityOracle, AttenuationExamples)
{
    // Phi((0.75 - y) / 0.05), normal table to four places.
    struct
    {
        double y, p;
    } const rows[] = {{0.60, 0.9987}, {0.65, 0.9772}, {0.70, 0.8413}, {0.72, 0.7257},
                      {0.75, 0.5000}, {0.78, 0.2743}, {0.80, 0.1587}};
    for (auto const& row : rows) {
        EXPECT_NEAR(probability_of_conformity(row.y, 0.05, {-no_bound, 0.75}).value(), row.p, 5e-5) << row.y;
    }
    EXPECT_NEAR(guard_band_by_probability(0.95, 0.05), 0.0822, 5e-5);
}

TEST(ConformityOracle, NormalPrior)
{
    // Population N(0.48, 0.116), u = 0.05, limit 0.75; worked out apart with numpy.
    Normal const prior{0.48, 0.116};
    struct
    {
        double y, mean, p;
    } const rows[] = {{0.70, 0.6655, 0.9671}, {0.75, 0.7077, 0.8216}, {0.80, 0.7499, 0.5012}};
    for (auto const& row : rows) {
        Normal const after = posterior(prior, row.y, 0.05);
        EXPECT_NEAR(after.mean, row.mean, 5.1e-5) << row.y;
        EXPECT_NEAR(after.sd, 0.0459, 5e-5);
        EXPECT_NEAR(probability_of_conformity(after.mean, after.sd, {-no_bound, 0.75}).value(), row.p,
                    5.1e-5);
    }
}

TEST(ConformityOracle, NormalLawAgreesWithScipy)
{
    for (CdfRow const& row : scipy_normal) EXPECT_NEAR(normal_cdf(row.z) / row.p, 1, 1e-12) << row.z;
}

TEST(ConformityOracle, BoundedLawAgreesWithScipy)
{
    for (BoundedRow const& row : scipy_bounded) {
        EXPECT_NEAR(
            probability_of_conformity_bounded(row.y, row.u, {-no_bound, row.limit}, row.least).value(), row.p,
            1e-9)
            << row.y << " " << row.u << " " << row.least;
        EXPECT_NEAR(bounded_mean(row.y, row.u, row.least), row.mean, 1e-9) << row.y << " " << row.u;
    }
    // Printed: a reading of -0.05 with u 0.05 cut at 0 has mean 0.0263; p_c(0.10; 0.02) 0.9164 against
    // 0.9452.
    EXPECT_NEAR(bounded_mean(-0.05, 0.05, 0), 0.0263, 5e-5);
    EXPECT_NEAR(probability_of_conformity_bounded(0.02, 0.05, {-no_bound, 0.10}, 0).value(), 0.9164, 5e-5);
    EXPECT_NEAR(probability_of_conformity(0.02, 0.05, {-no_bound, 0.10}).value(), 0.9452, 5e-5);
}

TEST(ConformityOracle, GlobalRisksAgreeWithScipy)
{
    // Population: gamma(17.131, 0.02802), four grade-B connections, limit 0.75 dB.
    auto const density = [](double x) { return gamma_density(x, 17.131, 0.02802); };
    for (RiskRow const& row : scipy_risks) {
        auto const risks =
            global_risks(density, {0, 3}, {-no_bound, 0.75}, {-no_bound, 0.75 - row.w}, row.u).value();
        EXPECT_NEAR(risks.consumer, row.consumer, 1e-8) << row.u << " " << row.w;
        EXPECT_NEAR(risks.producer, row.producer, 1e-8) << row.u << " " << row.w;
        EXPECT_NEAR(risks.non_conforming, row.non_conforming, 1e-9);
    }
}

TEST(ConformityOracle, GlobalRiskTable)
{
    // Five places worked out apart: u, w in u, R_C, R_P.
    struct
    {
        double u, factor, consumer, producer;
    } const rows[] = {
        {0.02, 0, 0.00201, 0.0029},      {0.02, 1.645, 0.00011, 0.0138}, {0.02, 2, 0.00005, 0.0174},
        {0.05, 0, 0.00401, 0.0097},      {0.05, 1.645, 0.00024, 0.0574}, {0.05, 2, 0.00010, 0.0760},
        {0.10, 0, 0.00586, 0.0313},      {0.10, 1.645, 0.00040, 0.2199}, {0.10, 2, 0.00017, 0.2942},
        {0.05, -1.645, 0.01268, 0.0004},
    };
    auto const density = [](double x) { return gamma_density(x, 17.131, 0.02802); };
    for (auto const& row : rows) {
        auto const risks =
            global_risks(density, {0, 3}, {-no_bound, 0.75}, {-no_bound, 0.75 - row.factor * row.u}, row.u)
                .value();
        EXPECT_NEAR(risks.consumer, row.consumer, 5.1e-6) << row.u << " " << row.factor;
        EXPECT_NEAR(risks.producer, row.producer, 5.1e-5) << row.u << " " << row.factor;
    }
}

} // namespace
} // namespace guidepin::verdict
