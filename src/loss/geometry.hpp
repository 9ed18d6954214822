// SPDX-License-Identifier: Apache-2.0
// Loss of a connection from its geometry. Lengths in micrometres, angles in radians, wavelengths in
// micrometres in vacuum; w is a mode-field radius (half the mode-field diameter: 1/e of the field).
// Mathematics and domains: docs/methods/prediction.md. Verified by: tests/oracle/loss/geometry.cpp (overlap
// integrals over fields, exact LP01 mode, worked tables), tests/oracle/loss/multimode.cpp (phase-space
// volumes).
//
// The simulator draws joints from offset, tilt and bend. No command uses the joint of all misalignments, the
// reflections and the multimode launches yet: they are what tests/oracle/loss/populations.cpp holds the
// grades of connections against, and what a prediction from geometry starts from.
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
struct Misalignment
{
    double offset_um = 0; ///< d
    /// Of the receiving fibre; positive where the displaced fibre leans back towards the beam's axis, which
    /// adds to the loss of a gap. Without a gap the sign counts for nothing.
    double tilt_rad = 0;
    double gap_um = 0;
    double w1_um = 4.6;
    double w2_um = 4.6;
    double wavelength_um = 1.31;
    double medium_index = 1.4677; ///< between the fibres
};
/// All at once (Nemoto and Makimoto, Opt. Quantum Electron. 11 (1979), 447). Paraxial: |tilt| < 0.1 rad.
/// Reflections not included.
Decibel misalignment_loss(Misalignment const& joint);
/// d that alone costs this loss: w sqrt(L / K); loss >= 0.
double offset_for_loss(Decibel loss, double w_um);

// Reflections

/// Power reflected at a face between n1 and n2, at right angles: ((n1 - n2) / (n1 + n2))^2.
double fresnel_reflectance(double n1, double n2);
/// Two faces glass - medium - glass whose echoes do not interfere: a wide or angled gap.
Decibel fresnel_loss(double n_glass, double n_medium);
/// Thin gap of air between flat parallel faces: the two echoes interfere (Airy). Diffraction left out: gap <
/// 5 um.
Decibel air_film_loss(double gap_um, double wavelength_um, double n_glass);
// Mode field from fibre parameters

struct StepFibre
{
    double core_radius_um = 4.15;
    double index_difference = 0.0035; ///< (n1^2 - n2^2) / (2 n1^2)
};
/// Index of the core over a cladding of pure silica at this wavelength (see loss/fibre.hpp).
double core_index(StepFibre const& fibre, double wavelength_um);
/// Normalised frequency V = 2 pi a NA / lambda.
double normalised_frequency(StepFibre const& fibre, double wavelength_um);
/// w / a of the best Gaussian: 0.65 + 1.619 V^-1.5 + 2.879 V^-6 (Marcuse 1977), 1.2 < V < 2.8.
double relative_mode_radius(double v);

// Multimode, graded index

/// Parabolic profile, all modes excited alike: overlap of two phase-space balls; 0 <= d < 2 a.
Decibel overfilled_offset_loss(double d_um, double core_radius_um = 25);

/// A launch by its weight over phase-space volume: W(x) = 1 / (1 + exp((x - edge) / width)), x the normalised
/// order.
struct Launch
{
    double edge =
        0.92617; ///< these two reproduce the encircled-flux target for 50 um at 850 nm (IEC 61280-4-1)
    double width = 0.055240;
    bool overfilled = false; ///< W = 1
    double weight(double x) const;
};
/// Share of the near field's power within radius r.
double encircled_flux(Launch const& launch, double r_um, double core_radius_um = 25);
/// Loss at an offset, between fibres that may differ: relative core radius and numerical aperture of the
/// receiving fibre to the sending one. Below 2 um the result depends on the launch's unobservable tail (0.02
/// dB).
Decibel phase_space_loss(Launch const& launch, double d_um, double core_ratio = 1, double aperture_ratio = 1,
                         double core_radius_um = 25);

/// Overfilled mismatch, from fibre 1 to fibre 2: 0 where the second accepts more. Directional.
Decibel core_mismatch_loss(double core1_um, double core2_um);
Decibel aperture_mismatch_loss(double na1, double na2);
Decibel profile_mismatch_loss(double alpha1, double alpha2);

// Bends

/// Macrobend of a step-index fibre (Marcuse, J. Opt. Soc. Am. 66 (1976), 216), dB per metre; effective
/// radius 1.28 R for the strain. The level depends on the design by a factor of 2 and more, the ratio between
/// wavelengths much less. Needs 1.2 < V < 3 and radius 3 to 50 mm.
double macrobend_db_per_metre(StepFibre const& fibre, double radius_mm, double wavelength_um);
/// Loss of `turns` full turns.
Decibel macrobend_loss(StepFibre const& fibre, double radius_mm, double turns, double wavelength_um);

// Rows of fibres

/// Place of position 1 … columns along the row in mm, from the middle; pitch 0.25 mm.
double position_mm(int position, int columns = 12, double pitch_mm = 0.25);
} // namespace guidepin::loss
