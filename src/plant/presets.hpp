// SPDX-License-Identifier: Apache-2.0
// Letters and names of the trade as explicit tables. Nothing after this file knows a letter.
// Sources: TIA-568-B.1-7 and TIA-568.3 for types A, B, C and the transitions; IEC 61754-7 and TIA-604-5 for
// adapters; the two families of two-row maps and the order inside a U2 pair are derived
// (docs/methods/mating-and-maps.md). Verified by: tests/oracle/plant/maps.cpp (worked tables),
// tests/oracle/plant/geometry.cpp (rigid bodies).
#pragma once

#include "plant/fibre_map.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace guidepin::plant {

/// Names of cable types for a family: one row "A", "B", "C", "RW"; two rows "I-A", "I-B", "II-A", "II-B",
/// "C".
std::vector<std::string> cable_types(Family const& family);

/// Near plug -> far plug on all positions. Case does not matter. A plain "A" or "B" is refused for two rows:
/// the letter says too little there (two families of maps are in use). Duplex families have no cable type.
Result<PositionMap> cable_map(std::string_view type, Family const& family);

/// Returns whether a cable of this type, laid out flat, has its keys on different sides (TIA-568.3): A and C
/// go from key up to key down, B from key up to key up; the same holds for types of two rows.
bool turns_key(std::string_view type);

/// Plug on one side -> plug on the other side, all positions.
PositionMap adapter_map(KeyRelation keys, Family const& family);

/// A plug whose key was turned by half a turn: old number -> new number, N+1-p.
PositionMap key_turn_map(Family const& family);

/// MPO face -> LC ports. "straight", "U1", "U2" for every family; "straight-8", "U1-8", "U2-8" for eight
/// outer fibres of mpo-12; "U1-II", "U2-II" for the ribbon-straight family of two-row trunks.
std::vector<std::string> module_types(Family const& family);
Result<PositionMap> module_map(std::string_view type, Family const& family);
/// The adapter that the method prescribes for this module: aligned for U2, opposed otherwise.
KeyRelation usual_adapter(std::string_view module_type);

/// MPO plug -> LC legs. "straight" (leg i holds 2i-1, 2i), "breakout-4" (i, N+1-i for four legs),
/// "breakout-8" (16 positions).
std::vector<std::string> harness_types(Family const& family);
Result<PositionMap> harness_map(std::string_view type, Family const& family);

/// Duplex cords on `ports` LC ports (pairs 2k-1, 2k): "A-to-B" exchanges the halves, "A-to-A" does not.
Result<PositionMap> duplex_cord_map(std::string_view type, int ports);

/// All positions of a family.
Occupancy all_positions(Family const& family);

} // namespace guidepin::plant
