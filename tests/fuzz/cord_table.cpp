// SPDX-License-Identifier: Apache-2.0
// room: plant
// Any bytes as a table of a cord: a table that reads back equal, or messages that each have a line.
#include "plant/cord_table.hpp"
#include "cord_table_text.hpp"

#include <cstdint>
#include <cstdlib>
#include <string>

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* bytes, std::size_t size)
{
    using namespace guidepin::plant;
    auto const table =
        parse_cord_table("fuzz.toml", std::string_view{reinterpret_cast<char const*>(bytes), size});
    if (!table) {
        if (table.error().message.find("fuzz.toml: line ") == std::string::npos) std::abort();
        return 0;
    }
    if (table->map.near_places().empty() || table->near.empty() || table->far.empty()) std::abort();
    for (Place const place : table->map.near_places()) {
        if (!table->near[static_cast<std::size_t>(place.connector)].occupied.test(
                static_cast<std::size_t>(place.position - 1))) {
            std::abort();
        }
    }
    auto const again = parse_cord_table("again.toml", cord_table_text(*table));
    if (!again || again->map != table->map || again->name != table->name) std::abort();
    return 0;
}
