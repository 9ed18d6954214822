// SPDX-License-Identifier: Apache-2.0
// Measurements that were copied from another link. Two links that were both measured differ in every fibre by
// their joints; a copy differs by a digit here and there. A k-d tree over all readings of a link finds near
// neighbours. Each pair is weighed against the chance that sound links come as near, with as many sources to
// copy from as there are links.
#include "base/hash.hpp"
#include "cause/inside.hpp"
#include "cause/kd_tree.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace guidepin::cause {

namespace {

constexpr double jitter = 0.0075; // of one copied value, dB: a step of 0.01 now and then
// Fibres of a copy whose lengths differ by the same amount as the others', and those whose do not.
constexpr double copied_equal_length = 0.9;
constexpr double copied_other_length = 0.1;
// Lengths alone neither prove nor rule out a copy: they add and take away this much of the log odds at most.
constexpr double most_for_by_lengths = 6;
constexpr double most_against_by_lengths = 3;
// The model is never surer than this.
constexpr double most_probable = 0.999;
// In metres: lengths are read to 0.1 m.
constexpr double same_length = 0.055;

/// Readings of one link as numbers whose copies differ by about 1.
struct Point
{
    std::vector<float> values;
    double log_scale = 0; ///< sum of the logarithms of what they were divided by
    std::string shape;    ///< links of equal shape can be compared
};

Point point_of(Columns const& columns, LinkRow const& row)
{
    Point point;
    if (row.kind == none) return point;
    LinkKind const& kind = columns.kinds[row.kind];
    auto const w_count = static_cast<double>(kind.wavelengths);
    double const d_count = (row.measured[0] ? 1 : 0) + (row.measured[1] ? 1 : 0);
    if (d_count == 0) return point;
    std::vector<float> steps, turns;
    double const base_sd = jitter / std::sqrt(w_count * d_count);
    double const step_sd = jitter * std::sqrt(2 / d_count);
    double const turn_sd = jitter * std::sqrt(2 / w_count);
    for (int p = 1; p <= row.positions; ++p) {
        double sum = 0;
        double step = 0;
        double direction[2] = {0, 0};
        bool whole = true;
        for (std::size_t d = 0; d < 2; ++d) {
            if (!row.measured[d]) continue;
            for (std::size_t w = 0; w < kind.wavelengths; ++w) {
                double const value = columns.loss_db[columns.cell(row, d, w, p)];
                whole = whole && std::isfinite(value);
                sum += value;
                direction[d] += value;
                if (w == 0) step -= value;
                if (w + 1 == kind.wavelengths) step += value;
            }
        }
        if (!whole) continue;
        point.shape += static_cast<char>(p);
        point.values.push_back(static_cast<float>(sum / (w_count * d_count) / base_sd));
        point.log_scale += std::log(base_sd);
        if (kind.wavelengths > 1) {
            steps.push_back(static_cast<float>(step / d_count / step_sd));
            point.log_scale += std::log(step_sd);
        }
        if (d_count > 1) {
            turns.push_back(static_cast<float>((direction[0] - direction[1]) / w_count / turn_sd));
            point.log_scale += std::log(turn_sd);
        }
    }
    if (point.values.size() < 6) return {};
    point.values.insert(point.values.end(), steps.begin(), steps.end());
    point.values.insert(point.values.end(), turns.begin(), turns.end());
    for (std::size_t w = 0; w < kind.wavelengths; ++w)
        point.shape += fmt::format(",{}", kind.wavelength_nm[w]);
    point.shape += row.measured[0] ? "a" : "";
    point.shape += row.measured[1] ? "b" : "";
    return point;
}

float radius_squared(std::size_t dimensions)
{
    auto const n = static_cast<double>(dimensions);
    return static_cast<float>(n + 5 * std::sqrt(2 * n));
}

/// Fibres whose lengths differ by the same amount in both links.
std::pair<int, int> equal_lengths(Columns const& columns, LinkRow const& a, LinkRow const& b)
{
    std::vector<double> differences;
    for (std::size_t p = 0; p < std::min(a.positions, b.positions); ++p) {
        double const x = columns.length_m[a.first_place + p];
        double const y = columns.length_m[b.first_place + p];
        if (std::isfinite(x) && std::isfinite(y)) differences.push_back(x - y);
    }
    if (differences.size() < 4) return {0, 0};
    std::vector<double> copy = differences;
    double const middle = median_of(copy);
    int equal = 0;
    for (double const d : differences) equal += std::abs(d - middle) < same_length ? 1 : 0;
    return {equal, static_cast<int>(differences.size())};
}

/// How often that happens to two links that were measured.
double natural_equality(Columns const& columns)
{
    double equal = 0;
    double all = 0;
    std::size_t const n = columns.links.size();
    for (std::size_t i = 0; i + 1 < n; i += std::max<std::size_t>(1, n / 200)) {
        auto const [same, of] = equal_lengths(columns, columns.links[i], columns.links[i + 1]);
        equal += same;
        all += of;
    }
    return all > 0 ? std::clamp(equal / all, 0.05, 0.98) : 0.98;
}

struct Pair
{
    std::uint32_t later, earlier;
    double log_odds;
    int equal, of; ///< lengths
};

/// Links whose readings have the same shape, so that they can be copies of each other.
struct ShapeGroup
{
    std::vector<std::uint32_t> links;
    std::vector<float> values;
    std::vector<double> log_scale;
    std::size_t dimensions = 0;
};

class CopyFindings
{
  public:
    CopyFindings(Explainer::Site const& site, std::vector<Finding>& findings)
        : site_(site)
        , columns_(*site.columns)
        , findings_(findings)
    {
    }

