// SPDX-License-Identifier: Apache-2.0
// Oracle: the definition in IEC 61280-4-1 and -4-5 in its two forms (levels in dBm, powers in mW). Tolerance:
// rounding of double.
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

} // namespace attenuation_test
} // namespace guidepin::verdict
