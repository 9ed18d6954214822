// SPDX-License-Identifier: Apache-2.0
// Oracles: JCGM 106:2012 7.3.3 (two examples), 7.4, 8.3.3 (inputs and results as widely quoted; the
// printed text was not at hand); scipy 1.10 (scipy_tables.py). Tolerance: half a unit of the last place
// printed; 1e-12 for scipy's functions.
#include "verdict/conformity.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace guidepin::verdict {
namespace conformity_test {

#include "scipy_table.inc"

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
    double const z = normal_quantile(0.999);
    EXPECT_NEAR(100 / (1 - z * 0.02), 107, 0.5);
    struct
    {
        double p, z;
    } const rows[] = {{0.80, 0.84}, {0.90, 1.28}, {0.95, 1.64}, {0.99, 2.33}, {0.999, 3.09}};
    for (auto const& row : rows) EXPECT_NEAR(normal_quantile(row.p), row.z, 0.0055) << row.p;
    // w = U with k = 2: the risk at the acceptance limit is at most 2.3 %.
    double const w = 2 * 0.05;
    EXPECT_NEAR(1 - probability_of_conformity(0.75 - w, 0.05, {-no_bound, 0.75}).value(), 0.023, 0.0005);
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
    EXPECT_NEAR(normal_quantile(0.95) * 0.05, 0.0822, 5e-5);
}

TEST(ConformityOracle, NormalLawAgreesWithScipy)
{
    for (CdfRow const& row : scipy_normal) EXPECT_NEAR(normal_cdf(row.z) / row.p, 1, 1e-12) << row.z;
}

} // namespace conformity_test
} // namespace guidepin::verdict
