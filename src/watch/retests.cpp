// SPDX-License-Identifier: Apache-2.0
#include "watch/retests.hpp"

#include <algorithm>
#include <bit>
#include <cassert>
#include <cmath>
#include <cstdint>

#include <fmt/format.h>

namespace guidepin::watch {

namespace {

// Weights are whole billionths, so that a smaller tree breaks its ties exactly as it did as a part of a
// larger one and the promise of "at most" holds from retest to retest.
using Weight = std::int64_t;
constexpr double whole_weight = 1e9;

// The best search tree over leaves in order: split(i, j) is the last leaf of the left part of leaves i … j.
struct SearchTree
{
    std::size_t leaves;
    std::vector<Weight> cost;
    std::vector<std::size_t> split;
    std::vector<std::size_t> depth;

    explicit SearchTree(std::vector<Weight> const& weight)
        : leaves(weight.size())
    {
        std::size_t const n = leaves;
        std::vector<Weight> sum(n + 1, 0);
        for (std::size_t i = 0; i < n; ++i) sum[i + 1] = sum[i] + weight[i];
        cost.assign(n * n, 0);
        split.assign(n * n, 0);
        depth.assign(n * n, 0);
        for (std::size_t i = 0; i < n; ++i) split[i * n + i] = i;
        for (std::size_t width = 2; width <= n; ++width)
            for (std::size_t i = 0; i + width <= n; ++i) {
                std::size_t const j = i + width - 1;
                // Knuth: the best split lies between those of the two next smaller ranges.
                std::size_t const from = split[i * n + (j - 1)];
                std::size_t const to = std::min(split[(i + 1) * n + j], j - 1);
                Weight best = 0;
                std::size_t at = n;
                std::size_t deep = 0;
                for (std::size_t k = from; k <= std::max(from, to) && k < j; ++k) {
                    Weight const c = cost[i * n + k] + cost[(k + 1) * n + j];
                    std::size_t const d = std::max(depth[i * n + k], depth[(k + 1) * n + j]);
                    if (at == n || c < best || (c == best && d < deep)) {
                        best = c;
                        at = k;
                        deep = d;
                    }
                }
                split[i * n + j] = at;
                cost[i * n + j] = best + sum[j + 1] - sum[i];
                depth[i * n + j] = deep + 1;
            }
    }
};

} // namespace

RetestPlan plan_retests(ChangePoint const& change, std::size_t links,
                        std::vector<RetestOutcome> const& outcomes, double false_alarm)
{
    assert(change.probability.size() == links && links > 0);
    RetestPlan plan;
    std::size_t low =
        change.earliest; // the first link affected is one of low … high; `links` stands for "none"
    std::size_t high = links;
    for (auto const& outcome : outcomes) {
        if (outcome.moved)
            high = std::min(high, outcome.link);
        else
            low = std::max(low, outcome.link + 1);
    }
    if (low > high) {
        plan.contradiction = true;
        plan.first_possible = change.earliest;
        plan.last_possible = links;
        for (std::size_t i = change.earliest; i < links; ++i) plan.undecided.push_back(i);
        plan.why =
            "A link that did not move was measured after one that did, so this is not a single change. "
            "All of them stay held. Take a new reference.";
        return plan;
    }
    plan.first_possible = low;
    plan.last_possible = high;
    for (std::size_t i = 0; i < links; ++i)
        (i < low ? plan.cleared : i >= high ? plan.condemned : plan.undecided).push_back(i);
    if (low == high) {
        plan.why =
            high == links
                ? "No link moved: the alarm was false, and all links are sound."
                : "The first affected link is known. Links before it are sound; measure the links from it on "
                  "again.";
        return plan;
    }

    // Leaves: every link that may be the first affected, by its posterior, and `high` (the last one possible,
    // or none at all). A floor keeps the tree shallow if the posterior is almost zero. If very many links
    // came after the interval, they are one leaf at first: nothing suggests a change among them.
    constexpr std::size_t most_leaves = 512;
    std::size_t const one_by_one =
        high - low > most_leaves ? std::clamp(change.latest + 1, low + 1, low + most_leaves) : high;
    auto const weight_of = [](double probability) {
        constexpr Weight least = 100000; // a ten-thousandth
        return std::max(static_cast<Weight>(std::llround(whole_weight * probability)), least);
    };
    std::vector<Weight> weight;
    std::vector<std::size_t> candidate;
    for (std::size_t t = low; t < one_by_one; ++t) {
        weight.push_back(weight_of((1 - false_alarm) * change.probability[t]));
        candidate.push_back(t);
    }
    weight.push_back(weight_of(high == links ? false_alarm : (1 - false_alarm) * change.probability[high]));
    candidate.push_back(high);
    Weight total = 0;
    for (Weight const w : weight) total += w;
    SearchTree const tree{weight};
    std::size_t const n = tree.leaves;
    // To separate leaf k from leaf k + 1, retest the last link before candidate k + 1: if it moved, the
    // change came at or before it.
    std::size_t const k = tree.split[n - 1];
    plan.next = candidate[k + 1] - 1;
    plan.at_most = tree.depth[n - 1];
    plan.expected = static_cast<double>(tree.cost[n - 1]) / static_cast<double>(total);
    if (one_by_one < high) plan.at_most += static_cast<std::size_t>(std::bit_width(high - one_by_one));
    plan.why = fmt::format(
        "This retest divides the {} links still in doubt at the likeliest time of the change; after it, at "
        "most {} more {}.",
        plan.undecided.size(), plan.at_most - 1, plan.at_most == 2 ? "retest" : "retests");
    return plan;
}

} // namespace guidepin::watch
