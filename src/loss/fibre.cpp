// SPDX-License-Identifier: Apache-2.0
#include "loss/fibre.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

namespace guidepin::loss {

double Sellmeier::index(double wavelength) const
{
    double const square = wavelength * wavelength;
    double sum = 1;
    for (std::size_t j = 0; j < 3; ++j)
        sum += strength[j] * square / (square - resonance_um[j] * resonance_um[j]);
    return std::sqrt(sum);
}

double Sellmeier::index_slope(double wavelength) const
{
    double const square = wavelength * wavelength;
    double sum = 0;
    for (std::size_t j = 0; j < 3; ++j) {
        double const l2 = resonance_um[j] * resonance_um[j];
        sum += strength[j] * wavelength * l2 / ((square - l2) * (square - l2));
    }
    return -sum / index(wavelength);
}

double Sellmeier::group_index(double wavelength) const
{
    return index(wavelength) - wavelength * index_slope(wavelength);
}

double Sellmeier::dispersion(double wavelength) const
{
    // From S(lambda) = n^2: n'' = (S''/2 - n'^2) / n, S''/2 = sum A l^2 (3 lambda^2 + l^2) / (lambda^2 -
    // l^2)^3.
    double const square = wavelength * wavelength;
    double half = 0;
    for (std::size_t j = 0; j < 3; ++j) {
        double const l2 = resonance_um[j] * resonance_um[j];
        half += strength[j] * l2 * (3 * square + l2) / std::pow(square - l2, 3);
    }
    double const slope = index_slope(wavelength);
    double const bend = (half - slope * slope) / index(wavelength); // 1/um^2
    // um / (m/s) / um^2 = 1e6 s/m^2 = 1e6 * 1e6 ps/(nm km)
    return -wavelength / speed_of_light * bend * 1e12;
}

Sellmeier silica()
{
    return {{0.6961663, 0.4079426, 0.8974794}, {0.0684043, 0.1162414, 9.896161}};
}

Sellmeier germania_silica(double fraction)
{
    Sellmeier const germania{{0.80686642, 0.71815848, 0.85416831}, {0.068972606, 0.15396605, 11.841931}};
    Sellmeier glass = silica();
    for (std::size_t j = 0; j < 3; ++j) {
        glass.strength[j] += fraction * (germania.strength[j] - glass.strength[j]);
        glass.resonance_um[j] += fraction * (germania.resonance_um[j] - glass.resonance_um[j]);
    }
    return glass;
}

double relative_delay(double wavelength, double zero, double slope)
{
    double const away = wavelength - zero * zero / wavelength;
    return slope / 8 * away * away;
}

double chromatic_dispersion(double wavelength, double zero, double slope)
{
    return slope / 4 * (wavelength - std::pow(zero, 4) / std::pow(wavelength, 3));
}

double infrared_edge(double wavelength)
{
    return 7.81e11 * std::exp(-48.48 / wavelength);
}

DecibelPerKilometre AttenuationSpectrum::at(double wavelength) const
{
    return DecibelPerKilometre{rayleigh / std::pow(wavelength, 4) + floor + infrared_edge(wavelength)};
}

Result<AttenuationSpectrum> spectrum_through(double wavelength1, DecibelPerKilometre at1, double wavelength2,
                                             DecibelPerKilometre at2)
{
    if (!(std::abs(wavelength1 - wavelength2) >= 0.05))
        return Error{
            Errc::invalid_input,
            fmt::format(
                "An attenuation spectrum needs two wavelengths 50 nm apart or more; these are {} and {} um.",
                number_text(wavelength1), number_text(wavelength2))};
    double const inverse1 = std::pow(wavelength1, -4);
    double const glass1 = at1.value() - infrared_edge(wavelength1);
    double const glass2 = at2.value() - infrared_edge(wavelength2);
    AttenuationSpectrum spectrum;
    spectrum.rayleigh = (glass1 - glass2) / (inverse1 - std::pow(wavelength2, -4));
    spectrum.floor = glass1 - spectrum.rayleigh * inverse1;
    return spectrum;
}

MeasuredLength length_of_delay(Seconds delay, Seconds u_delay, double group_index, double u_group_index)
{
    double const length = speed_of_light * delay.value() / group_index;
    return MeasuredLength{Metres{length}, Metres{std::hypot(length * u_group_index / group_index,
                                                            speed_of_light * u_delay.value() / group_index)}};
}

Seconds delay_of_length(Metres length, double group_index)
{
    return Seconds{length.value() * group_index / speed_of_light};
}

Seconds skew(std::span<double const> delays)
{
    double low = std::numeric_limits<double>::infinity();
    double high = -low;
    for (double const delay : delays) {
        if (std::isnan(delay)) continue;
        low = std::min(low, delay);
        high = std::max(high, delay);
    }
    return Seconds{high > low ? high - low : 0};
}

} // namespace guidepin::loss
