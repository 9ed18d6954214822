// SPDX-License-Identifier: Apache-2.0
// The base of a fibre has a shifted gamma density about the link's own offset; steps and turns are normal,
// with a part that all fibres of the link share. docs/methods/causes.md, "One link".
#include "cause/likelihood.hpp"

#include <algorithm>
#include <cmath>

namespace guidepin::cause {

namespace {

// Offset, tilt and mode-field mismatch step differently, so the step that 1 dB brings scatters.
constexpr double slope_sd = 0.06;
// Below this skewness a gamma and a normal density differ by less than the readings' rounding.
constexpr double least_skewness = 0.05;
// Left of where the gamma begins lies the reading's own error, a steep normal edge: it begins at this share
// of the gamma's shape and is this much narrower than the whole.
constexpr double edge_begin = 0.05;
constexpr double edge_width = 0.35;

/// A shifted gamma of mean 0, ready for many densities.
class Density
{
  public:
    Density(double variance, double third)
    {
        double const sd = std::sqrt(variance);
        double const skewness = third / (variance * sd);
        normal_ = skewness < least_skewness;
        variance_ = variance;
        if (normal_) {
            constant_ = -0.5 * std::log(2 * 3.14159265358979 * variance);
            return;
        }
        shape_ = 4 / (skewness * skewness);
        scale_ = sd * skewness / 2;
        shift_ = -shape_ * scale_;
        constant_ = -std::lgamma(shape_) - std::log(scale_);
    }
    double log(double x) const
    {
        if (normal_) return constant_ - 0.5 * x * x / variance_;
        double const g = (x - shift_) / scale_;
        double const least = edge_begin * shape_;
        if (g < least) {
            double const below = (x - (shift_ + least * scale_)) / (edge_width * std::sqrt(variance_));
            return constant_ + (shape_ - 1) * std::log(least) - least - 0.5 * below * below;
        }
        return constant_ + (shape_ - 1) * std::log(g) - g;
    }

  private:
    bool normal_ = false;
    double variance_ = 1, shape_ = 1, scale_ = 1, shift_ = 0, constant_ = 0;
};

} // namespace

double log_normal(double x, double variance)
{
    return -0.5 * (x * x / variance + std::log(2 * 3.14159265358979 * variance));
}

double log_sum(std::span<double const> logs)
{
    double most = -1e300;
    for (double const value : logs) most = std::max(most, value);
    double sum = 0;
    for (double const value : logs) sum += std::exp(value - most);
    return most + std::log(sum);
}

double log_likelihood(Residuals const& residuals, Profile const& profile)
{
    Population const& p = *residuals.population;
    // The whole link's own offset, on a grid of five.
    static constexpr double nodes[5] = {-2.0, -1.0, 0.0, 1.0, 2.0};
    static constexpr double weights[5] = {-2.911, -1.411, -0.911, -1.411, -2.911}; // log of normal weights
    double const natural = p.fibre_sd * p.fibre_sd;
    double const third = p.skewness * natural * p.fibre_sd;
    Density const plain{natural, third};
    double logs[5] = {weights[0], weights[1], weights[2], weights[3], weights[4]};
    double last_var = -1;
    Density wide = plain;
    for (int const position : residuals.lit) {
        auto const i = static_cast<std::size_t>(position - 1);
        double const extra = profile.base_var[i] + residuals.base_var[i];
        Density const* density = &plain;
        if (extra > 0) {
            if (extra != last_var) {
                wide = Density{natural + extra, third};
                last_var = extra;
            }
            density = &wide;
        }
        double const x = residuals.base[i] - profile.base[i] - p.fibre_mean;
        for (int node = 0; node < 5; ++node) logs[node] += density->log(x - nodes[node] * p.link_sd);
    }
    double total = log_sum(logs);
    // Steps and turns: normal, with a part that all fibres of the link share (closed form).
    auto const shared = [&](std::vector<double> const& value, std::vector<double> const& mean,
                            std::vector<double> const& var, std::vector<double> const& known_var,
                            double own_sd, double common_sd, double slope) {
        double precision = 0;
        double weighted = 0;
        double sum = 0;
        for (int const position : residuals.lit) {
            auto const i = static_cast<std::size_t>(position - 1);
            if (!std::isfinite(value[i])) continue;
            double natural_part = 0;
            double slope_part = 0;
            if (slope != 0) {
                // A fibre's own joints step with their loss. The variances say how much of the loss is theirs
                // and how much is the fault's.
                double const extra = profile.base_var[i] + residuals.base_var[i];
                double const share = natural / (natural + extra);
                natural_part = slope * share * (residuals.base[i] - profile.base[i]);
                slope_part = slope_sd * share * (residuals.base[i] - profile.base[i]);
            }
            double const v = own_sd * own_sd + var[i] + known_var[i] + slope_part * slope_part;
            double const x = value[i] - mean[i] - natural_part;
            sum += log_normal(x, v);
            precision += 1 / v;
            weighted += x / v;
        }
        if (precision <= 0) return 0.0;
        double const c = common_sd * common_sd;
        return sum + 0.5 * weighted * weighted * c / (1 + c * precision) - 0.5 * std::log1p(c * precision);
    };
    if (residuals.has_step)
        total += shared(residuals.step, profile.step, profile.step_var, residuals.step_var, p.step_sd,
                        p.step_link_sd, p.step_slope);
    if (residuals.has_turn)
        total += shared(residuals.turn, profile.turn, profile.turn_var, residuals.turn_var, p.turn_sd,
                        p.turn_link_sd, 0);
    return total;
}

} // namespace guidepin::cause
