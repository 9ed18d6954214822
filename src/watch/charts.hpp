// SPDX-License-Identifier: Apache-2.0
// Control charts on standardised values (mean 0, standard deviation 1 while nothing has changed), their
// average run lengths, and when a change came. Mathematics: docs/methods/watch.md. Verified by:
// tests/oracle/watch/charts.cpp (Lucas and Saccucci 1990, Crowder 1987, Lucas and Crosier 1982, Brook and
// Evans 1972, R package spc, NIST/SEMATECH e-Handbook), tests/unit/watch/properties.cpp (properties).
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace guidepin::watch {

/// Exponentially weighted moving average (Roberts 1959): z = lambda x + (1 - lambda) z, alarm at |z| > limit.
class Ewma
{
  public:
    enum class Limits {
        exact, ///< narrower for the first values, as their average has less variance
        steady ///< the limit of many values: what the average run lengths are computed for
    };

    /// 0 < lambda <= 1; L > 0 in standard deviations of the average.
    Ewma(double lambda, double L, Limits limits = Limits::steady, double start = 0);

    /// Takes one value. Returns whether the chart signals at it.
    bool add(double x);
    double value() const { return z_; }
    /// Returns the half-width of the limits at the last value taken.
    double limit() const;
    std::size_t taken() const { return taken_; }

  private:
    double lambda_;
    double L_;
    Limits limits_;
    double z_;
    double fading_ = 1; // (1 - lambda)^(2 taken)
    std::size_t taken_ = 0;
};

/// Two-sided cumulative sum (Page 1954; Lucas and Crosier, Technometrics 24 (1982), 199): alarm above h.
class Cusum
{
  public:
    /// k >= 0 is half the shift to be found, h > 0 the decision value, both in standard deviations.
    /// `head_start` (0 to h, usually h/2) is the fast initial response.
    Cusum(double k, double h, double head_start = 0);

    bool add(double x);
    double high() const { return high_; } ///< C+
    double low() const { return low_; }   ///< C-

  private:
    double k_;
    double h_;
    double high_;
    double low_;
};

/// Returns the average run length at a constant shift of the mean, in standard deviations, present from the
/// first value. Integral equation solved by Gauss-Legendre with 120 nodes (Crowder, Technometrics 29 (1987),
/// 401); relative error below 1e-8 for lambda >= 0.02 and h <= 30. Valid for lambda in [0.01, 1], L in (0,
/// 6], k in [0, 3], h in (0, 40].
double ewma_arl(double lambda, double L, double shift, double start = 0);
/// Does the same for one side of a CUSUM, with the same precision.
double cusum_arl_one_sided(double k, double h, double shift, double head_start = 0);
/// Does the same for both sides, each with the head start (van Dobben de Bruyn 1968; Lucas and Crosier 1982,
/// for head starts that keep the sides from interacting: head_start <= h/2 + k).
double cusum_arl(double k, double h, double shift, double head_start = 0);

/// Returns the limit for which the chart runs `arl0` values (10 to 1e7) on average before a false alarm.
double ewma_limit_for(double lambda, double arl0);
double cusum_limit_for(double k, double arl0, double head_start_share = 0);

/// When a change came, and how certain that is.
struct ChangePoint
{
    std::size_t first_after = 0; ///< index of the first value after the change
    std::size_t earliest =
        0; ///< start of the interval that holds `first_after` with the confidence asked for
    std::size_t latest = 0;
    double before = 0; ///< level before and after
    double after = 0;
    double sd_of_step = 0;           ///< standard uncertainty of after - before
    bool ramp = false;               ///< it grew evenly from first_after to the last value, which is `after`
    std::vector<double> probability; ///< by index: that the change came just before it; sums to 1
};

/// How a change may come: only at once, or also growing evenly up to the last value.
enum class Form { step, step_or_ramp };

/// What else is unknown before a step: links of one kind share an error of their expectation.
struct StepNuisance
{
    double level = 0;
    double level_sd = 0;               ///< infinite: wholly unknown
    std::span<std::size_t const> kind; ///< by value; empty: all of one kind
    std::span<double const> kind_sd;   ///< by kind: standard deviation of the kind's own error; 0: none
};
/// Locates one step of unknown size at an unknown time among values with known standard deviations: posterior
/// over the time with a flat prior, the step and the errors of kinds integrated out, so that a change of kind
/// does not look like a step and does not hide one. Indices below `first` are excluded as first_after. NaN is
/// left out. With an unknown level the first value cannot be the first after the change. None if there is
/// nothing to decide. `before` is the level without the kinds' errors. With step_or_ramp both forms are as
/// likely before the values are seen; the interval and the probabilities hold both; `ramp` is set if a ramp
/// is twenty times as likely.
std::optional<ChangePoint> change_point(std::span<double const> values, std::span<double const> sds,
                                        StepNuisance const& nuisance, double confidence = 0.95,
                                        std::size_t first = 0, Form form = Form::step);
/// A change at a known time, from values of which some may be anything.
struct RobustStep
{
    double size = 0; ///< of a ramp: at the last value
    double u = 0;    ///< standard uncertainty of the size; 0: the values do not show it
    double borne_out =
        0; ///< share of the values after it that are nearer to the level after than to the level before
};
/// Huber's, then biweight residuals, the levels fitted along. Of a `ramp`, values in its second half bear it
/// out.
RobustStep robust_step(std::span<double const> values, std::span<double const> sds,
                       StepNuisance const& nuisance, std::size_t first_after, bool ramp = false);

} // namespace guidepin::watch
