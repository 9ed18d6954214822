// SPDX-License-Identifier: Apache-2.0
// The sign of an attenuation and its tolerance.
#include "verdict/attenuation.hpp"

#include <gtest/gtest.h>

namespace guidepin::verdict {
namespace attenuation_test {

TEST(Attenuation, Signs)
{
    EXPECT_EQ(sign_of(0.0_dB, 0.05_dB), Sign::loss);
    EXPECT_EQ(sign_of(-Decibel{0.05}, 0.05_dB), Sign::slight_gain);
    EXPECT_EQ(sign_of(-Decibel{0.0501}, 0.05_dB), Sign::impossible_gain);
    auto const& tables = facts::built_in_tables();
    EXPECT_EQ(negative_tolerance(tables, setup::ReferenceMethod::one_cord).value(), 0.05);
    EXPECT_EQ(negative_tolerance(tables, setup::ReferenceMethod::three_cord).value(), 0.1);
}

} // namespace attenuation_test
} // namespace guidepin::verdict
