// SPDX-License-Identifier: Apache-2.0
// One element made concrete: its connectors and its map. Used by chain.cpp, which knows the neighbours.
// Verified by: tests/oracle/plant/chains.cpp, tests/unit/plant/elements.cpp.
#pragma once

#include "plant/chain.hpp"

#include <optional>
#include <vector>

namespace guidepin::plant {

struct Part
{
    std::vector<ConnectorEnd> near, far;
    FibreMap map;

    /// Side by side; the connectors of `other` come after these.
    Part beside(Part const& other) const;
};

/// What an element takes from its place in the chain.
struct PartContext
{
    ChainOptions const* options = nullptr;
    std::size_t number = 0;          ///< of the element, from 1, for messages
    std::optional<Family> neighbour; ///< family of the connector that it is joined to
    std::optional<Occupancy> met;    ///< positions of its own face that the joined connector would light
    int met_rows = 1;
    bool beside_port_near = false; ///< a parallel port is there
    bool beside_port_far = false;
    bool sockets_near = false; ///< a module or harness has its LC side on the near side
};

Result<Part> make_part(Element const& element, PartContext const& context);

} // namespace guidepin::plant
