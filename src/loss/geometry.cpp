// SPDX-License-Identifier: Apache-2.0
// Single mode: misalignment, reflections, rows. Multimode is in multimode.cpp, modes and bends in mode.cpp.
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

Decibel gap_loss(double gap, double w1, double w2, double wavelength, double n)
{
    double const spread = wavelength * gap / (std::numbers::pi * n * w1 * w2);
    return decibels(4 / (square(w1 / w2 + w2 / w1) + spread * spread));
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

Decibel small_misalignment_loss(Misalignment const& joint)
{
    double const w = (joint.w1_um + joint.w2_um) / 2;
    double const n = joint.medium_index;
    return Decibel{K * (square(joint.offset_um / w) +
                        square(std::numbers::pi * n * w * joint.tilt_rad / joint.wavelength_um) +
                        square(joint.wavelength_um * joint.gap_um / (2 * std::numbers::pi * n * w * w)) +
                        square(std::log(joint.w2_um / joint.w1_um)))};
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

Decibel air_film_reflectance(double gap, double wavelength, double n_glass)
{
    double const part = finesse(n_glass) * square(std::sin(2 * std::numbers::pi * gap / wavelength));
    return Decibel{10 * std::log10(part / (1 + part))};
}

AngledGap angled_gap(double gap, double n_glass, double angle)
{
    AngledGap result;
    result.exit_angle_rad = std::asin(n_glass * std::sin(angle));
    result.deviation_rad = result.exit_angle_rad - angle;
    // The gap is counted along the fibre axis, the shift across it.
    result.shift_um = gap * std::tan(result.deviation_rad);
    return result;
}

double wedge_deviation(double mismatch, double n_glass)
{
    return (n_glass - 1) * mismatch;
}

double facet_mismatch(double rotation, double angle)
{
    return angle * rotation;
}

double position_mm(int position, int columns, double pitch)
{
    return (position - (columns + 1) / 2.0) * pitch;
}

std::vector<Decibel> row_loss(RowMisalignment const& row, double w, int columns)
{
    std::vector<Decibel> losses;
    for (int position = 1; position <= columns; ++position) {
        double const x = 1000 * position_mm(position, columns); // um
        double const along = row.shift_x_um + row.pitch_error * x;
        double const across = row.shift_y_um + row.rotation_rad * x;
        losses.push_back(Decibel{K * (along * along + across * across) / (w * w)});
    }
    return losses;
}

RowParabola row_parabola(RowMisalignment const& row, double w)
{
    double const k = K / (w * w);
    return RowParabola{
        k * (square(row.shift_x_um) + square(row.shift_y_um)),
        2 * k * (row.shift_x_um * row.pitch_error + row.shift_y_um * row.rotation_rad) * 1000,
        k * (square(row.pitch_error) + square(row.rotation_rad)) * 1e6,
    };
}

double cross_angle_gap(double angle, double span_mm)
{
    return 1000 * span_mm * std::tan(angle);
}

double mean_loss_of_offsets(double s, double w)
{
    return 2 * K * square(s / w);
}
double p97_loss_of_offsets(double s, double w)
{
    return mean_loss_of_offsets(s, w) * std::log(1 / 0.03);
}
double offsets_of_mean_loss(Decibel mean, double w)
{
    return w * std::sqrt(mean.value() / (2 * K));
}
double offsets_of_p97_loss(Decibel p97, double w)
{
    return offsets_of_mean_loss(p97 / std::log(1 / 0.03), w);
}
double offsets_per_half(double s, double pin)
{
    return std::sqrt(std::fmax(0, s * s - pin * pin) / 2);
}

} // namespace guidepin::loss
