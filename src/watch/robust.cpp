// SPDX-License-Identifier: Apache-2.0
#include "watch/robust.hpp"

#include "loss/distribution.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>

#include <fmt/format.h>

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

struct Moments
{
    double mean = 0;
    double sd = 0;
};

Moments moments_of(std::span<double const> values)
{
    double sum = 0;
    for (double const value : values) sum += value;
    Moments moments{sum / static_cast<double>(values.size()), 0};
    double squares = 0;
    for (double const value : values) squares += (value - moments.mean) * (value - moments.mean);
    moments.sd = std::sqrt(squares / static_cast<double>(values.size() - 1));
    return moments;
}

std::size_t furthest(std::span<double const> values, double from)
{
    std::size_t best = 0;
    for (std::size_t i = 1; i < values.size(); ++i)
        if (std::abs(values[i] - from) > std::abs(values[best] - from)) best = i;
    return best;
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

std::vector<double> modified_z_scores(std::span<double const> values)
{
    double const centre = median(values);
    double const mad = median_absolute_deviation(values);
    std::vector<double> scores;
    scores.reserve(values.size());
    for (double const value : values) {
        double const away = value - centre;
        scores.push_back(away == 0 ? 0 : 0.6745 * away / mad);
    }
    return scores;
}

double grubbs_critical(std::size_t n, double alpha, bool two_sided)
{
    assert(n >= 3);
    auto const count = static_cast<double>(n);
    double const t = loss::student_t_quantile(1 - alpha / ((two_sided ? 2 : 1) * count), count - 2);
    return (count - 1) / std::sqrt(count) * std::sqrt(t * t / (count - 2 + t * t));
}

Result<GrubbsTest> grubbs_test(std::span<double const> values, double alpha)
{
    auto const kept = present(values);
    if (kept.size() < 3)
        return Error{Errc::invalid_input,
                     fmt::format("Grubbs' test needs at least 3 values; there are {}.", kept.size())};
    auto const moments = moments_of(kept);
    if (!(moments.sd > 0))
        return Error{Errc::invalid_input, "Grubbs' test needs values that are not all equal."};
    GrubbsTest test;
    for (std::size_t i = 0; i < values.size(); ++i)
        if (double const away = std::abs(values[i] - moments.mean) / moments.sd; away > test.statistic) {
            test.statistic = away;
            test.index = i;
        }
    test.critical_one_sided = grubbs_critical(kept.size(), alpha, false);
    test.critical_two_sided = grubbs_critical(kept.size(), alpha, true);
    return test;
}

Result<EsdTest> esd_test(std::span<double const> values, std::size_t most, double alpha)
{
    std::vector<double> left;
    std::vector<std::size_t> index;
    for (std::size_t i = 0; i < values.size(); ++i)
        if (!std::isnan(values[i])) {
            left.push_back(values[i]);
            index.push_back(i);
        }
    auto const n = static_cast<double>(left.size());
    if (left.size() < most + 3)
        return Error{Errc::invalid_input,
                     fmt::format("A test for up to {} outliers needs at least {} values; there are {}.", most,
                                 most + 3, left.size())};
    EsdTest test;
    for (std::size_t step = 1; step <= most; ++step) {
        auto const moments = moments_of(left);
        std::size_t const worst = furthest(left, moments.mean);
        auto const i = static_cast<double>(step);
        double const df = n - i - 1;
        double const t = loss::student_t_quantile(1 - alpha / (2 * (n - i + 1)), df);
        test.statistic.push_back(moments.sd > 0 ? std::abs(left[worst] - moments.mean) / moments.sd : 0);
        test.critical.push_back((n - i) * t / std::sqrt((df + t * t) * (n - i + 1)));
        test.removed.push_back(index[worst]);
        if (test.statistic.back() > test.critical.back()) test.outliers = step;
        left.erase(left.begin() + static_cast<std::ptrdiff_t>(worst));
        index.erase(index.begin() + static_cast<std::ptrdiff_t>(worst));
    }
    return test;
}

Result<RobustLine> theil_sen(std::span<double const> x, std::span<double const> y, double confidence)
{
    assert(x.size() == y.size());
    std::vector<double> slopes;
    std::vector<double> xs;
    std::vector<double> ys;
    for (std::size_t i = 0; i < x.size(); ++i)
        if (!std::isnan(x[i]) && !std::isnan(y[i])) {
            xs.push_back(x[i]);
            ys.push_back(y[i]);
        }
    for (std::size_t i = 0; i < xs.size(); ++i)
        for (std::size_t j = i + 1; j < xs.size(); ++j)
            if (xs[i] != xs[j]) slopes.push_back((ys[j] - ys[i]) / (xs[j] - xs[i]));
    if (slopes.empty())
        return Error{Errc::invalid_input, "A slope needs values at two different places at least."};
    std::sort(slopes.begin(), slopes.end());
    RobustLine line;
    line.slope = median(slopes);
    std::vector<double> rest(xs.size());
    for (std::size_t i = 0; i < xs.size(); ++i) rest[i] = ys[i] - line.slope * xs[i];
    line.intercept = median_in_place(rest);

    // Kendall's variance of the count of concordant pairs, with groups of equal x and of equal y taken out.
    auto const pairs_variance = [](double n) { return n * (n - 1) * (2 * n + 5); };
    double variance = pairs_variance(static_cast<double>(xs.size()));
    for (auto* column : {&xs, &ys}) {
        std::sort(column->begin(), column->end());
        for (std::size_t i = 0; i < column->size();) {
            std::size_t j = i;
            while (j < column->size() && (*column)[j] == (*column)[i]) ++j;
            variance -= pairs_variance(static_cast<double>(j - i));
            i = j;
        }
    }
    double const reach =
        loss::normal_quantile(0.5 + confidence / 2) * std::sqrt(std::max(variance, 0.0) / 18);
    auto const count = static_cast<double>(slopes.size());
    double const low = std::clamp(std::nearbyint((count - reach) / 2) - 1, 0.0, count - 1);
    double const high = std::clamp(std::nearbyint((count + reach) / 2), 0.0, count - 1);
    line.slope_low = slopes[static_cast<std::size_t>(low)];
    line.slope_high = slopes[static_cast<std::size_t>(high)];
    return line;
}

double hodges_lehmann(std::span<double const> values)
{
    auto const kept = present(values);
    std::vector<double> means;
    means.reserve(kept.size() * (kept.size() + 1) / 2);
    for (std::size_t i = 0; i < kept.size(); ++i)
        for (std::size_t j = i; j < kept.size(); ++j) means.push_back((kept[i] + kept[j]) / 2);
    return median_in_place(means);
}

double huber_location(std::span<double const> values, double sd, double k)
{
    double location = median(values);
    if (!(sd > 0) || std::isnan(location)) return location;
    // Newton steps on a piecewise linear, monotone equation: exact once the set of clipped values stands.
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

double huber_location(std::span<double const> values)
{
    return huber_location(values, mad_to_sd * median_absolute_deviation(values));
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

TwoWayTable median_polish(std::span<double const> values, std::size_t rows, std::size_t columns)
{
    assert(values.size() == rows * columns);
    TwoWayTable table;
    table.rows = rows;
    table.columns = columns;
    table.row.assign(rows, 0);
    table.column.assign(columns, 0);
    table.residual.assign(values.begin(), values.end());

    std::vector<double> line;
    auto const middle_of_line = [&] {
        double const middle = median_in_place(line);
        line.clear();
        return std::isnan(middle) ? 0.0 : middle;
    };
    // The middle of the effects themselves belongs to the overall value.
    auto const centre = [&](std::vector<double>& effects) {
        double const middle = median(effects);
        if (std::isnan(middle)) return;
        for (auto& effect : effects) effect -= middle;
        table.overall += middle;
    };
    double before = 0;
    for (int round = 1; round <= 10; ++round) {
        for (std::size_t r = 0; r < rows; ++r) {
            for (std::size_t c = 0; c < columns; ++c)
                if (double const e = table.residual[r * columns + c]; !std::isnan(e)) line.push_back(e);
            double const middle = middle_of_line();
            for (std::size_t c = 0; c < columns; ++c) table.residual[r * columns + c] -= middle;
            table.row[r] += middle;
        }
        centre(table.column);
        for (std::size_t c = 0; c < columns; ++c) {
            for (std::size_t r = 0; r < rows; ++r)
                if (double const e = table.residual[r * columns + c]; !std::isnan(e)) line.push_back(e);
            double const middle = middle_of_line();
            for (std::size_t r = 0; r < rows; ++r) table.residual[r * columns + c] -= middle;
            table.column[c] += middle;
        }
        centre(table.row);
        double sum = 0;
        for (double const e : table.residual)
            if (!std::isnan(e)) sum += std::abs(e);
        table.rounds = round;
        if (sum == 0 || std::abs(sum - before) <= 0.01 * sum) break;
        before = sum;
    }
    return table;
}

} // namespace guidepin::watch
