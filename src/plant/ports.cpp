// SPDX-License-Identifier: Apache-2.0
#include "plant/ports.hpp"

#include "plant/presets.hpp"

#include <algorithm>

namespace guidepin::plant {

namespace {

PortUse const* use_at(std::vector<PortUse> const& uses, Place place)
{
    for (PortUse const& use : uses) {
        if (use.place == place) return &use;
    }
    return nullptr;
}

std::vector<LaneOutcome> follow(FibreMap const& map, std::vector<PortUse> const& from,
                                std::vector<PortUse> const& to)
{
    std::vector<LaneOutcome> outcomes;
    for (PortUse const& use : from) {
        if (use.use == 'r') continue;
        LaneOutcome outcome;
        outcome.lane = use.lane;
        outcome.from = use.place;
        outcome.to = map.at(use.place);
        if (outcome.to) {
            PortUse const* const far = use_at(to, *outcome.to);
            outcome.landing = !far ? Landing::unused : far->use == 't' ? Landing::transmit : Landing::receive;
            if (far) outcome.far_lane = far->lane;
        }
        outcomes.push_back(outcome);
    }
    std::stable_sort(outcomes.begin(), outcomes.end(),
                     [](LaneOutcome const& a, LaneOutcome const& b) { return a.lane < b.lane; });
    return outcomes;
}

LaneVerdict verdict_of(std::vector<LaneOutcome> const& outcomes)
{
    bool permuted = false;
    bool dark = outcomes.empty();
    for (LaneOutcome const& outcome : outcomes) {
        if (outcome.landing == Landing::transmit) return LaneVerdict::tx_to_tx;
        if (outcome.landing != Landing::receive) dark = true;
        if (outcome.far_lane != outcome.lane) permuted = true;
    }
    return dark ? LaneVerdict::dark : permuted ? LaneVerdict::lanes_permuted : LaneVerdict::lane_true;
}

int rank(LaneVerdict verdict)
{
    switch (verdict) {
    case LaneVerdict::lane_true:
        return 0;
    case LaneVerdict::lanes_permuted:
        return 1;
    case LaneVerdict::dark:
        return 2;
    case LaneVerdict::tx_to_tx:
        return 3;
    }
    return 3;
}

} // namespace

std::vector<PortUse> duplex_uses(int ports)
{
    std::vector<PortUse> uses;
    for (int k = 1; 2 * k <= ports; ++k) {
        uses.push_back(PortUse{Place{0, 2 * k - 1}, 't', k - 1});
        uses.push_back(PortUse{Place{0, 2 * k}, 'r', k - 1});
    }
    return uses;
}

char const* name_of(Landing landing)
{
    switch (landing) {
    case Landing::receive:
        return "Rx";
    case Landing::transmit:
        return "Tx";
    case Landing::unused:
        return "unused";
    case Landing::dark:
        return "dark";
    }
    return "";
}

char const* name_of(LaneVerdict verdict)
{
    switch (verdict) {
    case LaneVerdict::lane_true:
        return "lane-true";
    case LaneVerdict::lanes_permuted:
        return "lanes permuted";
    case LaneVerdict::tx_to_tx:
        return "Tx to Tx";
    case LaneVerdict::dark:
        return "dark";
    }
    return "";
}

ParallelVerdict judge_lanes(FibreMap const& map, std::vector<PortUse> const& near,
                            std::vector<PortUse> const& far)
{
    ParallelVerdict result;
    result.near_to_far = follow(map, near, far);
    result.far_to_near = follow(map.inverse(), far, near);
    LaneVerdict const forth = verdict_of(result.near_to_far);
    LaneVerdict const back = verdict_of(result.far_to_near);
    result.verdict = rank(forth) >= rank(back) ? forth : back;
    return result;
}

Result<Occupancy> used_positions(std::string_view cord_type, Family const& family,
                                 std::vector<PortUse> const& uses)
{
    TRY_ASSIGN(PositionMap const cord, cable_map(cord_type, family));
    Occupancy used;
    for (PortUse const& use : uses) {
        int const p = cord.at(met_position(family, KeyRelation::aligned, use.place.position));
        if (p > 0) used.set(static_cast<std::size_t>(p - 1));
    }
    return used;
}

} // namespace guidepin::plant
