// SPDX-License-Identifier: Apache-2.0
// Location and spread that one bad fibre cannot move. A NaN marks a value that was not measured and is left
// out. Nothing here depends on the order of its input. Verified by: tests/oracle/watch/robust.cpp
// (NIST/SEMATECH e-Handbook data set, scipy), tests/unit/watch/properties.cpp (properties).
#pragma once

#include <span>

namespace guidepin::watch {

/// Returns the middle value, or the mean of the two middle ones of an even count. NaN if there is no value.
double median(std::span<double const> values);
/// Does the same without allocation on a buffer that it may reorder and that holds no NaN.
double median_in_place(std::span<double> values);

/// Returns the median of |x - median|, not scaled.
double median_absolute_deviation(std::span<double const> values);

/// Makes the MAD of a normal sample its standard deviation: 1/0.6745 = 1.4826.
constexpr double mad_to_sd = 1.4826022185056018;

/// Huber's location with a known spread: solves sum psi((x - m) / sd) = 0, psi(z) = max(-k, min(k, z)). At k
/// = 1.345 it has 95 % of the mean's efficiency on a clean normal sample. The median where sd is not above 0.
double huber_location(std::span<double const> values, double sd, double k = 1.345);
/// Tukey's biweight location with a known spread (Beaton and Tukey, Technometrics 16 (1974), 147), from the
/// Huber location on: weights (1 - (z/c)^2)^2, nothing beyond c. At c = 4.685 it has 95 % of the mean's
/// efficiency on a clean normal sample, and a value far off moves it not at all. The median where sd is not
/// above 0.
double biweight_location(std::span<double const> values, double sd, double c = 4.685);

} // namespace guidepin::watch
