// SPDX-License-Identifier: Apache-2.0
// Loss of a connection from its geometry. Lengths in micrometres, angles in radians, wavelengths in
// micrometres in vacuum; w is a mode-field radius (half the mode-field diameter: 1/e of the field).
// Mathematics and domains: docs/methods/prediction.md. The simulator draws joints from offset, tilt and bend.
// Verified by: tests/oracle/loss/geometry.cpp (overlap integrals over fields, worked tables).
#pragma once

#include "units/quantity.hpp"

namespace guidepin::loss {

/// 10 / ln 10: dB of a small relative loss.
constexpr double db_per_neper_of_power = 4.342944819032518;

// Single mode, Gaussian fields (Marcuse, Bell Syst. Tech. J. 56 (1977), 703)

/// Two aligned fields of different size: -20 log10(2 w1 w2 / (w1^2 + w2^2)); the same in both directions.
Decibel mode_field_loss(double w1_um, double w2_um);
/// Lateral offset d, fields of any two sizes: mode-field loss + 2 K d^2 / (w1^2 + w2^2).
Decibel offset_loss(double d_um, double w1_um, double w2_um);
/// Angle between the axes in a medium of index n (glass for physical contact, 1 in air); small angles (< 0.1
/// rad).
Decibel tilt_loss(double angle_rad, double w1_um, double w2_um, double wavelength_um, double n);
/// d that alone costs this loss: w sqrt(L / K); loss >= 0.
double offset_for_loss(Decibel loss, double w_um);

// Modes from fibre parameters

struct StepFibre
{
    double core_radius_um = 4.15;
    double index_difference = 0.0035; ///< (n1^2 - n2^2) / (2 n1^2)
};
/// Index of the core over a cladding of pure silica at this wavelength (see loss/fibre.hpp).
double core_index(StepFibre const& fibre, double wavelength_um);
/// Normalised frequency V = 2 pi a NA / lambda.
double normalised_frequency(StepFibre const& fibre, double wavelength_um);
// Bends

/// Macrobend of a step-index fibre (Marcuse, J. Opt. Soc. Am. 66 (1976), 216), dB per metre; effective
/// radius 1.28 R for the strain. The level depends on the design by a factor of 2 and more, the ratio between
/// wavelengths much less. Needs 1.2 < V < 3 and radius 3 to 50 mm.
double macrobend_db_per_metre(StepFibre const& fibre, double radius_mm, double wavelength_um);
// Rows of fibres

/// Place of position 1 … columns along the row in mm, from the middle; pitch 0.25 mm.
double position_mm(int position, int columns = 12, double pitch_mm = 0.25);
} // namespace guidepin::loss
