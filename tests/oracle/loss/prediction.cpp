// SPDX-License-Identifier: Apache-2.0
// Oracles: sums of connections that sit exactly on grade B or C of IEC 61755-1, worked with an independent
// program (scipy 1.10, 400,000-draw Monte Carlo); Uhing, Thomas and Christodoulou, NAECON 1990,
// doi 10.1109/NAECON.1990.112772; the mean plus three standard deviations rule of a published planning guide;
// deterministic limit of TIA-568.3. Tolerance: half a unit of the last printed place.
#include "loss/prediction.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace guidepin::loss {
namespace prediction_test {

Gamma grade(double mean, double p97)
{
    return gamma_of_grade(Decibel{mean}, Decibel{p97}).value();
}
Gamma const b = grade(.12, .25);
Gamma const c = grade(.25, .50);

Prediction of(std::vector<Joints> joints, int fibres = 12, PredictionOptions const& options = {})
{
    LinkConfiguration link;
    link.joints = std::move(joints);
    link.fibres = fibres;
    return predict(link, options);
}

TEST(Prediction, SumsOfConnectionsOnTheGrade)
{
    struct Row
    {
        Gamma one;
        int n;
        double mean, sd, p95, p97, p99, p999, times, exceeds, place;
    };
    std::vector<Row> const rows{{b, 1, .120, .0580, .228, .250, .294, .380, .250, 3.0e-2, 1e-3},
                                {b, 2, .240, .0820, .389, .416, .471, .574, .500, 5.34e-3, 1e-5},
                                {b, 3, .360, .1004, .540, .571, .634, .751, .750, 1.025e-3, 1e-6},
                                {b, 4, .480, .1160, .685, .721, .790, .919, 1.000, 2.04e-4, 1e-6},
                                {b, 6, .720, .1420, .968, 1.010, 1.091, 1.240, 1.500, 8.6e-6, 1e-7},
                                {b, 10, 1.200, .1834, 1.517, 1.568, 1.667, 1.847, 2.500, 1.7e-8, 1e-9},
                                {c, 2, .500, .1592, .787, .839, .943, 1.138, 1.000, 5.24e-3, 1e-5},
                                {c, 4, 1.000, .2252, 1.397, 1.464, 1.597, 1.842, 2.000, 1.93e-4, 1e-6},
                                {c, 6, 1.500, .2758, 1.981, 2.060, 2.215, 2.498, 3.000, 7.9e-6, 1e-7}};
    for (auto const& row : rows) {
        auto const sum = of({{"connection", row.one, row.n}});
        EXPECT_STREQ(sum.route(), "closed form");
        EXPECT_NEAR(sum.mean().value(), row.mean, 5e-4);
        EXPECT_NEAR(sum.sd().value(), row.sd, 5.1e-5) << row.n;
        EXPECT_NEAR(sum.quantile(.95).value(), row.p95, 5.1e-4) << row.n;
        EXPECT_NEAR(sum.quantile(.97).value(), row.p97, 5.1e-4) << row.n;
        EXPECT_NEAR(sum.quantile(.99).value(), row.p99, 5.1e-4) << row.n;
        EXPECT_NEAR(sum.quantile(.999).value(), row.p999, 5.1e-4) << row.n;
        EXPECT_NEAR(sum.exceedance(Decibel{row.times}), row.exceeds, .6 * row.place) << row.n;
    }
}

TEST(Prediction, Exceedances)
{
    EXPECT_NEAR(of({{"B", b, 4}}).exceedance(.75_dB), .01909, 5.1e-6);
    EXPECT_NEAR(of({{"B", b, 2}}).exceedance(.50_dB), .00534, 5.1e-6);
    EXPECT_NEAR(of({{"B", b, 6}}).exceedance(1.0_dB), .0340, 5.1e-5);
    EXPECT_NEAR(of({{"C", c, 2}}).exceedance(.75_dB), .0710, 5.1e-5);
    EXPECT_NEAR(of({{"C", c, 4}}).exceedance(1.5_dB), .0226, 5.1e-5);
    EXPECT_NEAR(of({{"C", c, 4}}).exceedance(1.4_dB), .0489, 5.1e-5);
    // The exact route and the check.
    PredictionOptions grid{Route::convolution, 1, 0};
    EXPECT_NEAR(of({{"B", b, 4}}, 12, grid).exceedance(.75_dB), .01909, 2e-5);
    PredictionOptions drawn{Route::simulation, 2026, 200000};
    EXPECT_NEAR(of({{"B", b, 4}}, 12, drawn).exceedance(.75_dB), .01909, 4 * std::sqrt(.01909 / 200000));
}

TEST(Prediction, GradesMixed)
{
    // 2 B + 2 C: mean .74, sd .1791; above 1.2 dB: two moments .01224, Monte Carlo .01275.
    double const variance = 2 * b.variance() + 2 * c.variance();
    ShiftedGamma const moments{0, .74 * .74 / variance, variance / .74};
    EXPECT_NEAR(moments.survival(1.2), .01224, 5.1e-6);
    auto const sum = of({{"B", b, 2}, {"C", c, 2}});
    EXPECT_STREQ(sum.route(), "matched moments");
    EXPECT_NEAR(sum.mean().value(), .74, 1e-9);
    EXPECT_NEAR(sum.sd().value(), .1791, 5e-5);
    // With the third moment too, the tail is that of the Monte Carlo to its error (400,000 draws: .00018).
    EXPECT_NEAR(sum.exceedance(1.2_dB), .01275, 3.6e-4);
    EXPECT_NEAR(of({{"B", b, 2}, {"C", c, 2}}, 12, {Route::convolution, 1, 0}).exceedance(1.2_dB), .01275,
                3.6e-4);
}

TEST(Prediction, WholeLinks)
{
    auto const link = of({{"B", b, 4}});
    EXPECT_NEAR(1 - link.chance_all_within(.75_dB).value(), .2065, 1e-4);
    EXPECT_NEAR(link.quantile_of_worst(.95).value(), .840, 5e-4);
    // All n fibres below the 97 % value: .97^n.
    struct Row
    {
        int fibres;
        double chance;
    };
    for (auto const& row : std::vector<Row>{{2, .9409}, {8, .7837}, {12, .6938}, {16, .6143}, {24, .4814}})
        EXPECT_NEAR(of({{"B", b, 1}}, row.fibres).chance_all_within(.25_dB).value(), row.chance, 5.1e-5);
    EXPECT_NEAR(per_fibre_yield(12, .95), .99573, 5e-6);
}

TEST(Prediction, PublishedExamples)
{
    // Uhing et al.: ten connectors by convolution of a measured density, 1 % and 99 % at 5.52 and 8.75 dB; a
    // gamma with the moments of that sum gives 5.62 and 8.85 (their density is less skewed, hence 0.11 dB).
    double const variance = .2195 * .2195;
    Gamma const one{.7135 * .7135 / variance, variance / .7135};
    auto const ten = of({{"connector", one, 10}});
    EXPECT_NEAR(ten.quantile(.01).value(), 5.62, .005);
    EXPECT_NEAR(ten.quantile(.99).value(), 8.85, .005);
    EXPECT_NEAR(ten.quantile(.01).value(), 5.52, .11);
    EXPECT_NEAR(ten.quantile(.99).value(), 8.75, .11);
    // Planning guide: mean 11.05 dB, variance .19 dB^2, three standard deviations and .50 dB: 12.86 dB.
    EXPECT_NEAR(11.05 + 3 * std::sqrt(2 * .06 + 2 * .01 + .05) + .50, 12.86, .005);
    // Two connections of .75 dB and 100 m of .40 dB/km: 1.54 dB.
    LinkConfiguration link;
    link.length = 100_m;
    link.attenuation = DecibelPerKilometre{.40};
    EXPECT_NEAR(predict(link).mean().value() + 2 * .75, 1.54, 1e-12);
}

} // namespace prediction_test
} // namespace guidepin::loss
