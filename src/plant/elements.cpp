// SPDX-License-Identifier: Apache-2.0
#include "plant/elements.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace guidepin::plant {

namespace {

struct KindRow
{
    ElementKind kind;
    char const* name;
    char const* example;
    std::vector<std::string> attributes;
};

std::vector<KindRow> const& kind_rows()
{
    static std::vector<KindRow> const rows{
        {ElementKind::port, "port", "port:aligned", {"family", "fibres", "pins", "face", "slope"}},
        {ElementKind::cord,
         "cord",
         "cord:B",
         {"family", "fibres", "pins", "face", "slope", "turn", "reversed"}},
        {ElementKind::trunk,
         "trunk",
         "trunk:A",
         {"family", "fibres", "pins", "face", "slope", "turn", "reversed"}},
        {ElementKind::adapter, "adapter", "adapter:opposed", {}},
        {ElementKind::module,
         "module",
         "module:U1",
         {"family", "fibres", "pins", "face", "slope", "adapter"}},
        {ElementKind::harness, "harness", "harness:straight", {"family", "fibres", "pins", "face", "slope"}},
        {ElementKind::duplex, "duplex", "duplex:A-to-B", {}},
    };
    return rows;
}

KindRow const& row_of(ElementKind kind)
{
    for (KindRow const& row : kind_rows()) {
        if (row.kind == kind) return row;
    }
    return kind_rows().front();
}

Error bad(std::string_view element, std::string const& what)
{
    return Error{Errc::usage, fmt::format("Element '{}': {}", element, what)};
}

/// "pp", "pu", "up", "uu" for two ends; "p", "u", "n" or the word for one state.
Outcome read_pins(Element& element, std::string_view value)
{
    bool const two_ended = element.kind == ElementKind::cord || element.kind == ElementKind::trunk;
    std::string const wanted = lowered(value);
    if (two_ended && wanted.size() == 2) {
        TRY_ASSIGN(Pins const near, parse_pins(wanted.substr(0, 1)));
        TRY_ASSIGN(Pins const far, parse_pins(wanted.substr(1, 1)));
        element.near_pins = near;
        element.far_pins = far;
        return {};
    }
    if (two_ended) {
        return Error{Errc::usage,
                     fmt::format("pins '{}' is not one of pp, pu, up, uu (near end, far end).", value)};
    }
    TRY_ASSIGN(Pins const pins, parse_pins(wanted));
    element.near_pins = pins;
    element.far_pins = pins;
    return {};
}

Outcome read_turn(Element& element, std::string_view value)
{
    if (value != "near" && value != "far" && value != "both") {
        return Error{Errc::usage, fmt::format("turn '{}' is not one of near, far, both.", value)};
    }
    element.turned_near = value != "far";
    element.turned_far = value != "near";
    return {};
}

Outcome read_attribute(Element& element, std::string_view key, std::string_view value, bool has_value)
{
    if (key == "reversed") {
        if (has_value) return Error{Errc::usage, "reversed takes no value."};
        if (!element.is_table()) {
            return Error{Errc::usage,
                         "reversed needs a table file; a type by letter reads the same both ways."};
        }
        element.reversed = true;
        return {};
    }
    if (!has_value || value.empty()) return Error{Errc::usage, fmt::format("{0} needs a value: {0}=…", key)};
    if (key == "family") {
        TRY_ASSIGN(element.family, parse_family(value));
    } else if (key == "fibres") {
        element.fibres = std::string{value};
        std::replace(element.fibres.begin(), element.fibres.end(), '+', ',');
    } else if (key == "pins") {
        TRY(read_pins(element, value));
    } else if (key == "face") {
        TRY_ASSIGN(element.face, parse_face(value));
    } else if (key == "slope") {
        if (value != "down" && value != "up") {
            return Error{Errc::usage, fmt::format("slope '{}' is not one of down, up.", value)};
        }
        element.slope = value == "down" ? Slope::down : Slope::up;
    } else if (key == "turn") {
        TRY(read_turn(element, value));
    } else if (key == "adapter") {
        TRY_ASSIGN(element.adapter, parse_key_relation(value));
    }
    return {};
}

/// Values whose spelling is known without the family; the rest is looked up when the chain is built.
Outcome check_value(Element& element)
{
    std::string const wanted = lowered(element.value);
    if (element.kind == ElementKind::port && wanted == "duplex") {
        element.value = "duplex";
        return {};
    }
    if (element.kind == ElementKind::port || element.kind == ElementKind::adapter) {
        Result<KeyRelation> const keys = parse_key_relation(wanted);
        if (keys) {
            element.value = name_of(*keys);
            return {};
        }
        std::vector<std::string> known{"aligned", "opposed"};
        if (element.kind == ElementKind::port) known.emplace_back("duplex");
        return Error{Errc::usage, fmt::format("'{}' is not one of {}{}", element.value, joined(known, ", "),
                                              did_you_mean(wanted, known))};
    }
    if (element.kind == ElementKind::duplex) {
        if (wanted == "a-to-b" || wanted == "a-to-a") {
            element.value = wanted == "a-to-b" ? "A-to-B" : "A-to-A";
            return {};
        }
        return Error{
            Errc::usage,
            fmt::format("'{}' is not one of A-to-B, A-to-A (the words straight and crossover are used "
                        "both ways round, so only the letters count).",
                        element.value)};
    }
    return {};
}

} // namespace

