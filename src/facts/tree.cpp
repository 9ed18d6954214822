// SPDX-License-Identifier: Apache-2.0
#include "facts/tree.hpp"

#include "base/text.hpp"
#include "base/toml_guard.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>

// The same mode as in every other file that reads TOML: the library's two modes do not link together.
#define TOML_EXCEPTIONS 1
#include "base/toml.hpp"

namespace guidepin::facts {
namespace {

// toml++ 3.3 reaches an unreachable branch on some letters from U+00A1 to U+FEFF wherever a blank could stand
// (found by fuzzing; in quotes they are harmless, but a broken file can have them anywhere). So while it
// reads, every letter of the basic plane outside ASCII is put into private plane 15, which it takes for a
// letter like any other.

bool is_shifted(std::string_view text, std::size_t at)
{
    return at + 3 < text.size() && text[at] == '\xF3' &&
           (static_cast<unsigned char>(text[at + 1]) & 0xF0U) == 0xB0U;
}

/// `text` is valid UTF-8. Nothing when it has letters of plane 15 itself.
std::optional<std::string> shifted(std::string_view text)
{
    std::string out;
    out.reserve(text.size() + text.size() / 8);
    for (std::size_t i = 0; i < text.size();) {
        auto const first = static_cast<unsigned char>(text[i]);
        auto const part = [&](std::size_t at) { return static_cast<unsigned>(text[at]) & 0x3FU; };
        unsigned point = 0;
        if (first < 0x80) {
            out += text[i++];
            continue;
        }
        if (first >= 0xF0) {
            if (is_shifted(text, i)) return std::nullopt;
            out.append(text.substr(i, 4));
            i += 4;
            continue;
        }
        if (first >= 0xE0) {
            point = ((first & 0x0FU) << 12U) | (part(i + 1) << 6U) | part(i + 2);
            i += 3;
        } else {
            point = ((first & 0x1FU) << 6U) | part(i + 1);
            i += 2;
        }
        out += '\xF3';
        out += static_cast<char>(0xB0U | (point >> 12U));
        out += static_cast<char>(0x80U | ((point >> 6U) & 0x3FU));
        out += static_cast<char>(0x80U | (point & 0x3FU));
    }
    return out;
}

std::string shifted_back(std::string_view text)
{
    std::string out;
    out.reserve(text.size());
    for (std::size_t i = 0; i < text.size();) {
        auto const part = [&](std::size_t at) { return static_cast<unsigned>(text[at]) & 0x3FU; };
        if (!is_shifted(text, i)) {
            out += text[i++];
            continue;
        }
        unsigned const point = ((part(i + 1) & 0x0FU) << 12U) | (part(i + 2) << 6U) | part(i + 3);
        if (point < 0x80) { // an escape of the file itself: no letter of ours
            out.append(text.substr(i, 4));
        } else if (point < 0x800) {
            out += static_cast<char>(0xC0U | (point >> 6U));
            out += static_cast<char>(0x80U | (point & 0x3FU));
        } else {
            out += static_cast<char>(0xE0U | (point >> 12U));
            out += static_cast<char>(0x80U | ((point >> 6U) & 0x3FU));
            out += static_cast<char>(0x80U | (point & 0x3FU));
        }
        i += 4;
    }
    return out;
}

Node converted(toml::node const& from);

struct Placed
{
    toml::source_position at;
    std::string key;
    toml::node const* value;
};

Node converted_table(toml::table const& table)
{
    Node node;
    node.kind = Node::Kind::table;
    // The library keeps members by name; the file's own order comes back from their places.
    std::vector<Placed> placed;
    for (auto const& [key, value] : table) {
        placed.push_back(Placed{key.source().begin, shifted_back(key.str()), &value});
    }
    std::stable_sort(placed.begin(), placed.end(),
                     [](Placed const& a, Placed const& b) { return a.at < b.at; });
    for (auto const& one : placed) {
        Node child = converted(*one.value);
        child.line = static_cast<int>(one.at.line);
        node.members.push_back(Member{one.key, std::move(child)});
    }
    return node;
}

Node converted(toml::node const& from)
{
    Node node;
    if (auto const* table = from.as_table()) {
        node = converted_table(*table);
    } else if (auto const* array = from.as_array()) {
        node.kind = Node::Kind::list;
        for (auto const& item : *array) node.items.push_back(converted(item));
    } else if (auto const* text = from.as_string()) {
        node.kind = Node::Kind::text;
        node.text = shifted_back(text->get());
    } else if (auto const* whole = from.as_integer()) {
        node.kind = Node::Kind::whole;
        node.number = static_cast<double>(whole->get());
    } else if (auto const* number = from.as_floating_point()) {
        node.kind = Node::Kind::number;
        node.number = number->get();
    } else if (auto const* flag = from.as_boolean()) {
        node.kind = Node::Kind::flag;
        node.flag = flag->get();
    }
    node.line = static_cast<int>(from.source().begin.line);
    return node;
}

/// The library limits the nesting of values, but not that of dotted keys, whose tables are taken down by
/// recursion.
constexpr int most_dots = 60;

int line_with_too_many_dots(std::string_view text)
{
    int line = 1;
    int dots = 0;
    for (char const letter : text) {
        if (letter == '\n') {
            ++line;
            dots = 0;
        } else if (letter == '.' && ++dots > most_dots) {
            return line;
        }
    }
    return 0;
}

} // namespace

Node const* Node::member(std::string_view key) const
{
    for (auto const& [name, node] : members) {
        if (name == key) return &node;
    }
    return nullptr;
}

char const* name_of(Node::Kind kind)
{
    switch (kind) {
    case Node::Kind::text:
        return "a text";
    case Node::Kind::number:
        return "a number";
    case Node::Kind::whole:
        return "a whole number";
    case Node::Kind::flag:
        return "true or false";
    case Node::Kind::list:
        return "a list";
    case Node::Kind::table:
        return "a table";
    case Node::Kind::other:
        return "a date or time";
    }
    return "";
}

Result<Node> parse_tree(std::string const& name, std::string_view text)
{
    if (text.size() > 4'000'000) {
        return Error{Errc::invalid_input,
                     fmt::format("{}: {} bytes; a file of facts has at most 4000000. Is it the right file?",
                                 name, text.size())};
    }
    if (!is_utf8(text)) {
        return Error{Errc::invalid_input,
                     fmt::format("{}: not UTF-8 text. Save it as UTF-8 and try again.", name)};
    }
    if (int const line = line_with_too_many_dots(text); line > 0) {
        return Error{Errc::invalid_input, fmt::format("{}:{}: more than {} dots in one line. Split the line.",
                                                      name, line, most_dots)};
    }
    // The library takes for granted that a key follows where a table header begins.
    if (auto const fault = toml_fault(text); fault && fault->kind == TomlFault::Kind::header) {
        return Error{Errc::invalid_input, fmt::format("{}:{}: {}", name, fault->line, fault->reason)};
    }
    std::string_view const mark = text.substr(0, text.starts_with("\xEF\xBB\xBF") ? 3 : 0);
    auto const readable = shifted(text.substr(mark.size()));
    if (!readable) {
        return Error{
            Errc::invalid_input,
            fmt::format("{}: has letters of private plane 15 (U+F0000 and above), which mean nothing here. "
                        "Take them out.",
                        name)};
    }
    try {
        toml::table const parsed = toml::parse(std::string_view{*readable}, name);
        return converted_table(parsed);
    } catch (toml::parse_error const& error) {
        return Error{Errc::invalid_input, fmt::format("{}:{}: not TOML: {}", name, error.source().begin.line,
                                                      shifted_back(error.description()))};
    }
}

} // namespace guidepin::facts
