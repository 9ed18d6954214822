// SPDX-License-Identifier: Apache-2.0
// Powers to attenuations, and the sign.
#include "verdict/attenuation.hpp"
#include "plant/presets.hpp"
#include "verdict_readings.hpp"

#include <gmock/gmock.h>

namespace guidepin::verdict {
namespace attenuation_test {

TEST(Attenuation, PowersBecomeAttenuationsInPlace)
{
    ReadingColumns readings = columns_of({{"L1", LaunchEnd::a, 1, 12, 850, -20.5},
                                          {"L1", LaunchEnd::a, 2, 11, 850, -20.1},
                                          {"L1", LaunchEnd::a, 3, 10, 850, -20.4},
                                          {"L1", LaunchEnd::a, 1, 12, 1300, -20}});
    readings.is_power = true;
    PowerTable powers;
    powers.add(1, 850, Dbm{-20.0});
    powers.add(1, 850, Dbm{-20.2}); // repeated: the mean counts
    powers.add(2, 850, Dbm{-20.2});
    readings.reference[0] = readings.references.index_of("R1");
    readings.reference[1] = readings.references.index_of("R1");
    readings.reference[2] = readings.references.index_of("R9"); // not known
    std::vector<PowerTable const*> const by_reference{&powers, nullptr};
    auto const conversion = attenuations_from_powers(readings, by_reference, &powers);
    EXPECT_FALSE(readings.is_power);
    EXPECT_EQ(conversion.converted, 2u);
    EXPECT_THAT(conversion.without_reference, testing::ElementsAre(2, 3)); // no reference; no such wavelength
    EXPECT_NEAR(readings.value[0], 0.4, 1e-12);
    EXPECT_NEAR(readings.value[1], -0.1, 1e-12); // the sign is kept
    EXPECT_TRUE(std::isnan(readings.value[2]));
    EXPECT_TRUE(std::isnan(readings.value[3]));
}

TEST(Attenuation, AttenuationsAsGivenAreLeftAlone)
{
    ReadingColumns readings = columns_of(healthy());
    auto const before = readings.value;
    EXPECT_EQ(attenuations_from_powers(readings, {}).converted, 0u);
    EXPECT_EQ(readings.value, before);
}

TEST(Attenuation, Signs)
{
    EXPECT_EQ(sign_of(0.0_dB, 0.05_dB), Sign::loss);
    EXPECT_EQ(sign_of(-Decibel{0.05}, 0.05_dB), Sign::slight_gain);
    EXPECT_EQ(sign_of(-Decibel{0.0501}, 0.05_dB), Sign::impossible_gain);
    auto const& tables = facts::built_in_tables();
    EXPECT_EQ(negative_tolerance(tables, setup::ReferenceMethod::one_cord).value(), 0.05);
    EXPECT_EQ(negative_tolerance(tables, setup::ReferenceMethod::three_cord).value(), 0.1);
}

TEST(Attenuation, PowersUnderOtherNumbers)
{
    PowerTable powers;
    for (int p = 1; p <= 12; ++p) powers.add(p, 850, Dbm{-20.0 - p});
    auto const turned =
        powers.renumbered(plant::cable_map("B", plant::parse_family("mpo-12").value()).value());
    EXPECT_DOUBLE_EQ(turned.dbm_at(12, 850), -21);
    EXPECT_DOUBLE_EQ(turned.dbm_at(1, 850), -32);
    EXPECT_TRUE(std::isnan(turned.dbm_at(13, 850)));
    EXPECT_TRUE(std::isnan(turned.dbm_at(0, 850)));
}

} // namespace attenuation_test
} // namespace guidepin::verdict
