// SPDX-License-Identifier: Apache-2.0
// Location, spread, outliers, slope and two-way tables that one bad fibre cannot move. A NaN is a hole: left
// out everywhere. Nothing here depends on the order of its input, but for the median polish, whose order is
// fixed. Verified by: tests/oracle/watch/robust.cpp (NIST/SEMATECH e-Handbook data sets, Sen 1968, Tukey
// 1977, scipy), tests/unit/watch/properties.cpp (properties).
#pragma once

#include "base/result.hpp"

#include <cstddef>
#include <span>
#include <vector>

namespace guidepin::watch {

/// Middle value; mean of the two middle ones for an even count. NaN for no value at all.
double median(std::span<double const> values);
/// The same on a buffer that may be reordered and holds no NaN: no allocation.
double median_in_place(std::span<double> values);

/// median |x - median|, not scaled.
double median_absolute_deviation(std::span<double const> values);

/// Makes the MAD of a normal sample its standard deviation: 1/0.6745 = 1.4826.
constexpr double mad_to_sd = 1.4826022185056018;

/// 0.6745 (x - median) / MAD for each value; NaN where the value is a hole, +-infinity where the MAD is 0 and
/// the value is not the median. Iglewicz and Hoaglin (ASQC, 1993) call |z| > 3.5 an outlier.
std::vector<double> modified_z_scores(std::span<double const> values);
constexpr double modified_z_outlier = 3.5;

/// Grubbs' test for one outlier (Technometrics 11 (1969), 1; ISO 16269-4).
struct GrubbsTest
{
    double statistic = 0; ///< max |x - mean| / s
    std::size_t index = 0;
    double critical_one_sided = 0;
    double critical_two_sided = 0;
};
/// Largest statistic that a clean normal sample of n >= 3 stays below with probability 1 - alpha.
double grubbs_critical(std::size_t n, double alpha, bool two_sided);
/// Needs 3 values that are not all equal: invalid_input otherwise.
Result<GrubbsTest> grubbs_test(std::span<double const> values, double alpha = 0.05);

/// Generalised extreme studentised deviate test for up to `most` outliers (Rosner, Technometrics 25 (1983),
/// 165).
struct EsdTest
{
    std::vector<double> statistic;    ///< R_1 … R_r
    std::vector<double> critical;     ///< lambda_1 … lambda_r
    std::vector<std::size_t> removed; ///< index of the value removed at each step
    std::size_t outliers = 0;         ///< largest i with R_i > lambda_i; they are removed[0 … outliers-1]
};
/// Needs n >= most + 3: invalid_input otherwise. Meant for 25 values and more.
Result<EsdTest> esd_test(std::span<double const> values, std::size_t most, double alpha = 0.05);

/// Theil-Sen line with Sen's interval for the slope (J. Am. Stat. Assoc. 63 (1968), 1379).
struct RobustLine
{
    double slope = 0;
    double intercept = 0; ///< median of y - slope * x
    double slope_low = 0;
    double slope_high = 0;
};
/// Needs two different x: invalid_input otherwise. Pairs with equal x are left out. O(n^2).
Result<RobustLine> theil_sen(std::span<double const> x, std::span<double const> y, double confidence = 0.95);

/// Median of all pairwise means, each value with itself too (Hodges and Lehmann 1963). O(n^2); NaN for no
/// value.
double hodges_lehmann(std::span<double const> values);

/// Huber's location with a known spread: solves sum psi((x - m) / sd) = 0, psi(z) = max(-k, min(k, z)). At k
/// = 1.345 it has 95 % of the mean's efficiency on a clean normal sample. The median where sd is not above 0.
double huber_location(std::span<double const> values, double sd, double k = 1.345);
/// The same with the spread taken from the sample's MAD (the median when that is 0).
double huber_location(std::span<double const> values);

/// Tukey's biweight location with a known spread (Beaton and Tukey, Technometrics 16 (1974), 147), from the
/// Huber location on: weights (1 - (z/c)^2)^2, nothing beyond c. At c = 4.685 it has 95 % of the mean's
/// efficiency on a clean normal sample, and a value far off moves it not at all. The median where sd is not
/// above 0.
double biweight_location(std::span<double const> values, double sd, double c = 4.685);

/// Two-way table by median polish (Tukey, Exploratory Data Analysis, 1977): y = overall + row + column +
/// residual. Rows first; stops when the sum of |residual| changes by no more than 1 % in a round, or after 10
/// rounds, and both are part of the definition, since the result depends on them.
struct TwoWayTable
{
    std::size_t rows = 0;
    std::size_t columns = 0;
    double overall = 0;
    std::vector<double> row;
    std::vector<double> column;
    std::vector<double> residual; ///< row by row; NaN at holes
    int rounds = 0;

    double residual_at(std::size_t r, std::size_t c) const { return residual[r * columns + c]; }
};
/// `values` row by row; values.size() must be rows * columns (a bug otherwise). A row or column of holes has
/// effect 0.
TwoWayTable median_polish(std::span<double const> values, std::size_t rows, std::size_t columns);

} // namespace guidepin::watch
