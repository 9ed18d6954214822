// SPDX-License-Identifier: Apache-2.0
// A chain of elements along the light: what each joint is worth, and where each fibre ends.
// Rules for what is left unsaid (pins, own adapters, occupancy): docs/formats/elements.md#defaults.
// Verified by: tests/oracle/plant/chains.cpp (worked tables), tests/unit/plant/elements.cpp (messages).
#pragma once

#include "plant/elements.hpp"
#include "plant/fibre_map.hpp"

#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace guidepin::plant {

/// Which side of the plant carries the pins where nothing is said.
enum class Convention : std::uint8_t {
    fixed_pinned,   ///< trunks pinned, all loose cords and the plugs inside modules unpinned
    modules_pinned, ///< plugs inside modules pinned, trunks unpinned
};
Result<Convention> parse_convention(std::string_view text);

/// The text of a table file by its name. Reading files is the caller's; none means that tables are refused.
using TextLookup = std::function<Result<std::string>(std::string const& name)>;

struct ChainOptions
{
    Family family;    ///< of array connectors whose family neither they nor their neighbour state
    Occupancy fibres; ///< of the first array connector, where it does not say; none set means all positions
    Convention convention = Convention::fixed_pinned;
    Face face = Face::flat; ///< of array connectors that do not say
    TextLookup tables;
};

struct Joint
{
    std::size_t left = 0;               ///< index into Chain::elements
    std::size_t right = 0;              ///< index into Chain::elements
    std::optional<std::size_t> adapter; ///< index of the adapter element between them
    std::optional<KeyRelation> keys;    ///< none where nothing joins them
    bool own_adapter = false;           ///< keys are those of a module's own adapter or of a port
    int connector = 0;                  ///< from 0, where several run side by side
    ConnectorEnd first, second;
    MateVerdict verdict;
};

enum class PortKind : std::uint8_t { none, parallel, duplex };

/// One end of a chain.
struct ChainEnd
{
    /// What the map's numbers count on at this end: the own plug, the port's face, or, behind an outermost
    /// adapter, the plug that will be put into it from outside.
    std::vector<ConnectorEnd> numbered;
    std::vector<ConnectorEnd> own;      ///< the connectors of the outermost element itself
    std::optional<KeyRelation> adapter; ///< an outermost adapter
    PortKind port = PortKind::none;
    /// Tx and Rx of duplex equipment are here: a duplex port, the outer end of duplex cords, or LC legs.
    bool duplex_equipment = false;
};

struct Chain
{
    std::vector<Element> elements;
    std::vector<Joint> joints;
    FibreMap map; ///< near places to far places, in the numbering of the two ends
    ChainEnd near, far;

    bool joints_ok() const;
    /// "A", "I-B", "other", "dark" …; "" where the two ends are not one array connector of one family each.
    std::string class_name() const;
};

/// Errors: usage (order of elements, a value unknown for its family), invalid_input (a table), not_found (its
/// file). A joint that must not be made is no error: it is a verdict, and the map is still computed.
Result<Chain> build_chain(std::span<Element const> elements, ChainOptions const& options);

} // namespace guidepin::plant
