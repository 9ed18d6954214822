// SPDX-License-Identifier: Apache-2.0
// The distributions of attenuation: gamma for one connection, shifted gamma for sums, a density on a grid
// where neither is exact. All values in dB. Mathematics: docs/methods/prediction.md. Verified by:
// tests/oracle/loss/distribution.cpp (scipy; worked values), tests/unit/loss/prediction.cpp (properties).
#pragma once

#include "base/result.hpp"
#include "units/quantity.hpp"

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

namespace guidepin::loss {

/// Standard normal: density, P(Z <= z), and its inverse for 0 < p < 1 (-infinity at 0, +infinity at 1).
double normal_density(double z);
double normal_cdf(double z);
double normal_quantile(double p);

/// Gamma with shape k and scale theta (dB): density x^(k-1) e^(-x/theta) / (Gamma(k) theta^k), x > 0.
struct Gamma
{
    double shape = 1;
    double scale = 1;

    double mean() const { return shape * scale; }
    double variance() const { return shape * scale * scale; }
    double sd() const;
    double cdf(double x) const; ///< P(X <= x)
    friend bool operator==(Gamma const&, Gamma const&) = default;
};

/// The gamma population that sits exactly on both figures of an attenuation grade: mean, and the value that
/// 97 of 100 random matings stay below (IEC 61755-1). Needs 0 < mean and 1.4 < p97/mean < 3.5: outside,
/// invalid_input (an exponential has 3.51, and real grades 2.0 to 2.15).
Result<Gamma> gamma_of_grade(Decibel mean, Decibel p97);

/// X = shift + scale * G, G gamma of this shape and scale 1. A negative scale gives a tail to the left; shape
/// 0 is the fixed value `shift`.
struct ShiftedGamma
{
    double shift = 0;
    double shape = 0;
    double scale = 0;

    double mean() const { return shift + shape * scale; }
    double variance() const { return shape * scale * scale; }
    double sd() const;
    double skewness() const; ///< third standardised moment; 0 for a fixed value
    double cdf(double x) const;
    double survival(double x) const;
    double quantile(double p) const; ///< 0 < p < 1
};

/// The shifted gamma with these first three cumulants (Pearson type III). `variance` >= 0; a skewness nearer
/// to zero than 0.001 is taken as 0.001, which moves no quantile by more than 0.001 standard deviations.
ShiftedGamma shifted_gamma_of_cumulants(double mean, double variance, double third_cumulant);

/// P(X + e <= y) for X of `loss` and an independent normal reading error of standard deviation `u` >= 0.
double probability_at_most(ShiftedGamma const& loss, double u, double y);

/// `count` independent connections of one gamma, in a sum. `subtracted`: the joint stood inside the
/// reference, so that its loss is taken out of every reading.
struct Term
{
    Gamma loss;
    int count = 1;
    bool subtracted = false;
    friend bool operator==(Term const&, Term const&) = default;
};

/// True where the sum is a gamma exactly: one common scale and nothing subtracted.
bool closes(std::span<Term const> terms);

/// Exact where the family closes; otherwise the first three cumulants are matched.
/// Terms with a count of 0 are no terms. Negative counts are a bug.
ShiftedGamma sum_of(std::span<Term const> terms);

/// A density on a grid: mass[i] is the probability of the cell around origin + i * step.
class GridDensity
{
  public:
    /// The cells of a gamma, wide enough that less than 1e-12 is left outside.
    static GridDensity of(Gamma const& loss, double step);
    /// The cells of a normal distribution around 0, out to 7 standard deviations.
    static GridDensity normal(double sd, double step);
    /// The fixed value 0.
    static GridDensity zero(double step);

    GridDensity convolved(GridDensity const& other) const; ///< same step, or a bug
    GridDensity mirrored() const;                          ///< density of -X

    double mean() const;
    double variance() const;
    double cdf(double x) const; ///< linear between cell edges
    double survival(double x) const;
    double quantile(double p) const; ///< 0 < p < 1
    double step() const { return step_; }
    std::span<double const> mass() const { return mass_; }

  private:
    double origin_ = 0;
    double step_ = 0.001;
    std::vector<double> mass_;
};

/// The exact route: numerical convolution of all terms on a grid of `step` dB (> 0).
GridDensity convolution_of(std::span<Term const> terms, double step = 0.001);

/// The check: `draws` seeded sums, sorted ascending. Same seed, same numbers.
std::vector<double> simulated_sums(std::span<Term const> terms, std::size_t draws, std::uint64_t seed);

} // namespace guidepin::loss
