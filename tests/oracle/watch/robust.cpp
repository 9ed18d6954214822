// SPDX-License-Identifier: Apache-2.0
// Oracles: NIST/SEMATECH e-Handbook of Statistical Methods 1.3.5.17.1; scipy (robust.py). Tolerances: half a
// unit of the last printed place.
#include "watch/robust.hpp"

#include "loss/distribution.hpp"

#include <cmath>
#include <vector>

#include <gtest/gtest.h>

namespace guidepin::watch {
namespace robust_test {

TEST(Robust, MedianAbsoluteDeviationOfNistUranium)
{
    std::vector<double> const x{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57};
    EXPECT_NEAR(median_absolute_deviation(x), .995, 1e-9);
}

enum class Kind { normal, mad };
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
    std::vector<double> const y{.02, .07, .033, -.009, .055, .021, .146, .294, .131, .138, .269, .276};
    for (auto const& row : rows) {
        double ours = 0;
        switch (row.kind) {
        case Kind::normal:
            ours = loss::normal_quantile(row.a);
            break;
        case Kind::mad:
            ours = median_absolute_deviation(y);
            break;
        }
        EXPECT_NEAR(ours, row.value, 3e-9 * (1 + std::abs(row.value)))
            << static_cast<int>(row.kind) << " " << row.a << " " << row.b;
    }
}

} // namespace robust_test
} // namespace guidepin::watch
