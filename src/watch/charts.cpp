// SPDX-License-Identifier: Apache-2.0
#include "watch/charts.hpp"

#include "loss/distribution.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <numbers>
#include <utility>

namespace guidepin::watch {

Ewma::Ewma(double lambda, double L, Limits limits, double start)
    : lambda_(lambda)
    , L_(L)
    , limits_(limits)
    , z_(start)
{
    assert(lambda > 0 && lambda <= 1 && L > 0);
}

bool Ewma::add(double x)
{
    z_ = lambda_ * x + (1 - lambda_) * z_;
    fading_ *= (1 - lambda_) * (1 - lambda_);
    ++taken_;
    return std::abs(z_) > limit();
}

double Ewma::limit() const
{
    double const share = limits_ == Limits::exact ? 1 - fading_ : 1;
    return L_ * std::sqrt(lambda_ / (2 - lambda_) * share);
}

Cusum::Cusum(double k, double h, double head_start)
    : k_(k)
    , h_(h)
    , high_(head_start)
    , low_(head_start)
{
    assert(k >= 0 && h > 0 && head_start >= 0 && head_start <= h);
}

bool Cusum::add(double x)
{
    high_ = std::max(0.0, high_ + x - k_);
    low_ = std::max(0.0, low_ - x - k_);
    return high_ > h_ || low_ > h_;
}

namespace {

/// Values = level + error of their kind + step * (at or after it) + noise, level and errors with normal
/// priors. Least squares in the few unknowns.
class StepFit
{
  public:
    StepFit(std::span<double const> values, std::span<double const> sds, StepNuisance const& nuisance)
        : values_(values)
        , nuisance_(nuisance)
        , weight_(values.size())
        , own_(nuisance.kind_sd.size(), 0)
    {
        for (std::size_t i = 0; i < values.size(); ++i)
            weight_[i] = std::isnan(values[i]) || !(sds[i] > 0) ? 0 : 1 / (sds[i] * sds[i]);
        for (std::size_t k = 0; k < own_.size(); ++k)
            if (nuisance.kind_sd[k] > 0) own_[k] = ++order_;
        ++order_; // the level itself is number 0
        set_weights(weight_);
    }

    /// Weights of the values, at most 1/sd^2.
    void set_weights(std::vector<double> weight)
    {
        weight_ = std::move(weight);
        std::vector<double> precision(order_ * order_, 0);
        pulls_.assign(order_, 0);
        total_ = 0;
        double const sd = nuisance_.level_sd;
        precision[0] = std::isinf(sd) ? 0 : 1 / std::max(sd * sd, 1e-18);
        for (std::size_t k = 0; k < own_.size(); ++k)
            if (own_[k] > 0)
                precision[own_[k] * (order_ + 1)] = 1 / (nuisance_.kind_sd[k] * nuisance_.kind_sd[k]);
        for (std::size_t i = 0; i < values_.size(); ++i) {
            double const w = weight_[i];
            if (w == 0) continue;
            std::size_t const k = kind(i);
            total_ += w;
            precision[0] += w;
            pulls_[0] += w * away(i);
            if (k == 0) continue;
            precision[k] += w;
            precision[k * order_] += w;
            precision[k * (order_ + 1)] += w;
            pulls_[k] += w * away(i);
        }
        invert(std::move(precision));
    }

