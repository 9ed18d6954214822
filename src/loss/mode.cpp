// SPDX-License-Identifier: Apache-2.0
// The fundamental mode of a step-index fibre: what it loses in a bend.
#include "loss/fibre.hpp"
#include "loss/geometry.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <boost/math/special_functions/bessel.hpp>

namespace guidepin::loss {

namespace {

struct Mode
{
    double u = 0;
    double w = 0;
};

// LP01: u J1(u) / J0(u) = w K1(w) / K0(w), u^2 + w^2 = V^2, 0 < u < min(V, first zero of J0). The left side
// grows and the right side falls with u.
Mode fundamental_mode(double v)
{
    using boost::math::cyl_bessel_j;
    using boost::math::cyl_bessel_k;
    double low = 1e-9;
    double high = std::min(v, 2.404825557695773) * (1 - 1e-12);
    for (int round = 0; round < 100 && high - low > 1e-14; ++round) {
        double const u = (low + high) / 2;
        double const w = std::sqrt(v * v - u * u);
        double const miss =
            u * cyl_bessel_j(1, u) / cyl_bessel_j(0, u) - w * cyl_bessel_k(1, w) / cyl_bessel_k(0, w);
        (miss < 0 ? low : high) = u;
    }
    double const u = (low + high) / 2;
    return Mode{u, std::sqrt(v * v - u * u)};
}

} // namespace

double core_index(StepFibre const& fibre, double wavelength)
{
    return silica().index(wavelength) / std::sqrt(1 - 2 * fibre.index_difference);
}

double normalised_frequency(StepFibre const& fibre, double wavelength)
{
    double const aperture = core_index(fibre, wavelength) * std::sqrt(2 * fibre.index_difference);
    return 2 * std::numbers::pi * fibre.core_radius_um * aperture / wavelength;
}

double macrobend_db_per_metre(StepFibre const& fibre, double radius_mm, double wavelength)
{
    // Micrometres throughout; the paper's symbols.
    double const a = fibre.core_radius_um;
    double const V = normalised_frequency(fibre, wavelength);
    Mode const mode = fundamental_mode(V);
    double const kappa = mode.u / a;
    double const gamma = mode.w / a;
    double const n1k = 2 * std::numbers::pi * core_index(fibre, wavelength) / wavelength;
    double const beta2 = n1k * n1k - kappa * kappa;
    double const R = 1.28 * 1000 * radius_mm; // strain makes the bend optically wider
    double const K1 = boost::math::cyl_bessel_k(1, gamma * a);
    double const power = std::sqrt(std::numbers::pi) * kappa * kappa *
                         std::exp(-2 * gamma * gamma * gamma * R / (3 * beta2)) /
                         (2 * std::pow(gamma, 1.5) * V * V * std::sqrt(R) * K1 * K1);
    return db_per_neper_of_power * power * 1e6;
}

} // namespace guidepin::loss
