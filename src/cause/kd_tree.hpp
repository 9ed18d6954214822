// SPDX-License-Identifier: Apache-2.0
// A k-d tree (Bentley, Commun. ACM 18 (1975), 509), which keeps the search for near pairs close to n log n.
// Inside this room only. Verified by: tests/unit/cause/explainer.cpp (copies of simulated sites).
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace guidepin::cause {

/// Finds the points within a radius of another. Keeps a reference to the values: point after point, each with
/// as many numbers as there are dimensions.
class KdTree
{
  public:
    KdTree(std::vector<float> const& values, std::size_t dimensions)
        : values_(values)
        , dimensions_(dimensions)
        , order_(values.size() / dimensions)
    {
        for (std::uint32_t i = 0; i < order_.size(); ++i) order_[i] = i;
        if (!order_.empty()) root_ = build(0, order_.size());
    }

    /// Calls `found(other, squared distance)` for the points before this one.
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

} // namespace guidepin::cause