char const* name_of(ElementKind kind)
{
    return row_of(kind).name;
}

Result<Element> parse_element(std::string_view text)
{
    std::vector<std::string_view> const parts = split(trimmed(text), ',');
    std::string_view const head = trimmed(parts.front());
    std::size_t const colon = head.find(':');
    std::string const kind_name = lowered(trimmed(head.substr(0, colon)));
    std::vector<std::string> kinds;
    Element element;
    bool known_kind = false;
    for (KindRow const& row : kind_rows()) {
        kinds.emplace_back(row.name);
        if (kind_name != row.name) continue;
        element.kind = row.kind;
        known_kind = true;
    }
    if (!known_kind) {
        return bad(
            text,
            fmt::format("'{}' is not one of {}{} An element is written as kind:value, for example trunk:A.",
                        kind_name, joined(kinds, ", "), did_you_mean(kind_name, kinds, ".")));
    }
    KindRow const& row = row_of(element.kind);
    element.value = colon == std::string_view::npos ? "" : std::string{trimmed(head.substr(colon + 1))};
    if (element.value.empty()) return bad(text, fmt::format("no value. Example: {}.", row.example));
    for (char const c : element.value) {
        // White space would break the text form of a chain into other elements.
        if (static_cast<unsigned char>(c) <= 0x20) return bad(text, "the value has a blank in it.");
    }
    Outcome const value = check_value(element);
    if (!value) return bad(text, value.error().message);

    std::vector<std::string> seen;
    for (std::size_t i = 1; i < parts.size(); ++i) {
        std::string_view const part = trimmed(parts[i]);
        std::size_t const equals = part.find('=');
        std::string const key = lowered(trimmed(part.substr(0, equals)));
        if (std::find(row.attributes.begin(), row.attributes.end(), key) == row.attributes.end()) {
            return bad(text, fmt::format("'{}' is not an attribute of {}; it takes {}{}", key, row.name,
                                         row.attributes.empty() ? "none" : joined(row.attributes, ", "),
                                         did_you_mean(key, row.attributes)));
        }
        if (std::find(seen.begin(), seen.end(), key) != seen.end())
            return bad(text, fmt::format("{} is given twice.", key));
        seen.push_back(key);
        bool const has_value = equals != std::string_view::npos;
        std::string_view const attribute = has_value ? trimmed(part.substr(equals + 1)) : std::string_view{};
        for (char const c : attribute) {
            if (static_cast<unsigned char>(c) <= 0x20)
                return bad(text, fmt::format("{} has a blank in it.", key));
        }
        Outcome const read = read_attribute(element, key, attribute, has_value);
        if (!read) return bad(text, read.error().message);
    }
    return element;
}

Result<std::vector<Element>> parse_elements(std::span<std::string const> texts)
{
    std::vector<Element> elements;
    for (std::string const& text : texts) {
        TRY_ASSIGN(Element element, parse_element(text));
        elements.push_back(std::move(element));
    }
    return elements;
}

Result<std::vector<Element>> parse_chain_text(std::string_view text)
{
    std::vector<std::string> words;
    std::string word;
    for (char const c : text) {
        if (static_cast<unsigned char>(c) > 0x20) {
            word += c;
        } else if (!word.empty()) {
            words.push_back(std::move(word));
            word.clear();
        }
    }
    if (!word.empty()) words.push_back(std::move(word));
    if (words.empty()) return Error{Errc::usage, "A chain needs at least one element, for example trunk:A."};
    return parse_elements(words);
}

std::string Element::text() const
{
    std::string out = fmt::format("{}:{}", name_of(kind), value);
    if (family) out += ",family=" + family->name();
    if (!fibres.empty()) {
        std::string joined_fibres = fibres;
        std::replace(joined_fibres.begin(), joined_fibres.end(), ',', '+');
        out += ",fibres=" + joined_fibres;
    }
    bool const two_ended = kind == ElementKind::cord || kind == ElementKind::trunk;
    if (near_pins && far_pins) {
        out += fmt::format(",pins={}", name_of(*near_pins)[0]);
        if (two_ended) out += name_of(*far_pins)[0];
    }
    if (face) out += fmt::format(",face={}", name_of(*face));
    if (slope) out += fmt::format(",slope={}", name_of(*slope));
    if (turned_near || turned_far) {
        out += fmt::format(",turn={}", turned_near && turned_far ? "both" : turned_near ? "near" : "far");
    }
    if (reversed) out += ",reversed";
    if (adapter) out += fmt::format(",adapter={}", name_of(*adapter));
    return out;
}

} // namespace guidepin::plant
