// SPDX-License-Identifier: Apache-2.0
// A cord, module or harness given by an explicit table instead of a letter. Format:
// docs/formats/elements.md#tables. Verified by: tests/unit/plant/elements.cpp (messages, round trips),
// tests/fuzz/cord_table.cpp.
#pragma once

#include "plant/fibre_map.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::plant {

/// One connector of an element as it was stated: what is left open is filled in by the chain's conventions.
struct EndStatement
{
    Family family;
    Occupancy occupied;
    std::optional<Pins> pins;
    std::optional<Face> face;
    std::optional<Slope> slope;
};

struct CordTable
{
    std::string name;
    std::vector<EndStatement> near, far;
    FibreMap map;
};

/// Reads a table from TOML text. `name` is used in messages. All errors are reported at once, each with its
/// line.
Result<CordTable> parse_cord_table(std::string_view name, std::string_view text);

/// The table with near and far exchanged.
CordTable reversed(CordTable const& table);

} // namespace guidepin::plant
