// SPDX-License-Identifier: Apache-2.0
// Transmitters and receivers at the two ends of a map: does each Tx reach an Rx, and which one?
// Sources: IEEE 802.3 clauses 86, 95, 138 for parallel ports (lane order from memory), TIA-568.3 for duplex
// pairs. Verified by: tests/oracle/plant/chains.cpp.
#pragma once

#include "plant/chain.hpp"
#include "plant/fibre_map.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::plant {

/// What a place of a port does: 't' transmits, 'r' receives, 'b' does both on one fibre. Lanes count from 0.
struct PortUse
{
    Place place;
    char use = 't';
    int lane = 0;
};

/// Duplex equipment on LC ports 1 … `ports`: pair k transmits into half A (2k-1) and receives from half B
/// (2k); its lane is k-1.
std::vector<PortUse> duplex_uses(int ports);

enum class Landing : std::uint8_t { receive, transmit, unused, dark };
char const* name_of(Landing landing); ///< "Rx", "Tx", "unused", "dark"

/// Where the light of one transmitter goes.
struct LaneOutcome
{
    int lane = 0; ///< from 0
    Place from;
    std::optional<Place> to;
    Landing landing = Landing::dark;
    int far_lane = -1; ///< from 0; -1 where it lands on nothing in use
};

enum class LaneVerdict : std::uint8_t { lane_true, lanes_permuted, tx_to_tx, dark };
char const* name_of(LaneVerdict verdict); ///< "lane-true", "lanes permuted", "Tx to Tx", "dark"

struct ParallelVerdict
{
    LaneVerdict verdict = LaneVerdict::dark; ///< the worse of the two directions
    std::vector<LaneOutcome> near_to_far;    ///< one for each near transmitter, by lane
    std::vector<LaneOutcome> far_to_near;    ///< one for each far transmitter, by lane
};
/// Any Tx on a Tx is tx_to_tx; else any Tx that reaches no receiver is dark; else lanes in place or permuted.
ParallelVerdict judge_lanes(FibreMap const& map, std::vector<PortUse> const& near,
                            std::vector<PortUse> const& far);

/// Positions of a link's near plug that the used places of an aligned-key port reach through a cord of this
/// type.
Result<Occupancy> used_positions(std::string_view cord_type, Family const& family,
                                 std::vector<PortUse> const& uses);

} // namespace guidepin::plant