    struct Step
    {
        double size = 0, precision = 0;
    };
    /// Sums over the values from some index on, each times its share of the change, by unknown.
    struct After
    {
        std::vector<double> weight;
        double square = 0; // of the shares
        double pull = 0;
    };
    After none() const { return {std::vector<double>(order_, 0), 0, 0}; }
    void include(After& after, std::size_t i, double share = 1) const
    {
        double const w = weight_[i] * share;
        if (w == 0) return;
        after.weight[0] += w;
        if (std::size_t const k = kind(i); k > 0) after.weight[k] += w;
        after.square += w * share;
        after.pull += w * away(i);
    }
    /// Of a ramp of one a value, from the same from one value later on and the step from this one on.
    void grow(After& ramp, After const& step) const
    {
        ramp.square += 2 * ramp.weight[0] + step.weight[0];
        for (std::size_t k = 0; k < order_; ++k) ramp.weight[k] += step.weight[k];
        ramp.pull += step.pull;
    }
    static After scaled(After after, double by)
    {
        for (double& weight : after.weight) weight *= by;
        after.square *= by * by;
        after.pull *= by;
        return after;
    }
    Step step(After const& after) const
    {
        Step step;
        step.precision = after.square - bilinear(after.weight, after.weight);
        // If the unknown level explains everything, only rounding errors remain.
        if (!known_ || !(step.precision > 1e-9 * total_)) return {};
        step.size = (after.pull - bilinear(after.weight, pulls_)) / step.precision;
        return step;
    }
    /// Level and errors of the kinds with a step of this size taken off.
    std::vector<double> levels(After const& after, double size) const
    {
        std::vector<double> right(order_);
        for (std::size_t a = 0; a < order_; ++a) right[a] = pulls_[a] - size * after.weight[a];
        std::vector<double> solved(order_, 0);
        for (std::size_t a = 0; a < order_; ++a)
            for (std::size_t b = 0; b < order_; ++b) solved[a] += inverse_[a * order_ + b] * right[b];
        return solved;
    }
    double residual(std::vector<double> const& levels, std::size_t i) const
    {
        std::size_t const k = kind(i);
        return away(i) - levels[0] - (k > 0 ? levels[k] : 0);
    }
    std::vector<double> const& weights() const { return weight_; }

  private:
    double away(std::size_t i) const { return values_[i] - nuisance_.level; }
    std::size_t kind(std::size_t i) const { return nuisance_.kind.empty() ? 0 : own_[nuisance_.kind[i]]; }

    double bilinear(std::vector<double> const& a, std::vector<double> const& b) const
    {
        double sum = 0;
        for (std::size_t i = 0; i < order_; ++i)
            for (std::size_t j = 0; j < order_; ++j) sum += a[i] * inverse_[i * order_ + j] * b[j];
        return sum;
    }

    /// Gauss-Jordan without pivots: the matrix is symmetric and positive.
    void invert(std::vector<double> matrix)
    {
        std::size_t const n = order_;
        inverse_.assign(n * n, 0);
        for (std::size_t i = 0; i < n; ++i) inverse_[i * (n + 1)] = 1;
        known_ = true;
        for (std::size_t c = 0; c < n; ++c) {
            double const pivot = matrix[c * (n + 1)];
            if (!(pivot > 0)) {
                known_ = false;
                return;
            }
            for (std::size_t j = 0; j < n; ++j) {
                matrix[c * n + j] /= pivot;
                inverse_[c * n + j] /= pivot;
            }
            for (std::size_t r = 0; r < n; ++r) {
                double const factor = matrix[r * n + c];
                if (r == c || factor == 0) continue;
                for (std::size_t j = 0; j < n; ++j) {
                    matrix[r * n + j] -= factor * matrix[c * n + j];
                    inverse_[r * n + j] -= factor * inverse_[c * n + j];
                }
            }
        }
    }

