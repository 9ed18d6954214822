// SPDX-License-Identifier: Apache-2.0
// The fibre between the connections: attenuation over wavelength, index, delay, length. Wavelengths in
// micrometres in vacuum. Mathematics: docs/methods/prediction.md. Verified by: tests/oracle/loss/fibre.cpp
// (Malitson 1965, printed dispersion of silica, worked values).
#pragma once

#include "base/result.hpp"
#include "units/quantity.hpp"

#include <array>
#include <span>

namespace guidepin::loss {

/// c in m/s (SI, exact).
constexpr double speed_of_light = 299792458.0;

/// Sellmeier: n^2 - 1 = sum A lambda^2 / (lambda^2 - l^2).
struct Sellmeier
{
    std::array<double, 3> strength{};
    std::array<double, 3> resonance_um{};

    double index(double wavelength_um) const;
    double index_slope(double wavelength_um) const; ///< dn/dlambda, 1/um
    double group_index(double wavelength_um) const; ///< n - lambda dn/dlambda
    /// Material dispersion -(lambda / c) d2n/dlambda2, ps/(nm km).
    double dispersion(double wavelength_um) const;
};
/// Fused silica at 20 degC (Malitson, J. Opt. Soc. Am. 55 (1965), 1205); 0.21 to 3.7 um.
Sellmeier silica();
/// Silica with a mole fraction of germania (Fleming, Appl. Opt. 23 (1984), 4486), 0 to 0.2.
Sellmeier germania_silica(double mole_fraction);

/// Delay against the minimum at lambda0 (nm), ps/km: (S0 / 8)(lambda - lambda0^2 / lambda)^2, S0 in ps/(nm^2
/// km) (ITU-T G.652).
double relative_delay(double wavelength_nm, double zero_dispersion_nm, double slope);
/// Chromatic dispersion from the same two numbers, ps/(nm km).
double chromatic_dispersion(double wavelength_nm, double zero_dispersion_nm, double slope);

/// Attenuation of single-mode fibre: A / lambda^4 + B + C exp(-D / lambda), C = 7.81e11 dB/km, D = 48.48 um
/// (infrared edge of germanosilicate glass; basis memory). Without the water peak at 1383 nm. 1.2 to 1.7 um.
struct AttenuationSpectrum
{
    double rayleigh = 0.9639; ///< dB um^4 / km
    double floor = 0.0026;    ///< dB/km

    DecibelPerKilometre at(double wavelength_um) const;
};
double infrared_edge(double wavelength_um); ///< dB/km
/// Through two measured points; invalid_input when the wavelengths are closer than 0.05 um.
Result<AttenuationSpectrum> spectrum_through(double wavelength1_um, DecibelPerKilometre at1,
                                             double wavelength2_um, DecibelPerKilometre at2);

/// A length from a delay, with its standard uncertainty.
struct MeasuredLength
{
    Metres length;
    Metres u;
};
/// l = c tau / n_g, one way; u^2 = (l u_n / n)^2 + (c u_tau / n)^2. Round trips: halve tau first.
MeasuredLength length_of_delay(Seconds delay, Seconds u_delay, double group_index, double u_group_index);
Seconds delay_of_length(Metres length, double group_index);
/// Largest less smallest delay; holes (NaN) are left out, 0 for fewer than two.
Seconds skew(std::span<double const> delays_s);

} // namespace guidepin::loss
