// SPDX-License-Identifier: Apache-2.0
// Oracles: scipy (distribution.py); the attenuation grades of IEC 61755-1 and the fits to them worked out
// with an independent program. Tolerance for scipy rows: 1e-9 relative; for printed tables half a unit of the
// last place.
#include "loss/distribution.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace guidepin::loss {
namespace distribution_test {

enum class Kind { gamma_cdf, gamma_survival, gamma_quantile, grade_shape, pearson3_quantile, two_b_two_c };
struct ScipyRow
{
    Kind kind;
    double a, b, c, value;
};

Gamma const grade_b{4.2828, 0.02802};
Gamma const grade_c{4.9313, 0.05070};

TEST(Distribution, MatchesAnIndependentProgram)
{
    static ScipyRow const rows[] = {
#include "distribution_table.inc"
    };
    auto const mixed = convolution_of(std::vector<Term>{{grade_b, 2}, {grade_c, 2}});
    for (auto const& row : rows) {
        double ours = 0;
        double tolerance = 1e-9 * (row.value == 0 ? 1e-12 : std::abs(row.value));
        switch (row.kind) {
        case Kind::gamma_cdf:
            ours = Gamma{row.a, row.b}.cdf(row.c);
            break;
        case Kind::gamma_survival:
            ours = ShiftedGamma{0, row.a, row.b}.survival(row.c);
            break;
        case Kind::gamma_quantile:
            ours = ShiftedGamma{0, row.a, row.b}.quantile(row.c);
            break;
        case Kind::grade_shape: {
            auto const fitted = gamma_of_grade(Decibel{row.a}, Decibel{row.b});
            ASSERT_TRUE(fitted);
            ours = fitted->shape;
            break;
        }
        case Kind::pearson3_quantile: {
            double const sd = 0.1791;
            ours = shifted_gamma_of_cumulants(row.b, sd * sd, row.a * sd * sd * sd).quantile(row.c);
            break;
        }
        case Kind::two_b_two_c: // cells of 1 mdB widen the sum by 1/12 cell^2 a term: some 1e-5 of a tail
            ours = mixed.survival(row.a);
            tolerance = 2e-4 * row.value;
            break;
        }
        EXPECT_NEAR(ours, row.value, tolerance)
            << static_cast<int>(row.kind) << ": " << row.a << ", " << row.b << ", " << row.c;
    }
}

TEST(Grades, GammaThroughMeanAndNinetySevenPercent)
{
    struct Row
    {
        double mean, p97, shape, scale, sd, p50, p99, p999;
    };
    std::vector<Row> const rows{{.07, .15, 3.8990, .01795, .0355, .064, .177, .231},
                                {.12, .25, 4.2828, .02802, .0580, .111, .294, .380},
                                {.25, .50, 4.9313, .05070, .1126, .233, .583, .744},
                                {.50, 1.00, 4.9313, .10139, .2252, .467, 1.166, 1.488}};
    for (auto const& row : rows) {
        auto const fitted = gamma_of_grade(Decibel{row.mean}, Decibel{row.p97});
        ASSERT_TRUE(fitted);
        EXPECT_NEAR(fitted->shape, row.shape, 5e-5);
        EXPECT_NEAR(fitted->scale, row.scale, 5.1e-6);
        EXPECT_NEAR(fitted->sd(), row.sd, 5.1e-5);
        ShiftedGamma const same{0, fitted->shape, fitted->scale};
        EXPECT_NEAR(same.quantile(.5), row.p50, 5e-4);
        EXPECT_NEAR(same.quantile(.97), row.p97, 1e-9);
        EXPECT_NEAR(same.quantile(.99), row.p99, 5e-4);
        EXPECT_NEAR(same.quantile(.999), row.p999, 5e-4);
    }
    EXPECT_FALSE(gamma_of_grade(Decibel{0}, Decibel{.2}));
    EXPECT_FALSE(gamma_of_grade(Decibel{.1}, Decibel{.1}));
    EXPECT_FALSE(gamma_of_grade(Decibel{.1}, Decibel{.4}));
}

} // namespace distribution_test
} // namespace guidepin::loss
