// SPDX-License-Identifier: Apache-2.0
#include "cause/series_fit.hpp"

#include "cause/inside.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

namespace guidepin::cause {

namespace {

// Chosen on simulated sites: docs/methods/causes.md.
constexpr double change_sd = 0.25;        // of a drift's size, before it is seen
constexpr double cord_sd = 0.6;           // of what a dirty cord position loses
constexpr double natural_position = 0.03; // by which positions of a sound reference differ
// A link whose level departs this far from its neighbours is its own fault's.
constexpr double outlying_sds = 3;
// One link in twenty is anything: flat over about 3 dB.
constexpr double outlier_share = 0.05;
constexpr double outlier_density = 0.3;
// With fewer links a start and a size cannot be distinguished from chance.
constexpr std::size_t least_links_for_change = 8;
constexpr std::size_t least_links_for_cord = 5;

/// One form of change from one link on.
struct Change
{
    double log_factor, size, u;
    std::size_t from;
    bool ramp;
};

/// `sxy` and `sxx`: the form's products with the series and with itself, about their means.
Change weighed_change(double sxy, double sxx, double sd)
{
    double const size = sxy / sxx;
    double const v = sd * sd / sxx;
    double const big = change_sd * change_sd;
    return {0.5 * (size * size / v * big / (big + v) - std::log1p(big / v)), size, std::sqrt(v), 0, false};
}

std::vector<Change> weighed_changes(std::vector<double> const& series, double sd)
{
    std::size_t const n = series.size();
    std::size_t const stride = std::max<std::size_t>(1, n / 200);
    double const mean = std::accumulate(series.begin(), series.end(), 0.0) / static_cast<double>(n);
    std::vector<double> suffix(n + 1, 0);
    for (std::size_t i = n; i-- > 0;) suffix[i] = suffix[i + 1] + series[i] - mean;
    std::vector<Change> changes;
    for (std::size_t k = 2; k + 2 <= n; k += stride) {
        auto const m = static_cast<double>(n - k);
        auto const all = static_cast<double>(n);
        auto const add = [&](double sxy, double sxx, bool ramp) {
            Change change = weighed_change(sxy, sxx, sd);
            change.from = k;
            change.ramp = ramp;
            changes.push_back(change);
        };
        // Step: x is 1 from k on, less its mean.
        add(suffix[k], m * (all - m) / all, false);
        // Ramp: rises evenly from k to 1 at the end.
        double running = 0;
        for (std::size_t i = k; i < n; ++i) running += suffix[i];
        double const sum = (m + 1) / 2;
        double const squares = (m + 1) * (2 * m + 1) / (6 * m);
        add(running / m, squares - sum * sum / all, true);
    }
    return changes;
}

/// Puts in the interval that holds nine tenths of the probability over the start, of the better form.
void add_interval(ChangeFit& fit, std::vector<Change> const& changes, Change const& top)
{
    std::vector<std::pair<std::size_t, double>> mass;
    double sum = 0;
    for (Change const& c : changes) {
        if (c.ramp != top.ramp) continue;
        mass.emplace_back(c.from, std::exp(c.log_factor - top.log_factor));
        sum += mass.back().second;
    }
    double running = 0;
    fit.earliest = mass.front().first;
    fit.latest = mass.back().first;
    for (auto const& [from, weight] : mass) {
        if (running < 0.05 * sum) fit.earliest = from;
        if (running < 0.95 * sum) fit.latest = from;
        running += weight;
    }
}

} // namespace

std::vector<double> cleaned(std::vector<double> const& series, double sd)
{
    std::vector<double> clean = series;
    std::vector<double> near;
    auto const n = static_cast<std::ptrdiff_t>(series.size());
    for (std::ptrdiff_t i = 0; i < n; ++i) {
        near.clear();
        for (std::ptrdiff_t k = std::max<std::ptrdiff_t>(0, i - 3); k <= std::min(n - 1, i + 3); ++k)
            near.push_back(series[static_cast<std::size_t>(k)]);
        double const middle = median_of(near);
        auto const at = static_cast<std::size_t>(i);
        if (std::abs(series[at] - middle) > outlying_sds * sd) clean[at] = middle;
    }
    return clean;
}

double mixture_log(double x, double sd)
{
    double const z = x / sd;
    return std::log((1 - outlier_share) * std::exp(-0.5 * z * z) / (sd * 2.5066) +
                    outlier_share * outlier_density);
}

ChangeFit fit_change(std::vector<double> const& series, double sd)
{
    ChangeFit best;
    if (series.size() < least_links_for_change) return best;
    std::vector<Change> const changes = weighed_changes(series, sd);
    std::vector<double> logs;
    for (Change const& c : changes) logs.push_back(c.log_factor);
    best.log_factor = log_sum(logs) - std::log(static_cast<double>(changes.size()));
    Change const* top = &changes.front();
    for (Change const& c : changes) {
        if (c.log_factor > top->log_factor) top = &c;
    }
    best.size = top->size;
    best.u = top->u;
    best.from = top->from;
    best.ramp = top->ramp;
    add_interval(best, changes, *top);
    return best;
}

CordFit fit_cord(std::vector<double> const& series, std::vector<std::size_t> const& index, double sd)
{
    CordFit best;
    std::size_t const n = series.size();
    if (n < least_links_for_cord) return best;
    std::vector<double> const clean = cleaned(series, sd);
    double const var = sd * sd;
    double const sound = natural_position * natural_position;
    double const big = cord_sd * cord_sd;
    std::vector<double> logs;
    double sum = 0;
    double most = -1e9;
    std::size_t const stride = std::max<std::size_t>(1, n / 100);
    for (std::size_t i = n; i-- > 0;) {
        sum += clean[i];
        if (n - i < 3 || (i % stride != 0 && i != 0)) continue;
        auto const m = static_cast<double>(n - i);
        double const mean = sum / m;
        double const v = var / m;
        // Against a sound cord, whose positions differ a little from the first link on.
        double const whole = log_normal(mean, v + sound + big) - log_normal(mean, v + sound);
        double const here = whole + std::log(i == 0 ? 0.5 : 0.5 / static_cast<double>(n / stride));
        logs.push_back(here);
        if (here > most) {
            most = here;
            best.size = mean * big / (big + v + sound);
            best.u = std::sqrt(v + sound);
            best.from = index[i];
        }
    }
    if (logs.empty()) return best;
    // Where it began, and whether the raw series bears it out: the start that gains most.
    double gain = 0;
    double gate = -1e9;
    for (std::size_t i = n; i-- > 0;) {
        gain += mixture_log(series[i] - best.size, sd) - mixture_log(series[i], sd);
        if (gain > gate) {
            gate = gain;
            best.from = index[i];
        }
    }
    best.log_factor = std::min(log_sum(logs), gate - 0.5 * std::log(static_cast<double>(n)));
    return best;
}

} // namespace guidepin::cause
