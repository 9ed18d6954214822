// SPDX-License-Identifier: Apache-2.0
#include "base/toml_guard.hpp"

#include "base/text.hpp"

#include <algorithm>

namespace guidepin {

namespace {

/// Behind the string that begins at `at`, which is a quote. A string of one line ends at its line end at the
/// latest.
std::size_t end_of_string(std::string_view text, std::size_t at)
{
    char const quote = text[at];
    std::string const triple(3, quote);
    bool const many_lines = text.substr(at, 3) == triple;
    at += many_lines ? 3 : 1;
    while (at < text.size()) {
        if (text[at] == '\\' && quote == '"' && at + 1 < text.size() && text[at + 1] != '\n') {
            at += 2;
        } else if (!many_lines && text[at] == '\n') {
            return at;
        } else if (text[at] == quote && (!many_lines || text.substr(at, 3) == triple)) {
            at += many_lines ? 3 : 1;
            // Up to two quotes before the closing three belong to the text.
            for (int more = 0; many_lines && more < 2 && at < text.size() && text[at] == quote; ++more) ++at;
            return at;
        } else {
            ++at;
        }
    }
    return at;
}

bool may_begin_key(char letter)
{
    return (letter >= 'a' && letter <= 'z') || (letter >= 'A' && letter <= 'Z') ||
           (letter >= '0' && letter <= '9') || letter == '_' || letter == '-' || letter == '"' ||
           letter == '\'' || letter == ']'; // the last is an error that the library knows
}

} // namespace

std::optional<TomlFault> toml_fault(std::string_view text)
{
    if (text.size() > 4'000'000) return TomlFault{1, "the text is longer than 4000000 bytes"};
    if (!is_utf8(text)) return TomlFault{1, "the text is not UTF-8"};
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    int line = 1;
    int dots = 0;
    int depth = 0; // of brackets and braces, to distinguish a line within an array from a table header
    bool line_begins = true;
    for (std::size_t at = 0; at < text.size();) {
        char const letter = text[at];
        if (letter == '\n') {
            ++line;
            dots = 0;
            line_begins = true;
            ++at;
            continue;
        }
        if (letter == '.' && ++dots > 60) return TomlFault{line, "more than 60 dots in one line"};
        if (letter == '#') {
            at = std::min(text.find('\n', at), text.size());
            continue;
        }
        if (letter == '"' || letter == '\'') {
            std::size_t const end = end_of_string(text, at);
            for (; at < end; ++at) line += text[at] == '\n' ? 1 : 0;
            line_begins = false;
            continue;
        }
        if (static_cast<unsigned char>(letter) >= 0x80) {
            return TomlFault{line, "a letter outside ASCII; it must stand in quotes or in a comment"};
        }
        if (letter == '[' && line_begins && depth <= 0) {
            auto const skip_spaces = [&](std::size_t from) {
                return std::min(text.find_first_not_of(" \t", from), text.size());
            };
            std::size_t key = skip_spaces(at + 1);
            if (key == at + 1 && key < text.size() && text[key] == '[') key = skip_spaces(key + 1);
            if (key < text.size() && text[key] != '[' && !may_begin_key(text[key])) {
                return TomlFault{line, "a table header that does not begin with a key",
                                 TomlFault::Kind::header};
            }
        }
        depth += letter == '[' || letter == '{' ? 1 : letter == ']' || letter == '}' ? -1 : 0;
        if (letter != ' ' && letter != '\t' && letter != '\r') line_begins = false;
        ++at;
    }
    return std::nullopt;
}

} // namespace guidepin
