// SPDX-License-Identifier: Apache-2.0
// Oracles: Malitson, J. Opt. Soc. Am. 55 (1965) 1205 (silica) and Fleming, Appl. Opt. 23 (1984) 4486
// (germania), worked with an independent program; zero of silica's material dispersion as in textbooks (1.273
// um); differentiation here. Tolerance: half a unit of the last printed place.
#include "loss/fibre.hpp"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

namespace guidepin::loss {
namespace {

TEST(Fibre, IndexAndGroupIndex)
{
    struct Row
    {
        double germania, wavelength, n, group;
    };
    for (auto const& row : std::vector<Row>{{0, .85, 1.452498, 1.465724},
                                            {0, 1.3, 1.446918, 1.461631},
                                            {0, 1.31, 1.446804, 1.461640},
                                            {0, 1.55, 1.444024, 1.462596},
                                            {0, 1.625, 1.443112, 1.463142},
                                            {.035, .85, 1.457740, 1.471143},
                                            {.035, 1.3, 1.452145, 1.466754},
                                            {.035, 1.31, 1.452032, 1.466759},
                                            {.035, 1.55, 1.449280, 1.467617},
                                            {.035, 1.625, 1.448381, 1.468134},
                                            {.1, .85, 1.467435, 1.481191},
                                            {.1, 1.3, 1.461802, 1.476241},
                                            {.1, 1.31, 1.461691, 1.476238},
                                            {.1, 1.55, 1.458989, 1.476914}}) {
        auto const glass = germania_silica(row.germania);
        EXPECT_NEAR(glass.index(row.wavelength), row.n, 5.1e-7) << row.germania << " " << row.wavelength;
        EXPECT_NEAR(glass.group_index(row.wavelength), row.group, 5.1e-7)
            << row.germania << " " << row.wavelength;
        double const h = 1e-5;
        EXPECT_NEAR(glass.index_slope(row.wavelength),
                    (glass.index(row.wavelength + h) - glass.index(row.wavelength - h)) / (2 * h), 1e-9);
        // D = (1/c) d n_g / d lambda, in ps/(nm km).
        double const bend =
            (glass.group_index(row.wavelength + h) - glass.group_index(row.wavelength - h)) / (2 * h);
        EXPECT_NEAR(glass.dispersion(row.wavelength), bend / speed_of_light * 1e12, 1e-3);
    }
    EXPECT_NEAR(silica().dispersion(1.27275), 0, 1e-2);
    EXPECT_NEAR(silica().dispersion(1.55), 21.91, 5e-3);
}

TEST(Fibre, DelayFromDispersion)
{
    EXPECT_NEAR(relative_delay(1550, 1310, .092) - relative_delay(1310, 1310, .092), 2255.2, .05);
    EXPECT_NEAR(relative_delay(1550, 1317, .088) - relative_delay(1310, 1317, .088), 2041, .5);
    EXPECT_NEAR(chromatic_dispersion(1550, 1310, .092), 17.46, 5e-3);
    EXPECT_NEAR(chromatic_dispersion(1550, 1317, .088), 16.33, 5e-3);
    EXPECT_NEAR(2255.2e-12 * speed_of_light / 1000, 6.76e-4, 5e-7);
}

TEST(Fibre, AttenuationSpectrum)
{
    struct Row
    {
        double at1310, at1550, rayleigh, floor, at1270, at1383, at1490, at1577, at1625, at1650;
    };
    for (auto const& row : std::vector<Row>{{.33, .19, .9639, .0026, .373, .267, .204, .193, .227, .268},
                                            {.35, .20, 1.0240, .0022, .396, .283, .216, .203, .235, .276}}) {
        auto const spectrum =
            spectrum_through(1.31, DecibelPerKilometre{row.at1310}, 1.55, DecibelPerKilometre{row.at1550});
        ASSERT_TRUE(spectrum);
        EXPECT_NEAR(spectrum->rayleigh, row.rayleigh, 2e-4);
        EXPECT_NEAR(spectrum->floor, row.floor, 1e-4);
        EXPECT_NEAR(spectrum->at(1.27).value(), row.at1270, 5.1e-4);
        EXPECT_NEAR(spectrum->at(1.383).value(), row.at1383, 5.1e-4);
        EXPECT_NEAR(spectrum->at(1.49).value(), row.at1490, 5.1e-4);
        EXPECT_NEAR(spectrum->at(1.577).value(), row.at1577, 5.1e-4);
        EXPECT_NEAR(spectrum->at(1.625).value(), row.at1625, 5.1e-4);
        EXPECT_NEAR(spectrum->at(1.65).value(), row.at1650, 5.1e-4);
        EXPECT_NEAR(spectrum->at(1.55).value(), row.at1550, 1e-12);
    }
    EXPECT_NEAR(infrared_edge(1.31), 6.6e-5, 1e-6);
    EXPECT_NEAR(infrared_edge(1.49), .0058, 5e-5);
    EXPECT_NEAR(infrared_edge(1.55), .0204, 5e-5);
    EXPECT_NEAR(infrared_edge(1.625), .0863, 5e-5);
    EXPECT_NEAR(infrared_edge(1.65), .1356, 5.1e-5);
    EXPECT_FALSE(spectrum_through(1.31, DecibelPerKilometre{.3}, 1.32, DecibelPerKilometre{.3}));
}

TEST(Fibre, LengthAndSkew)
{
    EXPECT_NEAR(delay_of_length(1_m, 1.4677).value() * 1e12, 4895.72, 5e-3);
    EXPECT_NEAR(delay_of_length(100_m, 1.4677).value() * 1e9, 489.572, 5e-4);
    EXPECT_NEAR(delay_of_length(Metres{.010}, 1.4677).value() * 1e12, 48.96, 5e-3);
    EXPECT_NEAR(delay_of_length(1_m, 1.482).value() * 1e12, 4943.4, .05);
    EXPECT_NEAR(delay_of_length(1_m, 1.477).value() * 1e12, 4926.7, .05);
    EXPECT_NEAR(length_of_delay(Seconds{1e-9}, Seconds{0}, 1.4677, 0).length.value(), .204260, 5e-7);
    // The wrong index: 100 m become 100.047 m.
    EXPECT_NEAR(length_of_delay(delay_of_length(100_m, 1.4677), Seconds{0}, 1.467, 0).length.value(),
                100.0477, 5e-5);
    auto const measured = length_of_delay(delay_of_length(1500_m, 1.4677), Seconds{.1e-9}, 1.4677, 5e-4);
    EXPECT_NEAR(measured.length.value(), 1500, 1e-9);
    EXPECT_NEAR(measured.u.value(), .511, 5.1e-4);
    std::vector<double> const delays{5e-9, std::numeric_limits<double>::quiet_NaN(), 5.2e-9, 4.9e-9};
    EXPECT_NEAR(skew(delays).value(), .3e-9, 1e-20);
    EXPECT_EQ(skew(std::vector<double>{}).value(), 0);
}

} // namespace
} // namespace guidepin::loss
