// SPDX-License-Identifier: Apache-2.0
// Oracles: the definition in IEC 61280-4-1 and -4-5 in its two forms (levels in dBm, powers in mW); closed
// forms for the mean of two directions. Tolerances: rounding of double, or half a unit of the last place
// printed.
#include "verdict/attenuation.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace guidepin::verdict {
namespace attenuation_test {

TEST(AttenuationOracle, LevelsAndLinearPowersAgree)
{
    // A = P_ref - P_test = 10 log10(P_ref / P_test): 1 mW is 0 dBm.
    for (double const reference_mw : {1e-2, 0.02, 0.5, 1.0, 1.3}) {
        for (double const received_mw : {1e-3, 0.005, 0.01, 0.3, 1.0}) {
            double const linear = 10 * std::log10(reference_mw / received_mw);
            Decibel const levels =
                attenuation(Dbm{10 * std::log10(reference_mw)}, Dbm{10 * std::log10(received_mw)});
            EXPECT_NEAR(levels.value(), linear, 1e-12) << reference_mw << " " << received_mw;
        }
    }
    EXPECT_NEAR(attenuation(Dbm{-20}, Dbm{-23.0103}).value(), 3.0103, 1e-12); // half the power
}

TEST(AttenuationOracle, MeanInDecibelsIsNotMeanOfPowers)
{
    // 0.1 and 0.9 dB: 0.500 in dB; 10 log10 of the mean of 10^(A/10)'s inverse gives 0.4816 (closed form).
    EXPECT_NEAR(mean_of_directions(0.1_dB, 0.9_dB).value(), 0.5, 1e-15);
    double const linear = -10 * std::log10((std::pow(10, -0.01) + std::pow(10, -0.09)) / 2);
    EXPECT_NEAR(linear, 0.4816, 5e-5);
    EXPECT_GT(std::abs(mean_of_directions(0.1_dB, 0.9_dB).value() - linear), 0.018);
}

TEST(AttenuationOracle, AMetersOffsetCancelsInTheMean)
{
    for (double const offset : {-0.2, 0.05, 0.3}) {
        Decibel const forward{0.42 + offset};
        Decibel const backward{0.48 - offset};
        EXPECT_NEAR(mean_of_directions(forward, backward).value(), 0.45, 1e-15) << offset;
    }
}

} // namespace attenuation_test
} // namespace guidepin::verdict
