// SPDX-License-Identifier: Apache-2.0
// Oracles: (1) two-dimensional overlap integrals over Gaussian fields, computed here without the formulas
// under test; (2) tables worked with an independent program (numpy) from Marcuse, BSTJ 56 (1977) 703.
// Tolerance: half a unit of the last printed place; where formula and integral differ (second order in the
// tilt) as said.
#include "loss/geometry.hpp"

#include <cmath>
#include <complex>
#include <numbers>

#include <gtest/gtest.h>

namespace guidepin::loss {
namespace geometry_test {

constexpr double degree = std::numbers::pi / 180;

// |<E1, E2>|^2 of a Gaussian beam and a displaced, tilted Gaussian mode that it meets, on a grid of 400 x 400
// points.
double overlap_loss(double offset, double tilt, double w1, double w2, double wavelength, double index)
{
    using Complex = std::complex<double>;
    double const k = 2 * std::numbers::pi * index / wavelength;
    double const reach = 6 * std::max(w1, w2) + offset;
    constexpr int points = 400;
    double const h = 2 * reach / points;
    Complex inner = 0;
    double norm1 = 0;
    double norm2 = 0;
    for (int i = 0; i < points; ++i)
        for (int j = 0; j < points; ++j) {
            double const x = -reach + (i + 0.5) * h;
            double const y = -reach + (j + 0.5) * h;
            double const e1 = std::exp(-(x * x + y * y) / (w1 * w1));
            double const dx = x - offset;
            Complex const e2 = std::exp(Complex{-(dx * dx + y * y) / (w2 * w2), -k * std::sin(tilt) * x});
            inner += e1 * std::conj(e2);
            norm1 += e1 * e1;
            norm2 += std::norm(e2);
        }
    return -10 * std::log10(std::norm(inner) / (norm1 * norm2));
}

TEST(Geometry, OffsetAndTiltAgainstOverlapIntegral)
{
    for (double const w2 : {4.1, 4.6, 5.3}) {
        EXPECT_NEAR(overlap_loss(0, 0, 4.6, w2, 1.31, 1.4677), mode_field_loss(4.6, w2).value(), 1e-9) << w2;
        for (double const d : {.25, 1.0, 3.0})
            EXPECT_NEAR(overlap_loss(d, 0, 4.6, w2, 1.31, 1.4677), offset_loss(d, 4.6, w2).value(), 1e-9)
                << d << " " << w2;
        // The formula takes the angle for its sine: at 1 degree 5e-5 of the loss.
        for (double const tilt : {.2, .5, 1.0})
            for (auto const& [wavelength, index] : {std::pair{1.31, 1.4677}, std::pair{1.55, 1.0}})
                EXPECT_NEAR(overlap_loss(0, tilt * degree, 4.6, w2, wavelength, index),
                            tilt_loss(tilt * degree, 4.6, w2, wavelength, index).value(), 1e-4)
                    << tilt << " " << w2 << " " << wavelength;
    }
}

TEST(Geometry, OffsetTable)
{
    struct Row
    {
        double d, at46, at52, at54;
    };
    std::vector<Row> const rows{{.25, .0128, .0100, .0093},  {.5, .0513, .0402, .0372},
                                {.75, .1154, .0903, .0838},  {1, .2052, .1606, .1489},
                                {1.25, .3207, .2510, .2327}, {1.5, .4618, .3614, .3351},
                                {2, .8210, .6424, .5957},    {3, 1.8472, 1.4455, 1.3404}};
    for (auto const& row : rows) {
        EXPECT_NEAR(offset_loss(row.d, 4.6, 4.6).value(), row.at46, 5.1e-5);
        EXPECT_NEAR(offset_loss(row.d, 5.2, 5.2).value(), row.at52, 5.1e-5);
        EXPECT_NEAR(offset_loss(row.d, 5.4, 5.4).value(), row.at54, 5.1e-5);
    }
    struct Inverse
    {
        double loss, at46, at52;
    };
    for (auto const& row : std::vector<Inverse>{{.07, .584, .660},
                                                {.12, .765, .864},
                                                {.15, .855, .966},
                                                {.25, 1.104, 1.248},
                                                {.35, 1.306, 1.476},
                                                {.50, 1.561, 1.764},
                                                {.75, 1.912, 2.161},
                                                {1, 2.207, 2.495}}) {
        EXPECT_NEAR(offset_for_loss(Decibel{row.loss}, 4.6), row.at46, 5.1e-4);
        EXPECT_NEAR(offset_for_loss(Decibel{row.loss}, 5.2), row.at52, 5.1e-4);
    }
}

TEST(Geometry, TiltAndModeFieldTables)
{
    struct Row
    {
        double size, at1310, at1550;
    };
    for (auto const& row : std::vector<Row>{{.1, .0035, .0032},
                                            {.2, .0139, .0127},
                                            {.5, .0867, .0792},
                                            {1, .3468, .3168},
                                            {1.5, .7803, .7127},
                                            {2, 1.3872, 1.2671}}) {
        EXPECT_NEAR(tilt_loss(row.size * degree, 4.6, 4.6, 1.31, 1.4677).value(), row.at1310, 5.1e-5);
        EXPECT_NEAR(tilt_loss(row.size * degree, 5.2, 5.2, 1.55, 1.4682).value(), row.at1550, 5.1e-5);
    }
    for (auto const& row : std::vector<Row>{{8.6, 9.2, .0197},
                                            {8.8, 9.2, .0086},
                                            {8.4, 9.2, .0359},
                                            {8.2, 9.2, .0574},
                                            {8.2, 9.6, .1075},
                                            {9.2, 10.4, .0651}}) {
        EXPECT_NEAR(mode_field_loss(row.size / 2, row.at1310 / 2).value(), row.at1550, 5.1e-5);
        EXPECT_EQ(mode_field_loss(row.at1310 / 2, row.size / 2).value(),
                  mode_field_loss(row.size / 2, row.at1310 / 2).value());
    }
    // The trade-off between offset and tilt: (d)(theta) = lambda / (pi n) at equal loss.
    for (double const w : {4.6, 5.2}) {
        Decibel const loss{
            db_per_neper_of_power}; // the offset and the tilt of exp(-1), whose product is .28411 um rad
        EXPECT_NEAR(offset_for_loss(loss, w), w, 1e-12);
        EXPECT_NEAR(tilt_loss(.28411 / w, w, w, 1.31, 1.4677) / loss, 1, 4e-5);
    }
}

TEST(Geometry, NormalisedFrequency)
{
    // Worked with the index of silica of Malitson 1965 (tests/oracle/loss/fibre.cpp).
    for (auto const& [wavelength, v] :
         {std::pair{1.31, 2.4179}, std::pair{1.55, 2.0396}, std::pair{1.625, 1.9442}})
        EXPECT_NEAR(normalised_frequency({4.15, .0035}, wavelength), v, 1e-4);
}

TEST(Geometry, MacrobendOfAStepFibre)
{
    // dB per turn, a 4.15 um, .35 %, two or three figures printed.
    auto const per_turn = [](double radius_mm, double wavelength) {
        return macrobend_db_per_metre({4.15, .0035}, radius_mm, wavelength) * 2 * std::numbers::pi *
               radius_mm / 1000;
    };
    struct Row
    {
        double radius, wavelength, turn, relative;
    };
    for (auto const& row : std::vector<Row>{{7.5, 1.31, .178, .01},
                                            {7.5, 1.49, 2.68, .01},
                                            {7.5, 1.55, 5.43, .01},
                                            {7.5, 1.625, 11.7, .01},
                                            {10, 1.31, 6.8e-3, .01},
                                            {10, 1.49, .295, .01},
                                            {10, 1.55, .79, .01},
                                            {10, 1.625, 2.32, .01},
                                            {12.5, 1.31, 2.5e-4, .03},
                                            {12.5, 1.55, .112, .01},
                                            {12.5, 1.625, .445, .01},
                                            {15, 1.31, 9.1e-6, .02},
                                            {15, 1.49, .0033, .02},
                                            {15, 1.55, .0155, .01},
                                            {15, 1.625, .084, .01},
                                            {20, 1.55, 2.8e-4, .03},
                                            {20, 1.625, 2.8e-3, .03},
                                            {30, 1.55, 8.9e-8, .02},
                                            {30, 1.625, 3.0e-6, .03}})
        EXPECT_NEAR(per_turn(row.radius, row.wavelength) / row.turn, 1, row.relative)
            << row.radius << " " << row.wavelength;
    // Ratio 1550 to 1310 at 10 mm, and for the neighbouring designs.
    auto const ratio = [](StepFibre const& fibre) {
        return macrobend_db_per_metre(fibre, 10, 1.55) / macrobend_db_per_metre(fibre, 10, 1.31);
    };
    EXPECT_NEAR(ratio({4.15, .0035}), 117, 1);
    EXPECT_NEAR(ratio({4.1, .0036}), 148, 1);
    EXPECT_NEAR(ratio({4.2, .0034}), 92, 1);
}

TEST(Geometry, PositionsLieAboutTheMiddleOfTheRow)
{
    EXPECT_NEAR(position_mm(1), -1.375, 1e-12);
    EXPECT_NEAR(position_mm(12), 1.375, 1e-12);
}

} // namespace geometry_test
} // namespace guidepin::loss