    void report()
    {
        group_by_shape();
        equality_ = natural_equality(columns_);
        for (auto const& shape_and_group : groups_) pair_all(shape_and_group.second);
        std::sort(pairs_.begin(), pairs_.end(), [](Pair const& a, Pair const& b) {
            return a.later != b.later ? a.later < b.later : a.earlier < b.earlier;
        });
        for (Pair const& pair : pairs_) report_pair(pair);
    }

  private:
    void group_by_shape()
    {
        for (std::uint32_t link = 0; link < columns_.links.size(); ++link) {
            Point point = point_of(columns_, columns_.links[link]);
            if (point.values.empty()) continue;
            ShapeGroup& group = groups_[point.shape];
            group.dimensions = point.values.size();
            group.links.push_back(link);
            group.log_scale.push_back(point.log_scale);
            group.values.insert(group.values.end(), point.values.begin(), point.values.end());
        }
    }

    void pair_all(ShapeGroup const& group)
    {
        KdTree const tree(group.values, group.dimensions);
        float const radius = radius_squared(group.dimensions);
        auto const sources = static_cast<double>(group.links.size());
        for (std::uint32_t i = 0; i < group.links.size(); ++i) {
            tree.near(i, radius, [&](std::uint32_t other, float distance) {
                weigh(group, i, other, distance, sources);
            });
        }
    }

    bool was_before(std::uint32_t x, std::uint32_t y) const
    {
        auto const tx = columns_.links[x].taken_ms;
        auto const ty = columns_.links[y].taken_ms;
        return tx != ty ? tx < ty : x < y;
    }

    /// Keeps the pair if a copy is likelier than chance. `sources`: links that one could have copied from.
    void weigh(ShapeGroup const& group, std::uint32_t i, std::uint32_t k, float distance, double sources)
    {
        std::uint32_t const a = group.links[i];
        std::uint32_t const b = group.links[k];
        double const copied = -0.5 * distance -
                              0.5 * static_cast<double>(group.dimensions) * std::log(2 * 3.14159265358979) -
                              group.log_scale[i];
        // The one that was copied is the more ordinary of two sound links, to be fair to both.
        double const natural = std::max(site_.natural_log_density(a), site_.natural_log_density(b));
        auto const [equal, of] = equal_lengths(columns_, columns_.links[a], columns_.links[b]);
        double const lengths = equal * std::log(copied_equal_length / equality_) +
                               (of - equal) * std::log(copied_other_length / (1 - equality_));
        double const rate = site_.priors->rate_of(Cause::copied_measurement);
        double const odds = copied - natural + std::log(rate / sources) +
                            std::clamp(lengths, -most_against_by_lengths, most_for_by_lengths);
        if (!(odds > 0)) return;
        bool const a_first = was_before(a, b);
        pairs_.push_back({a_first ? b : a, a_first ? a : b, odds, equal, of});
    }

    struct Difference
    {
        double most = 0;
        int readings = 0;
    };
    Difference difference_of(Pair const& pair) const
    {
        LinkRow const& a = columns_.links[pair.later];
        LinkRow const& b = columns_.links[pair.earlier];
        std::size_t const wavelengths = site_.kind_of(pair.later).wavelengths;
        Difference difference;
        for (std::size_t d = 0; d < 2; ++d) {
            for (std::size_t w = 0; w < wavelengths && a.measured[d] && b.measured[d]; ++w) {
                for (int p = 1; p <= a.positions; ++p) {
                    double const x = columns_.loss_db[columns_.cell(a, d, w, p)];
                    double const y = columns_.loss_db[columns_.cell(b, d, w, p)];
                    if (!std::isfinite(x) || !std::isfinite(y)) continue;
                    difference.most = std::max(difference.most, std::abs(x - y));
                    ++difference.readings;
                }
            }
        }
        return difference;
    }

    void report_pair(Pair const& pair)
    {
        double const probability = 1 / (1 + std::exp(-pair.log_odds));
        if (probability < site_.priors->report_from) return;
        LinkRow const& a = columns_.links[pair.later];
        Finding finding;
        finding.cause = Cause::copied_measurement;
        finding.links = {pair.later, pair.earlier};
        finding.since_ms = a.taken_ms;
        finding.probability = std::min(probability, most_probable);
        Difference const difference = difference_of(pair);
        finding.evidence = fmt::format(
            "All {} readings of {} lie within {:.2f} dB of those of {}, where fibres of two measured links "
            "differ by {:.2f} dB as a rule{}.",
            difference.readings, a.id, difference.most, columns_.links[pair.earlier].id,
            site_.populations[a.kind].fibre_sd * 1.414,
            pair.of > 0 ? fmt::format("; {} of {} lengths differ by the same amount", pair.equal, pair.of)
                        : "");
        site_.finish(finding, a.id);
        findings_.push_back(std::move(finding));
    }

    Explainer::Site const& site_;
    Columns const& columns_;
    std::vector<Finding>& findings_;
    std::map<std::string, ShapeGroup> groups_;
    double equality_ = 0;
    std::vector<Pair> pairs_;
};

} // namespace

void Explainer::Site::report_copies(std::vector<Finding>& findings) const
{
    CopyFindings(*this, findings).report();
}

} // namespace guidepin::cause
