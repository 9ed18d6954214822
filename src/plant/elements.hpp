// SPDX-License-Identifier: Apache-2.0
// The words of a chain: `port:aligned cord:B adapter:opposed trunk:A,pins=pp module:U1`. Grammar and every
// attribute: docs/formats/elements.md. Words only; what they mean together is in chain.hpp.
// Verified by: tests/unit/plant/elements.cpp (each message), tests/fuzz/elements.cpp.
#pragma once

#include "plant/connector.hpp"

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::plant {

enum class ElementKind : std::uint8_t { port, cord, trunk, adapter, module, harness, duplex };
char const* name_of(ElementKind kind); ///< "port", "cord", …

struct Element
{
    ElementKind kind = ElementKind::cord;
    std::string value; ///< "aligned", "B", "U1", or the name of a table file ("legs.toml")
    std::optional<Family> family;
    std::string fibres;                      ///< as parse_occupancy reads it; "" where not stated
    std::optional<Pins> near_pins, far_pins; ///< one-ended elements have both equal
    std::optional<Face> face;
    std::optional<Slope> slope;
    bool turned_near = false, turned_far = false; ///< key turned by half a turn at that end
    bool reversed = false;                        ///< a table read from far to near
    std::optional<KeyRelation> adapter;           ///< of a module: its own adapter

    bool is_table() const { return value.ends_with(".toml"); }
    std::string text() const; ///< in the grammar; reads back equal
    friend bool operator==(Element const&, Element const&) = default;
};

Result<Element> parse_element(std::string_view text);
Result<std::vector<Element>> parse_elements(std::span<std::string const> texts);
/// Elements separated by white space.
Result<std::vector<Element>> parse_chain_text(std::string_view text);

} // namespace guidepin::plant
