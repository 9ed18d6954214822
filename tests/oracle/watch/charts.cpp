// SPDX-License-Identifier: Apache-2.0
// Oracles: Lucas and Saccucci, Technometrics 32 (1990), table 3; Crowder, Technometrics 29 (1987); Lucas and
// Crosier, Technometrics 24 (1982); Brook and Evans, Biometrika 59 (1972); NIST/SEMATECH e-Handbook of
// Statistical Methods 6.3.2.3, 6.3.2.4; Nile annual flow 1871-1970 (Cobb, Biometrika 65 (1978)); R
// package spc (spc.R). Tolerances: half a unit of the last printed place, and for Lucas and Saccucci, whose
// limits are rounded, 0.1 %.
#include "watch/charts.hpp"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

namespace guidepin::watch {
namespace charts_test {

struct ArlRow
{
    double parameter, limit, shift, expected, tolerance;
};

TEST(AverageRunLength, EwmaMatchesLucasAndSaccucci)
{
    std::vector<double> const shifts{0, .25, .5, .75, 1, 1.5, 2, 2.5, 3, 4};
    struct Scheme
    {
        double lambda, L;
        std::vector<double> printed;
    };
    std::vector<Scheme> const schemes{
        {.50, 3.071, {500, 255, 88.8, 35.9, 17.5, 6.53, 3.63, 2.50, 1.93, 1.34}},
        {.03, 2.437, {500, 76.7, 29.3, 17.6, 12.6, 8.07, 5.99, 4.80, 4.03, 3.11}},
        {.25, 2.998, {500, 170, 48.3, 20.1, 11.1, 5.46, 3.61, 2.74, 2.26, 1.73}},
        {.10, 2.814, {500, 106, 31.3, 15.8, 10.3, 6.08, 4.36, 3.44, 2.87, 2.19}},
        {.40, 3.054, {500, 224, 71.2, 28.4, 14.3, 5.87, 3.52, 2.54, 2.02, 1.44}},
        {.05, 2.615, {500, 84.0, 28.8, 16.4, 11.4, 7.11, 5.22, 4.17, 3.50, 2.69}},
        {.20, 2.962, {500, 150, 41.8, 18.1, 10.5, 5.50, 3.74, 2.88, 2.38, 1.86}}};
    for (auto const& scheme : schemes)
        for (std::size_t i = 0; i < shifts.size(); ++i) {
            double const printed = scheme.printed[i];
            double const place = printed >= 100 ? 0.5 : printed >= 10 ? 0.05 : 0.005;
            EXPECT_NEAR(ewma_arl(scheme.lambda, scheme.L, shifts[i]), printed, place + 0.001 * printed)
                << "lambda " << scheme.lambda << " L " << scheme.L << " shift " << shifts[i];
        }
}

TEST(AverageRunLength, EwmaMatchesCrowder)
{
    // Two standard deviations, in control: lambda .5 and .05, two decimals printed.
    EXPECT_NEAR(ewma_arl(.5, 2, 0), 26.45, 0.005);
    EXPECT_NEAR(ewma_arl(.05, 2, 0), 127.53, 0.005);
    // High precision, published with package spc.
    EXPECT_NEAR(ewma_arl(.25, 3, 1), 11.154267016, 5e-9);
}

TEST(AverageRunLength, CusumMatchesLucasAndCrosier)
{
    // Two-sided, k .5, h 4; without and with head start h/2.
    std::vector<ArlRow> const rows{
        {.5, 4, 0, 168, .5},    {.5, 4, .25, 74.2, .05},  {.5, 4, .5, 26.6, .05}, {.5, 4, .75, 13.3, .05},
        {.5, 4, 1, 8.38, .005}, {.5, 4, 1.5, 4.75, .005}, {.5, 4, 2, 3.34, .005}, {.5, 4, 2.5, 2.62, .005},
        {.5, 4, 3, 2.19, .005}, {.5, 4, 4, 1.71, .005},   {.5, 5, 0, 465, .5},    {.5, 5, 1, 10.4, .05},
        {.5, 5, 2, 4.01, .005}, {.5, 5, .5, 38.0, .05}};
    for (auto const& row : rows)
        EXPECT_NEAR(cusum_arl(row.parameter, row.limit, row.shift), row.expected, row.tolerance) << row.shift;
    std::vector<ArlRow> const ahead{{.5, 4, 0, 149, .5},
                                    {.5, 4, .25, 62.7, .05},
                                    {.5, 4, .5, 20.1, .05},
                                    {.5, 4, .75, 8.97, .005},
                                    {.5, 4, 1, 5.29, .005}};
    for (auto const& row : ahead)
        EXPECT_NEAR(cusum_arl(row.parameter, row.limit, row.shift, 2), row.expected, row.tolerance)
            << row.shift;
}

TEST(AverageRunLength, OneSidedCusumMatchesPublishedValues)
{
    // Brook and Evans, k .5, h 3.
    EXPECT_NEAR(cusum_arl_one_sided(.5, 3, 0), 117.59, 0.01);
    EXPECT_NEAR(cusum_arl_one_sided(.5, 3, 1.5), 3.75, 0.005);
    // High precision, recomputed by two methods; no more digits are agreed upon.
    EXPECT_NEAR(cusum_arl_one_sided(.25, 8, 2.5), 4.15008, 5e-6);
    EXPECT_NEAR(cusum_arl_one_sided(.25, 8, 2.5, .1), 4.106159, 5e-7);
}

enum class Chart { ewma, cusum_one, cusum_two, ewma_limit, cusum_limit };
struct SpcRow
{
    Chart chart;
    double parameter, limit, shift, head_start, value;
};

TEST(AverageRunLength, MatchesAnIndependentProgram)
{
    static SpcRow const rows[] = {
#include "spc_table.inc"
    };
    // Both solve integral equations by quadrature; ten digits are printed, limits are found to 1e-6.
    for (auto const& row : rows) {
        double ours = 0;
        double tolerance = 1e-7 * row.value;
        switch (row.chart) {
        case Chart::ewma:
            ours = ewma_arl(row.parameter, row.limit, row.shift, row.head_start);
            break;
        case Chart::cusum_one:
            ours = cusum_arl_one_sided(row.parameter, row.limit, row.shift, row.head_start);
            break;
        case Chart::cusum_two:
            ours = cusum_arl(row.parameter, row.limit, row.shift, row.head_start);
            break;
        case Chart::ewma_limit: // here `limit` is the run length and `value` the limit
            ours = ewma_limit_for(row.parameter, row.limit);
            tolerance = 1e-6;
            break;
        case Chart::cusum_limit:
            ours = cusum_limit_for(row.parameter, row.limit);
            tolerance = 1e-6;
            break;
        }
        EXPECT_NEAR(ours, row.value, tolerance)
            << static_cast<int>(row.chart) << " parameter " << row.parameter << " limit " << row.limit
            << " shift " << row.shift;
    }
}

TEST(Ewma, NistExample)
{
    // e-Handbook 6.3.2.4: target 50, s 2.0539, lambda .3, limits of 3 standard deviations.
    std::vector<double> const x{52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                                49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
    std::vector<double> const printed{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
                                      50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99};
    Ewma chart{.3, 3};
    for (std::size_t i = 0; i < x.size(); ++i) {
        EXPECT_FALSE(chart.add((x[i] - 50) / 2.0539));
        EXPECT_NEAR(50 + 2.0539 * chart.value(), printed[i], 0.0051) << i;
    }
    EXPECT_NEAR(50 + 2.0539 * chart.limit(), 52.5884, 5e-5);
    EXPECT_NEAR(50 - 2.0539 * chart.limit(), 47.4115, 1e-4); // printed one unit low in the last place
}

TEST(Cusum, NistExample)
{
    // e-Handbook 6.3.2.3: target 325, sums in the unit of the data; k .3175, h 4.1959.
    std::vector<double> const x{324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125,
                                324.525, 325.225, 324.600, 324.625, 325.150, 328.325, 327.250,
                                327.825, 328.500, 326.675, 327.775, 326.875, 328.350};
    std::vector<double> const high{0, 0, 0,      0,    .0325,  0,     0,       0,      0,       0,
                                   0, 0, 3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035};
    std::vector<double> const low{0,     .0075, 0, .3325, 0, 0, .5575, .715, .1725, .255,
                                  .3125, 0,     0, 0,     0, 0, 0,     0,    0,     0};
    Cusum chart{.3175, 4.1959};
    std::size_t first = 0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        bool const signal = chart.add(x[i] - 325);
        if (signal && first == 0) first = i + 1;
        EXPECT_NEAR(chart.high(), high[i], 1e-9) << i;
        EXPECT_NEAR(chart.low(), low[i], 1e-9) << i;
    }
    EXPECT_EQ(first, 14u);
}

std::vector<double> nile()
{
    return {1120, 1160, 963, 1210, 1160, 1160, 813,  1230, 1370, 1140, 995,  935,  1110, 994,  1020,
            960,  1180, 799, 958,  1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774,  840,
            874,  694,  940, 833,  701,  916,  692,  1020, 1050, 969,  831,  726,  456,  824,  702,
            1120, 1100, 832, 764,  821,  768,  845,  864,  862,  698,  845,  744,  796,  1040, 759,
            781,  865,  845, 944,  984,  897,  822,  1010, 771,  676,  649,  846,  812,  742,  801,
            1040, 860,  874, 848,  890,  744,  749,  838,  1050, 918,  986,  797,  923,  975,  815,
            1020, 906,  901, 1170, 912,  746,  919,  718,  714,  740};
}

TEST(ChangePoint, NileFlowFallsAfter1898)
{
    auto const x = nile();
    ASSERT_EQ(x.size(), 100u);
    // Cobb (1978) puts the change between 1898 and 1899, with 1896 to 1900 as the region of high likelihood.
    std::vector<double> const sds(100, 128);
    auto const change =
        change_point(x, sds, StepNuisance{0, std::numeric_limits<double>::infinity(), {}, {}});
    ASSERT_TRUE(change);
    EXPECT_EQ(change->first_after, 28u);
    EXPECT_NEAR(change->before, 1097.75, 5e-3);
    EXPECT_NEAR(change->after, 849.972, 5e-4);
    EXPECT_GE(change->earliest, 25u);
    EXPECT_LE(change->latest, 30u);
}

} // namespace charts_test
} // namespace guidepin::watch
