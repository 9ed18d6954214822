// SPDX-License-Identifier: Apache-2.0
// Misalignment of single-mode fibres, and positions of a row. Bends are in mode.cpp.
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

double offset_for_loss(Decibel loss, double w)
{
    assert(loss.value() >= 0);
    return w * std::sqrt(loss.value() / K);
}

double position_mm(int position, int columns, double pitch)
{
    return (position - (columns + 1) / 2.0) * pitch;
}

} // namespace guidepin::loss