    std::span<double const> values_;
    StepNuisance nuisance_;
    std::vector<double> weight_;
    std::vector<std::size_t> own_; // by kind: number of its unknown; 0: none
    std::size_t order_ = 0;
    std::vector<double> inverse_, pulls_;
    double total_ = 0;
    bool known_ = false;
};

} // namespace

std::optional<ChangePoint> change_point(std::span<double const> values, std::span<double const> sds,
                                        StepNuisance const& nuisance, double confidence, std::size_t first,
                                        Form form)
{
    assert(values.size() == sds.size());
    std::size_t const n = values.size();
    StepFit const fit(values, sds, nuisance);
    struct Best
    {
        std::vector<double> score;
        double most = -1e300;
        std::size_t at = 0;
        StepFit::After after;
    };
    std::array<Best, 2> forms; // at once, growing
    for (Best& of : forms) of.score.assign(n, -1e300);
    StepFit::After after = fit.none();
    StepFit::After growing = after;
    auto const weigh = [&](Best& of, StepFit::After const& sums, std::size_t t) {
        StepFit::Step const step = fit.step(sums);
        if (step.precision <= 0) return;
        // log of the likelihood at its best step, times the width of the step's likelihood.
        of.score[t] = 0.5 * step.size * step.size * step.precision - 0.5 * std::log(step.precision);
        if (of.score[t] < of.most) return;
        of.most = of.score[t];
        of.at = t;
        of.after = sums;
    };
    for (std::size_t t = n; t-- > first;) {
        fit.include(after, t);
        weigh(forms[0], after, t);
        if (form == Form::step) continue;
        fit.grow(growing, after);
        weigh(forms[1], StepFit::scaled(growing, 1 / static_cast<double>(n - t)), t);
    }
    double const best = std::max(forms[0].most, forms[1].most);
    if (best == -1e300) return std::nullopt;

    ChangePoint change;
    change.probability.assign(n, 0);
    std::array<double, 2> total{};
    for (std::size_t f = 0; f < 2; ++f) {
        for (std::size_t t = first; t < n; ++t) {
            double const p = std::exp(forms[f].score[t] - best);
            change.probability[t] += p;
            total[f] += p;
        }
    }
    for (auto& p : change.probability) p /= total[0] + total[1];
    // Soon after a change both forms fit equally well: it is a ramp only if the values show that clearly.
    change.ramp = total[1] > 20 * total[0];
    Best const& likelier = forms[change.ramp ? 1 : 0];
    std::size_t const at = likelier.at;
    change.first_after = at;
    // The shortest reach around the likeliest index, grown to the likelier neighbour.
    change.earliest = at;
    change.latest = at;
    double held = change.probability[at];
    while (held < confidence && (change.earliest > 0 || change.latest + 1 < n)) {
        double const left = change.earliest > 0 ? change.probability[change.earliest - 1] : -1;
        double const right = change.latest + 1 < n ? change.probability[change.latest + 1] : -1;
        if (left >= right)
            held += change.probability[--change.earliest];
        else
            held += change.probability[++change.latest];
    }
    StepFit::Step const step = fit.step(likelier.after);
    change.before = nuisance.level + fit.levels(likelier.after, step.size)[0];
    change.after = change.before + step.size;
    change.sd_of_step = 1 / std::sqrt(step.precision);
    return change;
}

RobustStep robust_step(std::span<double const> values, std::span<double const> sds,
                       StepNuisance const& nuisance, std::size_t first_after, bool ramp)
{
    auto const share = [&](std::size_t i) {
        if (i < first_after) return 0.0;
        return ramp ? static_cast<double>(i + 1 - first_after) /
                          static_cast<double>(values.size() - first_after)
                    : 1.0;
    };
    StepFit fit(values, sds, nuisance);
    std::vector<double> const whole = fit.weights();
    StepFit::Step step;
    std::vector<double> levels;
    // Huber's weights first, which converge from anywhere, then Tukey's, which ignore values that are far
    // off.
    for (int round = 0; round < 24; ++round) {
        StepFit::After after = fit.none();
        for (std::size_t i = first_after; i < values.size(); ++i) fit.include(after, i, share(i));
        StepFit::Step const now = fit.step(after);
        if (now.precision <= 0) break;
        bool const settled = round > 12 && std::abs(now.size - step.size) < 1e-6;
        step = now;
        if (settled) break;
        levels = fit.levels(after, step.size);
        std::vector<double> weight = whole;
        for (std::size_t i = 0; i < values.size(); ++i) {
            if (whole[i] == 0) continue;
            double const left = fit.residual(levels, i) - share(i) * step.size;
            double const z = std::abs(left) * std::sqrt(whole[i]);
            double const inside = std::max(0.0, 1 - z * z / (4.685 * 4.685));
            weight[i] *= round < 8 ? std::min(1.0, 1.345 / std::max(z, 1e-9)) : inside * inside;
        }
        fit.set_weights(std::move(weight));
    }
    if (levels.empty()) return {};
    double near = 0;
    double all = 0;
    for (std::size_t i = first_after; i < values.size(); ++i) {
        double const here = share(i) * step.size;
        if (whole[i] == 0 || share(i) < 0.5) continue;
        all += 1;
        double const moved = fit.residual(levels, i) / here;
        double const away = std::abs((moved - 1) * here);
        // A value further beyond the new level than the old level is shows something else, unless it is
        // noise.
        near += moved > 0.5 && away < std::max(0.5 * std::abs(here), 2 / std::sqrt(whole[i])) ? 1 : 0;
    }
    return {step.size, 1 / std::sqrt(step.precision), all > 0 ? near / all : 0};
}

} // namespace guidepin::watch
