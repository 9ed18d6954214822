// SPDX-License-Identifier: Apache-2.0
// A fibre map as rows for people: which colour leaves where. No layout. Verified by:
// tests/oracle/plant/signatures.cpp (TIA-598 order), tests/unit/plant/elements.cpp (words).
#pragma once

#include "plant/chain.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::plant {

/// Fibre number -> colour 1 … 12 in the order of TIA-598, and how many full twelves came before (tracers).
struct FibreShade
{
    int colour = 1;
    int tracers = 0;
    friend bool operator==(FibreShade const&, FibreShade const&) = default;
};

struct MapRow
{
    Place near;
    std::optional<Place> far; ///< none where it is dark
    FibreShade shade;         ///< by the near position; colour never defines a position
};
/// One row for each position that the near end has or should have, in order.
std::vector<MapRow> map_rows(FibreMap const& map, std::vector<ConnectorEnd> const& near);

/// Cycles, paths, dark and extra in words: "3 and 4 exchanged; 7 dark". "no difference" if the maps are
/// equal.
std::string difference_text(Difference const& difference, int connectors = 1);

/// A joint in words: "cord:B to trunk:A through adapter:opposed: ok".
std::string joint_text(Chain const& chain, Joint const& joint);

} // namespace guidepin::plant
