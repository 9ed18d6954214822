// SPDX-License-Identifier: Apache-2.0
#include "watch/robust.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

namespace guidepin::watch {

namespace {

constexpr double no_value = std::numeric_limits<double>::quiet_NaN();

std::vector<double> present(std::span<double const> values)
{
    std::vector<double> kept;
    kept.reserve(values.size());
    for (double const value : values)
        if (!std::isnan(value)) kept.push_back(value);
    return kept;
}

} // namespace

double median_in_place(std::span<double> values)
{
    if (values.empty()) return no_value;
    auto const middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    if (values.size() % 2 == 1) return *middle;
    return (*std::max_element(values.begin(), middle) + *middle) / 2;
}

double median(std::span<double const> values)
{
    auto kept = present(values);
    return median_in_place(kept);
}

double median_absolute_deviation(std::span<double const> values)
{
    auto kept = present(values);
    double const centre = median_in_place(kept);
    for (auto& value : kept) value = std::abs(value - centre);
    return median_in_place(kept);
}

double huber_location(std::span<double const> values, double sd, double k)
{
    double location = median(values);
    if (!(sd > 0) || std::isnan(location)) return location;
    // Newton steps on a piecewise linear, monotone equation: exact once the set of clipped values is final.
    for (int round = 0; round < 50; ++round) {
        double pull = 0;
        double inside = 0;
        for (double const value : values) {
            if (std::isnan(value)) continue;
            double const z = (value - location) / sd;
            pull += std::clamp(z, -k, k);
            if (std::abs(z) <= k) inside += 1;
        }
        if (inside == 0) break;
        double const step = sd * pull / inside;
        location += step;
        if (std::abs(step) <= 1e-12 * sd) break;
    }
    return location;
}

double biweight_location(std::span<double const> values, double sd, double c)
{
    double location = huber_location(values, sd);
    if (!(sd > 0) || std::isnan(location)) return location;
    for (int round = 0; round < 20; ++round) {
        double pull = 0;
        double weights = 0;
        for (double const value : values) {
            double const z = (value - location) / (c * sd);
            if (!(std::abs(z) < 1)) continue; // holes too
            double const weight = (1 - z * z) * (1 - z * z);
            pull += weight * z;
            weights += weight;
        }
        if (weights <= 0) break;
        double const step = c * sd * pull / weights;
        location += step;
        if (std::abs(step) <= 1e-6 * sd) break;
    }
    return location;
}

} // namespace guidepin::watch
