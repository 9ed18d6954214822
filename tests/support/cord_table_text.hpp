// SPDX-License-Identifier: Apache-2.0
// A cord table written from what its reader read, for tests of the reader: reading it again must give the
// same.
#pragma once

#include "plant/cord_table.hpp"

#include <string>

#include <fmt/format.h>

namespace guidepin::plant {

inline void write_end(std::string& text, EndStatement const& end, char const* side)
{
    text += fmt::format("\n[[{}]]\nfamily = \"{}\"\n", side, end.family.name());
    if (end.occupied.any()) text += fmt::format("fibres = \"{}\"\n", occupancy_text(end.occupied));
    if (end.pins) text += fmt::format("pins = \"{}\"\n", name_of(*end.pins));
    if (end.face) text += fmt::format("face = \"{}\"\n", name_of(*end.face));
    if (end.slope && *end.slope != Slope::none) text += fmt::format("slope = \"{}\"\n", name_of(*end.slope));
}

/// Returns the table as TOML text.
inline std::string cord_table_text(CordTable const& table)
{
    std::string quoted;
    for (char const c : table.name) {
        if (c == '"' || c == '\\') quoted += '\\';
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) {
            quoted += fmt::format("\\u{:04x}", static_cast<unsigned>(static_cast<unsigned char>(c)));
        } else {
            quoted += c;
        }
    }
    std::string text = fmt::format("name = \"{}\"\nmap = [\n", quoted);
    for (Place const near : table.map.near_places()) {
        Place const far = *table.map.at(near);
        text += fmt::format("    \"{} -> {}\",\n", place_text(near, table.map.near_connectors()),
                            place_text(far, table.map.far_connectors()));
    }
    text += "]\n";
    for (EndStatement const& end : table.near) write_end(text, end, "near");
    for (EndStatement const& end : table.far) write_end(text, end, "far");
    return text;
}

} // namespace guidepin::plant
