// SPDX-License-Identifier: Apache-2.0
// Measurements that were copied from another link. Two links that were both measured differ in every fibre by
// their joints; a copy differs by a digit here and there. Near neighbours are found in a k-d tree over all
// readings of a link (Bentley, Commun. ACM 18 (1975), 509), which keeps the search near n log n; what is
// found is weighed against the chance that sound links come as near, with as many sources to copy from as
// there are links.
#include "base/hash.hpp"
#include "cause/inside.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace guidepin::cause {

namespace {

constexpr double jitter = 0.0075; // of one copied value, dB: a step of 0.01 now and then

/// Points of one dimension, found within a radius.
class Tree
{
  public:
    Tree(std::vector<float> const& values, std::size_t dimensions)
        : values_(values)
        , dimensions_(dimensions)
        , order_(values.size() / dimensions)
    {
        for (std::uint32_t i = 0; i < order_.size(); ++i) order_[i] = i;
        if (!order_.empty()) root_ = build(0, order_.size());
    }

    template <class Found>
    void near(std::uint32_t point, float radius_squared, Found const& found) const
    {
        std::vector<float> side(dimensions_, 0);
        if (!order_.empty()) visit(root_, point, radius_squared, 0, side, found);
    }

  private:
    struct Node
    {
        std::size_t first, last;
        std::size_t dimension = 0;
        float at = 0;
        int below = -1, above = -1;
    };

    float value(std::uint32_t point, std::size_t d) const { return values_[point * dimensions_ + d]; }

    int build(std::size_t first, std::size_t last)
    {
        int const index = static_cast<int>(nodes_.size());
        nodes_.push_back({first, last});
        if (last - first <= 12) return index;
        std::size_t widest = 0;
        float most = -1;
        std::size_t const stride = std::max<std::size_t>(1, (last - first) / 64);
        for (std::size_t d = 0; d < dimensions_; ++d) {
            float sum = 0;
            float squares = 0;
            float n = 0;
            for (std::size_t i = first; i < last; i += stride) {
                float const x = value(order_[i], d);
                sum += x;
                squares += x * x;
                n += 1;
            }
            float const variance = squares - sum * sum / n;
            if (variance > most) {
                most = variance;
                widest = d;
            }
        }
        std::size_t const middle = (first + last) / 2;
        std::nth_element(order_.begin() + static_cast<std::ptrdiff_t>(first),
                         order_.begin() + static_cast<std::ptrdiff_t>(middle),
                         order_.begin() + static_cast<std::ptrdiff_t>(last),
                         [&](std::uint32_t a, std::uint32_t b) {
                             float const x = value(a, widest);
                             float const y = value(b, widest);
                             return x != y ? x < y : a < b;
                         });
        float const at = value(order_[middle], widest);
        int const below = build(first, middle);
        int const above = build(middle, last);
        nodes_[static_cast<std::size_t>(index)].dimension = widest;
        nodes_[static_cast<std::size_t>(index)].at = at;
        nodes_[static_cast<std::size_t>(index)].below = below;
        nodes_[static_cast<std::size_t>(index)].above = above;
        return index;
    }

    template <class Found>
    void visit(int index, std::uint32_t point, float radius_squared, float box, std::vector<float>& side,
               Found const& found) const
    {
        Node const& node = nodes_[static_cast<std::size_t>(index)];
        if (node.below < 0) {
            for (std::size_t i = node.first; i < node.last; ++i) {
                std::uint32_t const other = order_[i];
                if (other >= point) continue; // each pair once
                float sum = 0;
                for (std::size_t d = 0; d < dimensions_ && sum <= radius_squared; ++d) {
                    float const x = value(point, d) - value(other, d);
                    sum += x * x;
                }
                if (sum <= radius_squared) found(other, sum);
            }
            return;
        }
        float const x = value(point, node.dimension) - node.at;
        visit(x < 0 ? node.below : node.above, point, radius_squared, box, side, found);
        // Squared distance to the box on the other side, one dimension at a time.
        float const before = side[node.dimension];
        float const further = box - before * before + x * x;
        if (further <= radius_squared) {
            side[node.dimension] = x;
            visit(x < 0 ? node.above : node.below, point, radius_squared, further, side, found);
            side[node.dimension] = before;
        }
    }

    std::vector<float> const& values_;
    std::size_t dimensions_;
    std::vector<std::uint32_t> order_;
    std::vector<Node> nodes_;
    int root_ = -1;
};

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

/// A quick look at the plain values, which lets through whatever radius_squared() would.
bool may_be_copy(Columns const& columns, std::uint32_t a, std::uint32_t b)
{
    LinkRow const& one = columns.links[a];
    LinkRow const& two = columns.links[b];
    if (two.kind == none || one.positions != two.positions || one.measured != two.measured) return false;
    std::size_t const wavelengths = columns.kinds[one.kind].wavelengths;
    if (columns.kinds[two.kind].wavelengths != wavelengths) return false;
    std::size_t const cells = 2 * wavelengths * one.positions;
    auto const bound = 2 * jitter * jitter * static_cast<double>(radius_squared(cells));
    double sum = 0;
    for (std::size_t i = 0; i < cells; ++i) {
        double const x = columns.loss_db[one.first_cell + i];
        double const y = columns.loss_db[two.first_cell + i];
        if (!std::isfinite(x) || !std::isfinite(y)) continue;
        sum += (x - y) * (x - y);
        if (sum > bound) return false;
    }
    return true;
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
    for (double const d : differences) equal += std::abs(d - middle) < 0.055 ? 1 : 0;
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
    double distance;
    int equal, of;
};

} // namespace

