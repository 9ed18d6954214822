// SPDX-License-Identifier: Apache-2.0
// Oracles: encircled-flux targets of IEC 61280-4-1 for 50 um fibre at 850 nm (basis: memory);
// single-connection losses worked with an independent program; the closed form for overfilled launch; a Monte
// Carlo over phase space here. Tolerance: half a unit of the last printed place, but for the Monte Carlo (4
// standard errors).
#include "loss/distribution.hpp"
#include "loss/geometry.hpp"
#include "loss/random.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace guidepin::loss {
namespace multimode_test {

Launch const target;
Launch const overfilled{0, 1, true};

TEST(Multimode, EncircledFlux)
{
    struct Row
    {
        double radius, worked, lower, upper, overfilled;
    };
    for (auto const& row : std::vector<Row>{{10, .33513, .2785, .3915, .2944},
                                            {15, .65492, .5980, .7119, .5904},
                                            {20, .91923, .9105, .9295, .8704},
                                            {22, .97523, .9690, .9812, .9491}}) {
        double const flux = encircled_flux(target, row.radius);
        EXPECT_NEAR(flux, row.worked, 1e-4);
        EXPECT_GT(flux, row.lower);
        EXPECT_LT(flux, row.upper);
        EXPECT_NEAR(encircled_flux(overfilled, row.radius), row.overfilled, 5.1e-5);
    }
}

TEST(Multimode, OffsetLoss)
{
    struct Row
    {
        double d, overfilled, flux;
    };
    for (auto const& row : std::vector<Row>{{1, .150, .050},
                                            {2, .305, .119},
                                            {3, .466, .208},
                                            {4, .632, .317},
                                            {5, .804, .446},
                                            {6, .981, .593},
                                            {7, 1.165, .754},
                                            {8, 1.356, .929},
                                            {10, 1.757, 1.314}}) {
        EXPECT_NEAR(overfilled_offset_loss(row.d).value(), row.overfilled, 5.1e-4) << row.d;
        EXPECT_NEAR(phase_space_loss(target, row.d).value(), row.flux, 1e-3) << row.d;
        EXPECT_NEAR(phase_space_loss(overfilled, row.d).value(), overfilled_offset_loss(row.d).value(), 5e-4)
            << row.d;
    }
    // Small offsets: 1 - .8488 d / a.
    EXPECT_NEAR(1 - std::pow(10, -overfilled_offset_loss(.01).value() / 10), .8488 * .01 / 25, 1e-7);
}

TEST(Multimode, MonteCarloOverPhaseSpace)
{
    // Points uniform in the 4-ball, weighted by the launch; those that lie in the displaced ball survive.
    Random random{850};
    double sent = 0;
    double kept = 0;
    double squares = 0;
    for (int i = 0; i < 400000; ++i) {
        double p[4];
        double square = 0;
        for (double& x : p) {
            x = 2 * random.uniform() - 1;
            square += x * x;
        }
        if (square > 1) continue;
        double const w = target.weight(std::sqrt(square));
        double const dx = p[0] - 6.0 / 25;
        sent += w;
        squares += w * w;
        if (dx * dx + p[1] * p[1] + p[2] * p[2] + p[3] * p[3] <= 1) kept += w;
    }
    double const transmission = std::pow(10, -phase_space_loss(target, 6).value() / 10);
    double const error = std::sqrt(transmission * (1 - transmission) * squares) / sent;
    EXPECT_NEAR(kept / sent, transmission, 4 * error);
}

TEST(Multimode, MismatchHasADirection)
{
    EXPECT_NEAR(core_mismatch_loss(62.5, 50).value(), 1.938, 5e-4);
    EXPECT_NEAR(aperture_mismatch_loss(.275, .200).value(), 2.766, 5e-4);
    EXPECT_NEAR(core_mismatch_loss(51, 49).value(), .3475, 5.1e-5);
    EXPECT_NEAR(core_mismatch_loss(52.5, 47.5).value(), .869, 5.1e-4);
    EXPECT_NEAR(aperture_mismatch_loss(.205, .195).value(), .434, 5.1e-4);
    EXPECT_NEAR((core_mismatch_loss(51, 49) + aperture_mismatch_loss(.205, .195)).value(), .782, 5.1e-4);
    EXPECT_NEAR(profile_mismatch_loss(2.1, 1.9).value(), .217, 5.1e-4);
    EXPECT_EQ(core_mismatch_loss(50, 62.5).value(), 0);
    EXPECT_EQ(aperture_mismatch_loss(.2, .275).value(), 0);
    EXPECT_EQ(profile_mismatch_loss(1.9, 2.1).value(), 0);
    // Under the flux target. The sending fibre's radius and aperture are the unit of its own launch.
    EXPECT_NEAR(phase_space_loss(target, 0, 49.0 / 51).value(), .117, 1.1e-3);
    EXPECT_NEAR(phase_space_loss(target, 0, 47.5 / 52.5).value(), .363, 1.1e-3);
    EXPECT_NEAR(phase_space_loss(target, 0, 1, .195 / .205).value(), .152, 1.1e-3);
    EXPECT_NEAR(phase_space_loss(target, 0, 49.0 / 51, .195 / .205).value(), .287, 1.1e-3);
    EXPECT_NEAR(phase_space_loss(target, 0, 51.0 / 49).value(), 0, 1e-9);
}

TEST(Multimode, RayleighOffsets)
{
    // 10GBASE-LRM task force 2004 after Pepeljugoski et al., J. Lightwave Technol. 21 (2003) 1256: mean 3.58
    // um, P(d > 7 um) = 5 %.
    Random random{3};
    double const s = 3.58 / std::sqrt(3.14159265358979 / 2);
    EXPECT_NEAR(s, 2.8564, 5e-5);
    EXPECT_NEAR(std::exp(-49 / (2 * s * s)), .04965, 5e-6);
    double mean = 0;
    double above = 0;
    constexpr int draws = 200000;
    for (int i = 0; i < draws; ++i) {
        double const d = s * std::hypot(random.normal(), random.normal());
        mean += d / draws;
        above += d > 7 ? 1.0 / draws : 0;
    }
    EXPECT_NEAR(mean, 3.58, 4 * 1.87 / std::sqrt(draws));
    EXPECT_NEAR(above, .04965, 4 * std::sqrt(.05 / draws));
}

} // namespace multimode_test
} // namespace guidepin::loss
