// SPDX-License-Identifier: Apache-2.0
// Single mode: misalignment, reflections, positions of a row. Multimode is in multimode.cpp, modes and bends
// in mode.cpp.
#include "loss/geometry.hpp"

#include <cassert>
#include <cmath>
#include <numbers>

namespace guidepin::loss {

namespace {

constexpr double K = db_per_neper_of_power;

double square(double x)
{
    return x * x;
}

Decibel decibels(double transmission)
{
    return Decibel{-10 * std::log10(transmission)};
}

// Coefficient of finesse 4R / (1 - R)^2 of the two faces of an air film.
double finesse(double n_glass)
{
    double const r = fresnel_reflectance(n_glass, 1);
    return 4 * r / square(1 - r);
}

} // namespace

Decibel mode_field_loss(double w1, double w2)
{
    return decibels(square(2 * w1 * w2 / (w1 * w1 + w2 * w2)));
}

Decibel offset_loss(double d, double w1, double w2)
{
    return mode_field_loss(w1, w2) + Decibel{2 * K * d * d / (w1 * w1 + w2 * w2)};
}

Decibel tilt_loss(double angle, double w1, double w2, double wavelength, double n)
{
    double const exponent =
        2 * square(std::numbers::pi * n * w1 * w2 * angle / wavelength) / (w1 * w1 + w2 * w2);
    return mode_field_loss(w1, w2) + Decibel{K * exponent};
}

Decibel misalignment_loss(Misalignment const& joint)
{
    // The paper's symbols; w is the 1/e radius of the field.
    double const k = 2 * std::numbers::pi * joint.medium_index / joint.wavelength_um;
    double const sigma = square(joint.w2_um / joint.w1_um);
    double const F = 2 * joint.offset_um / (k * square(joint.w1_um));
    double const G = 2 * joint.gap_um / (k * square(joint.w1_um));
    double const q = G * G + square(sigma + 1);
    double const sine = std::sin(joint.tilt_rad);
    double const u =
        (sigma + 1) * F * F + 2 * sigma * F * G * sine + sigma * (G * G + sigma + 1) * sine * sine;
    double const rho = square(k * joint.w1_um) / 2;
    return Decibel{-10 * std::log10(4 * sigma / q) + K * rho * u / q};
}

double offset_for_loss(Decibel loss, double w)
{
    assert(loss.value() >= 0);
    return w * std::sqrt(loss.value() / K);
}

double fresnel_reflectance(double n1, double n2)
{
    return square((n1 - n2) / (n1 + n2));
}

Decibel fresnel_loss(double n_glass, double n_medium)
{
    return 2 * decibels(1 - fresnel_reflectance(n_glass, n_medium));
}

Decibel air_film_loss(double gap, double wavelength, double n_glass)
{
    return Decibel{
        10 * std::log10(1 + finesse(n_glass) * square(std::sin(2 * std::numbers::pi * gap / wavelength)))};
}

double position_mm(int position, int columns, double pitch)
{
    return (position - (columns + 1) / 2.0) * pitch;
}

} // namespace guidepin::loss