void Explainer::Site::tell_copies(std::vector<Finding>& findings) const
{
    tell_copies_of(findings, none);
}

void Explainer::Site::tell_copies_of(std::vector<Finding>& findings, std::uint32_t only) const
{
    struct Group
    {
        std::vector<std::uint32_t> links;
        std::vector<float> values;
        std::vector<double> log_scale;
        std::size_t dimensions = 0;
    };
    std::map<std::string, Group> groups;
    Point const wanted = only == none ? Point{} : point_of(*columns, columns->links[only]);
    if (only != none && wanted.values.empty()) return;
    for (std::uint32_t link = 0; link < columns->links.size(); ++link) {
        if (only != none && link != only && !may_be_copy(*columns, only, link)) continue;
        Point point = point_of(*columns, columns->links[link]);
        if (point.values.empty() || (only != none && point.shape != wanted.shape)) continue;
        Group& group = groups[point.shape];
        group.dimensions = point.values.size();
        group.links.push_back(link);
        group.log_scale.push_back(point.log_scale);
        group.values.insert(group.values.end(), point.values.begin(), point.values.end());
    }
    double const equality = natural_equality(*columns);
    double const rate = priors->rate[static_cast<std::size_t>(Cause::copied_measurement)];
    std::vector<Pair> pairs;
    for (auto const& shape_and_group : groups) {
        Group const& group = shape_and_group.second; // clang 14 captures no structured binding
        float const radius = radius_squared(group.dimensions);
        auto const sources = static_cast<double>(only == none ? group.links.size() : columns->links.size());
        auto const weigh = [&](std::uint32_t i, std::uint32_t k, float distance) {
            std::uint32_t const a = group.links[i];
            std::uint32_t const b = group.links[k];
            auto const before = [&](std::uint32_t x, std::uint32_t y) {
                auto const tx = columns->links[x].taken_ms;
                auto const ty = columns->links[y].taken_ms;
                return tx != ty ? tx < ty : x < y;
            };
            std::uint32_t const earlier = before(a, b) ? a : b;
            std::uint32_t const later = earlier == a ? b : a;
            double const copied =
                -0.5 * distance -
                0.5 * static_cast<double>(group.dimensions) * std::log(2 * 3.14159265358979) -
                group.log_scale[i];
            // The one that was copied is the more ordinary of two sound links, to be fair to both.
            double const natural = std::max(natural_log_density(a), natural_log_density(b));
            auto const [equal, of] = equal_lengths(*columns, columns->links[a], columns->links[b]);
            double const lengths =
                equal * std::log(0.9 / equality) + (of - equal) * std::log(0.1 / (1 - equality));
            double const odds = copied - natural + std::log(rate / sources) + std::clamp(lengths, -3.0, 6.0);
            if (odds > 0) pairs.push_back({later, earlier, odds, distance, equal, of});
        };
        if (only == none) {
            Tree const tree(group.values, group.dimensions);
            for (std::uint32_t i = 0; i < group.links.size(); ++i) {
                tree.near(i, radius, [&](std::uint32_t other, float distance) { weigh(i, other, distance); });
            }
        } else {
            auto const place = static_cast<std::uint32_t>(
                std::find(group.links.begin(), group.links.end(), only) - group.links.begin());
            for (std::uint32_t i = 0; i < group.links.size(); ++i) {
                if (i == place) continue;
                float sum = 0;
                for (std::size_t d = 0; d < group.dimensions && sum <= radius; ++d) {
                    float const x =
                        group.values[place * group.dimensions + d] - group.values[i * group.dimensions + d];
                    sum += x * x;
                }
                if (sum <= radius) weigh(place, i, sum);
            }
        }
    }
    std::sort(pairs.begin(), pairs.end(), [](Pair const& a, Pair const& b) {
        return a.later != b.later ? a.later < b.later : a.earlier < b.earlier;
    });
    for (Pair const& pair : pairs) {
        double const probability = 1 / (1 + std::exp(-pair.log_odds));
        if (probability < priors->report_from) continue;
        Finding finding;
        finding.cause = Cause::copied_measurement;
        finding.links = {pair.later, pair.earlier};
        finding.since_ms = columns->links[pair.later].taken_ms;
        finding.probability = std::min(probability, 0.999);
        finding.reference = none;
        LinkRow const& a = columns->links[pair.later];
        LinkRow const& b = columns->links[pair.earlier];
        LinkKind const& kind = kind_of(pair.later);
        double most = 0;
        int readings = 0;
        for (std::size_t d = 0; d < 2; ++d) {
            for (std::size_t w = 0; w < kind.wavelengths && a.measured[d] && b.measured[d]; ++w) {
                for (int p = 1; p <= a.positions; ++p) {
                    double const x = columns->loss_db[columns->cell(a, d, w, p)];
                    double const y = columns->loss_db[columns->cell(b, d, w, p)];
                    if (!std::isfinite(x) || !std::isfinite(y)) continue;
                    most = std::max(most, std::abs(x - y));
                    ++readings;
                }
            }
        }
        finding.evidence = fmt::format(
            "All {} readings of {} lie within {:.2f} dB of those of {}, where fibres of two measured links "
            "differ by {:.2f} dB as a rule{}.",
            readings, a.id, most, b.id, populations[a.kind].fibre_sd * 1.414,
            pair.of > 0 ? fmt::format("; {} of {} lengths differ by the same amount", pair.equal, pair.of)
                        : "");
        finish(finding, a.id);
        findings.push_back(std::move(finding));
    }
}

} // namespace guidepin::cause
