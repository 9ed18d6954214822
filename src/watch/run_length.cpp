// SPDX-License-Identifier: Apache-2.0
// Average run lengths: the integral equations of the charts, solved at Gauss-Legendre nodes.
#include "watch/charts.hpp"

#include "loss/distribution.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>
#include <utility>

namespace guidepin::watch {

namespace {

constexpr std::size_t node_count = 120;

struct Rule
{
    std::vector<double> node;
    std::vector<double> weight;
};

// Gauss-Legendre on (-1, 1): roots of P_n by Newton from Tricomi's estimate.
Rule legendre_rule(std::size_t n)
{
    Rule rule{std::vector<double>(n), std::vector<double>(n)};
    auto const count = static_cast<double>(n);
    for (std::size_t i = 0; i < n; ++i) {
        double x = std::cos(std::numbers::pi * (static_cast<double>(n - i) - 0.25) / (count + 0.5));
        double slope = 1;
        for (int round = 0; round < 100; ++round) {
            double p = 1;
            double before = 0;
            for (std::size_t j = 0; j < n; ++j) {
                auto const degree = static_cast<double>(j);
                double const next = ((2 * degree + 1) * x * p - degree * before) / (degree + 1);
                before = std::exchange(p, next);
            }
            slope = count * (x * p - before) / (x * x - 1);
            double const step = p / slope;
            x -= step;
            if (std::abs(step) < 1e-15) break;
        }
        rule.node[i] = x;
        rule.weight[i] = 2 / ((1 - x * x) * slope * slope);
    }
    return rule;
}

Rule const& rule()
{
    static Rule const kept = legendre_rule(node_count);
    return kept;
}

// Solves a x = b in place (row by row), with partial pivoting.
std::vector<double> solved(std::vector<double> a, std::vector<double> b)
{
    std::size_t const n = b.size();
    for (std::size_t k = 0; k < n; ++k) {
        std::size_t pivot = k;
        for (std::size_t i = k + 1; i < n; ++i)
            if (std::abs(a[i * n + k]) > std::abs(a[pivot * n + k])) pivot = i;
        if (pivot != k) {
            for (std::size_t j = k; j < n; ++j) std::swap(a[k * n + j], a[pivot * n + j]);
            std::swap(b[k], b[pivot]);
        }
        for (std::size_t i = k + 1; i < n; ++i) {
            double const factor = a[i * n + k] / a[k * n + k];
            if (factor == 0) continue;
            for (std::size_t j = k; j < n; ++j) a[i * n + j] -= factor * a[k * n + j];
            b[i] -= factor * b[k];
        }
    }
    for (std::size_t k = n; k-- > 0;) {
        for (std::size_t j = k + 1; j < n; ++j) b[k] -= a[k * n + j] * b[j];
        b[k] /= a[k * n + k];
    }
    return b;
}

// The limit for which arl(limit) == arl0, sought upwards from `low`. The logarithm of a run length is nearly
// a straight line in its limit, so false position with halving (the Illinois rule) needs a handful of
// solutions; bisection needs forty. It avoids run lengths far above arl0, where the equations lose their
// digits.
template <class Arl>
double limit_for(Arl arl, double arl0, double low)
{
    double below = std::log(arl(low) / arl0);
    if (below >= 0) return low;
    double high = low;
    double above = below;
    while (above < 0) {
        low = std::exchange(high, high * 1.3);
        below = std::exchange(above, std::log(arl(high) / arl0));
    }
    int side = 0;
    double limit = high;
    for (int round = 0; round < 60; ++round) {
        double const next = low + (high - low) * below / (below - above);
        double const miss = std::log(arl(next) / arl0);
        bool const settled = std::abs(next - limit) < 1e-11;
        limit = next;
        if (settled || miss == 0) break;
        if (miss < 0) {
            low = next;
            below = miss;
            if (std::exchange(side, -1) == -1) above /= 2;
        } else {
            high = next;
            above = miss;
            if (std::exchange(side, 1) == 1) below /= 2;
        }
    }
    return limit;
}

} // namespace

double ewma_arl(double lambda, double L, double shift, double start)
{
    // N(z) = 1 + (1/lambda) int_{-h}^{h} N(y) phi((y - (1 - lambda) z)/lambda - shift) dy
    double const h = L * std::sqrt(lambda / (2 - lambda));
    auto const kernel = [&](double from, double to) {
        return loss::normal_density((to - (1 - lambda) * from) / lambda - shift) / lambda;
    };
    auto const& node = rule().node;
    auto const& weight = rule().weight;
    std::size_t const n = node.size();
    std::vector<double> a(n * n);
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = 0; j < n; ++j)
            a[i * n + j] = (i == j ? 1.0 : 0.0) - h * weight[j] * kernel(h * node[i], h * node[j]);
    auto const run = solved(std::move(a), std::vector<double>(n, 1));
    double arl = 1;
    for (std::size_t j = 0; j < n; ++j) arl += h * weight[j] * kernel(start, h * node[j]) * run[j];
    return arl;
}

double cusum_arl_one_sided(double k, double h, double shift, double head_start)
{
    // N(s) = 1 + N(0) Phi(k - shift - s) + int_0^h N(y) phi(y + k - shift - s) dy; unknowns N(nodes), then
    // N(0).
    auto const& node = rule().node;
    auto const& weight = rule().weight;
    std::size_t const n = node.size();
    std::size_t const m = n + 1;
    std::vector<double> place(m, 0);
    for (std::size_t i = 0; i < n; ++i) place[i] = h * (1 + node[i]) / 2;
    auto const share = [&](double from, std::size_t j) {
        return j < n ? h / 2 * weight[j] * loss::normal_density(place[j] + k - shift - from)
                     : loss::normal_cdf(k - shift - from);
    };
    std::vector<double> a(m * m);
    for (std::size_t i = 0; i < m; ++i)
        for (std::size_t j = 0; j < m; ++j) a[i * m + j] = (i == j ? 1.0 : 0.0) - share(place[i], j);
    auto const run = solved(std::move(a), std::vector<double>(m, 1));
    double arl = 1;
    for (std::size_t j = 0; j < m; ++j) arl += share(head_start, j) * run[j];
    return arl;
}

double cusum_arl(double k, double h, double shift, double head_start)
{
    double const up = cusum_arl_one_sided(k, h, shift);
    double const down = cusum_arl_one_sided(k, h, -shift);
    if (head_start == 0) return up * down / (up + down);
    double const up_ahead = cusum_arl_one_sided(k, h, shift, head_start);
    double const down_ahead = cusum_arl_one_sided(k, h, -shift, head_start);
    return (up_ahead * down + down_ahead * up - up * down) / (up + down);
}

double ewma_limit_for(double lambda, double arl0)
{
    return limit_for([&](double L) { return ewma_arl(lambda, L, 0); }, arl0, 1);
}

double cusum_limit_for(double k, double arl0, double head_start_share)
{
    return limit_for([&](double h) { return cusum_arl(k, h, 0, head_start_share * h); }, arl0, 0.5);
}

} // namespace guidepin::watch
