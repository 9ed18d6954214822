// SPDX-License-Identifier: Apache-2.0
// Oracles: NIST/SEMATECH e-Handbook of Statistical Methods 1.3.5.17.1 (Grubbs) and 1.3.5.17.3 (Rosner 1983);
// Sen, J. Am. Stat. Assoc. 63 (1968), worked example; Tukey, Exploratory Data Analysis (1977), tables of the
// median polish; Grubbs' critical values as printed for Grubbs (1969); scipy (robust.py). Tolerances: half a
// unit of the last printed place; where the page truncates, one unit.
#include "watch/robust.hpp"

#include "loss/distribution.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace guidepin::watch {
namespace {

TEST(Grubbs, CriticalValuesOfPrintedTable)
{
    struct Row
    {
        std::size_t n;
        double one_sided, two_sided;
    };
    std::vector<Row> const rows{{3, 1.1531, 1.1543},  {4, 1.4625, 1.4812},  {5, 1.6714, 1.7150},
                                {6, 1.8221, 1.8871},  {7, 1.9381, 2.0200},  {8, 2.0317, 2.1266},
                                {9, 2.1096, 2.2150},  {10, 2.1761, 2.2900}, {12, 2.2850, 2.4116},
                                {16, 2.4433, 2.5857}, {20, 2.5566, 2.7082}, {24, 2.6439, 2.8016},
                                {30, 2.7451, 2.9085}, {50, 2.9570, 3.1282}, {100, 3.2095, 3.3841}};
    for (auto const& row : rows) {
        EXPECT_NEAR(grubbs_critical(row.n, .05, false), row.one_sided, 5.1e-5) << row.n;
        EXPECT_NEAR(grubbs_critical(row.n, .05, true), row.two_sided, 5.1e-5) << row.n;
    }
}

TEST(Grubbs, NistUranium)
{
    std::vector<double> const x{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57};
    auto const test = grubbs_test(x);
    ASSERT_TRUE(test);
    EXPECT_NEAR(test->statistic, 2.4687, 1e-4); // the page truncates 2.46876
    EXPECT_EQ(test->index, 7u);
    EXPECT_NEAR(test->critical_one_sided, 2.032, 5e-4);
    EXPECT_NEAR(test->critical_two_sided, 2.1266, 5e-5);
    EXPECT_NEAR(median_absolute_deviation(x), .995, 1e-9);
    EXPECT_NEAR(modified_z_scores(x)[7], 29.963, 5e-4);
}

TEST(Esd, NistRosner)
{
    std::vector<double> const x{-.25, .68,  .94,  1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49,
                                1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70, 1.76, 1.77, 1.81, 1.91,
                                1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26,
                                2.35, 2.37, 2.40, 2.47, 2.54, 2.62, 2.64, 2.90, 2.92, 2.92, 2.93,
                                3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01};
    std::vector<double> const R{3.119, 2.943, 3.179, 2.810, 2.816, 2.848, 2.279, 2.310, 2.102, 2.067};
    std::vector<double> const lambda{3.159, 3.151, 3.144, 3.136, 3.128, 3.120, 3.112, 3.103, 3.094, 3.085};
    auto const test = esd_test(x, 10);
    ASSERT_TRUE(test);
    for (std::size_t i = 0; i < 10; ++i) {
        EXPECT_NEAR(test->statistic[i], R[i], 6e-4) << i;
        EXPECT_NEAR(test->critical[i], lambda[i], 6e-4) << i;
    }
    ASSERT_EQ(test->outliers, 3u);
    EXPECT_EQ(x[test->removed[0]], 6.01);
    EXPECT_EQ(x[test->removed[1]], 5.42);
    EXPECT_EQ(x[test->removed[2]], 5.34);
}

TEST(TheilSen, Sen1968)
{
    std::vector<double> const x{1, 2, 3, 4, 10, 12, 18};
    std::vector<double> const y{9, 15, 19, 20, 45, 55, 78};
    auto const line = theil_sen(x, y, .93);
    ASSERT_TRUE(line);
    EXPECT_NEAR(line->slope, 4, 1e-12);
    EXPECT_NEAR(line->intercept, 6, 1e-12);
    EXPECT_NEAR(line->slope_low, 26.0 / 7, 1e-12);
    EXPECT_NEAR(line->slope_high, 35.0 / 8, 1e-12);
}

TEST(MedianPolish, TukeyParachuting)
{
    std::vector<double> const y{14, 15, 14, 7, 4, 7, 8, 2, 10, 15, 9, 10, 0, 2, 0};
    auto const table = median_polish(y, 5, 3);
    EXPECT_NEAR(table.overall, 8, 1e-12);
    std::vector<double> const rows{6, -1, 0, 2, -8};
    std::vector<double> const columns{0, -1, 0};
    for (std::size_t i = 0; i < 5; ++i) EXPECT_NEAR(table.row[i], rows[i], 1e-12);
    for (std::size_t i = 0; i < 3; ++i) EXPECT_NEAR(table.column[i], columns[i], 1e-12);
    double sum = 0;
    for (double const e : table.residual) sum += std::abs(e);
    EXPECT_NEAR(sum, 19, 1e-12);
}

TEST(MedianPolish, TukeyTemperatures)
{
    std::vector<double> const y{57.6, 36.2, 8.7,  61.9, 37.1, 9.8,  68.4, 45.3, 21.7, 75.9, 54.4,
                                34.7, 81.2, 64.7, 48.5, 85.8, 73.4, 58.4, 87.7, 77.3, 64.0};
    auto const table = median_polish(y, 7, 3);
    EXPECT_NEAR(table.overall, 54.4, 1e-9);
    std::vector<double> const rows{-18.2, -17.3, -9.1, 0, 10.3, 19.0, 22.9};
    std::vector<double> const columns{21.4, 0, -19.7};
    for (std::size_t i = 0; i < 7; ++i) EXPECT_NEAR(table.row[i], rows[i], 1e-9) << i;
    for (std::size_t i = 0; i < 3; ++i) EXPECT_NEAR(table.column[i], columns[i], 1e-9) << i;
}

TEST(MedianPolish, InfantMortality)
{
    std::vector<double> const y{25.3, 25.3, 18.2, 18.3, 16.3, 32.1, 29,   18.8, 24.3, 19,
                                38.8, 31,   19.3, 15.7, 16.8, 25.4, 21.1, 20.3, 24,   17.5};
    auto const table = median_polish(y, 4, 5);
    EXPECT_NEAR(table.overall, 20.775, 1e-9);
    std::vector<double> const rows{-1.475, 2.375, -.35, .35};
    std::vector<double> const columns{7.475, 5.925, -1.1125, .075, -3.625};
    for (std::size_t i = 0; i < 4; ++i) EXPECT_NEAR(table.row[i], rows[i], 1e-9) << i;
    for (std::size_t i = 0; i < 5; ++i) EXPECT_NEAR(table.column[i], columns[i], 1e-9) << i;
}

TEST(MedianPolish, SixLinksTwelvePositions)
{
    // Generated data with known faults: position 9 of the test cord, link 3, and fibre 4 of link 5.
    std::vector<double> const y{.27, .29, .16, .22, .22, .27, .27, .28, .41, .22, .26, .23, .21, .26, .21,
                                .17, .18, .26, .24, .24, .44, .33, .24, .31, .54, .53, .49, .54, .49, .45,
                                .49, .49, .66, .53, .38, .44, .20, .20, .25, .26, .22, .26, .25, .24, .47,
                                .21, .24, .23, .23, .34, .21, .81, .21, .21, .30, .27, .40, .23, .24, .23,
                                .24, .21, .25, .19, .26, .27, .20, .23, .47, .23, .23, .22};
    auto const table = median_polish(y, 6, 12);
    EXPECT_NEAR(table.row[2], .257, .005);
    EXPECT_NEAR(table.column[8], .183, .005);
    EXPECT_NEAR(table.residual_at(4, 3), .577, .005);
    std::size_t worst = 0;
    for (std::size_t i = 1; i < y.size(); ++i)
        if (std::abs(table.residual[i]) > std::abs(table.residual[worst])) worst = i;
    EXPECT_EQ(worst, 4u * 12 + 3);
}

enum class Kind {
    student,
    normal,
    grubbs_two_sided,
    theil_sen_slope,
    theil_sen_slope_low,
    theil_sen_slope_high,
    mad,
    hodges_lehmann
};
struct ScipyRow
{
    Kind kind;
    double a, b, value;
};

TEST(Robust, MatchesAnIndependentProgram)
{
    static ScipyRow const rows[] = {
#include "robust_table.inc"
    };
    std::vector<double> const x{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12};
    std::vector<double> const y{.02, .07, .033, -.009, .055, .021, .146, .294, .131, .138, .269, .276};
    auto const line = theil_sen(x, y, .95);
    ASSERT_TRUE(line);
    for (auto const& row : rows) {
        double ours = 0;
        switch (row.kind) {
        case Kind::student:
            ours = loss::student_t_quantile(row.a, row.b);
            break;
        case Kind::normal:
            ours = loss::normal_quantile(row.a);
            break;
        case Kind::grubbs_two_sided:
            ours = grubbs_critical(static_cast<std::size_t>(row.a), row.b, true);
            break;
        case Kind::theil_sen_slope:
            ours = line->slope;
            break;
        case Kind::theil_sen_slope_low:
            ours = line->slope_low;
            break;
        case Kind::theil_sen_slope_high:
            ours = line->slope_high;
            break;
        case Kind::mad:
            ours = median_absolute_deviation(y);
            break;
        case Kind::hodges_lehmann:
            ours = hodges_lehmann(y);
            break;
        }
        // scipy's t quantile for 2 degrees of freedom is off by 2e-9 (see the closed form below).
        EXPECT_NEAR(ours, row.value, 3e-9 * (1 + std::abs(row.value)))
            << static_cast<int>(row.kind) << " " << row.a << " " << row.b;
    }
}

TEST(Robust, StudentQuantileClosedForms)
{
    // One degree of freedom: tan(pi (p - 1/2)); two: (2p - 1) sqrt(2 / (1 - (2p - 1)^2)).
    for (double const p : {.6, .9, .99, .999}) {
        double const one = std::tan(3.14159265358979323846 * (p - .5));
        double const q = 2 * p - 1;
        double const two = q * std::sqrt(2 / (1 - q * q));
        EXPECT_NEAR(loss::student_t_quantile(p, 1), one, 1e-12 * one);
        EXPECT_NEAR(loss::student_t_quantile(p, 2), two, 1e-12 * two);
    }
}

} // namespace
} // namespace guidepin::watch
