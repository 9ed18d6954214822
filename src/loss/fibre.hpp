// SPDX-License-Identifier: Apache-2.0
// Refractive index of the fibre's glass. Wavelengths in micrometres in vacuum. Mathematics:
// docs/methods/prediction.md. Verified by: tests/oracle/loss/fibre.cpp (Malitson 1965, worked values).
#pragma once

#include <array>

namespace guidepin::loss {

/// Sellmeier: n^2 - 1 = sum A lambda^2 / (lambda^2 - l^2).
struct Sellmeier
{
    std::array<double, 3> strength{};
    std::array<double, 3> resonance_um{};

    double index(double wavelength_um) const;
};
/// Fused silica at 20 degC (Malitson, J. Opt. Soc. Am. 55 (1965), 1205); 0.21 to 3.7 um.
Sellmeier silica();

} // namespace guidepin::loss
