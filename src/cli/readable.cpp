// SPDX-License-Identifier: Apache-2.0
#include "cli/readable.hpp"

#include "base/text.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::cli {

namespace {

/// The bytes of the character that begins here; 0 where none does.
std::size_t length_of_character(std::string_view text)
{
    for (std::size_t length = 1; length <= std::min<std::size_t>(4, text.size()); ++length)
        if (is_utf8(text.substr(0, length))) return length;
    return 0;
}

/// Of a character of two or three bytes.
unsigned code_point(std::string_view bytes)
{
    unsigned code = static_cast<unsigned char>(bytes[0]) & (bytes.size() == 2 ? 0x1FU : 0x0FU);
    for (char const byte : bytes.substr(1)) code = code << 6U | (static_cast<unsigned char>(byte) & 0x3FU);
    return code;
}

/// Control characters above ASCII (ISO 6429), and those that turn the direction of the text (Unicode, UAX
/// #9).
bool is_obeyed(unsigned code)
{
    return (code >= 0x80 && code <= 0x9F) || (code >= 0x202A && code <= 0x202E) ||
           (code >= 0x2066 && code <= 0x2069);
}

/// The bytes of the colour that begins here (ISO 6429, select graphic rendition); 0 where none does.
std::size_t length_of_colour(std::string_view text)
{
    if (!text.starts_with("\x1b[")) return 0;
    std::size_t const end = text.find_first_not_of("0123456789;", 2);
    return end != std::string_view::npos && text[end] == 'm' ? end + 1 : 0;
}

std::string written_out(std::string_view text, bool keep_colours)
{
    std::string shown;
    while (!text.empty()) {
        if (std::size_t const colour = keep_colours ? length_of_colour(text) : 0; colour > 0) {
            shown += text.substr(0, colour);
            text.remove_prefix(colour);
            continue;
        }
        std::size_t const length = length_of_character(text);
        auto const first = static_cast<unsigned char>(text.front());
        bool const is_control = (first < ' ' && first != '\n' && first != '\t') || first == 0x7F;
        if (length == 0 || is_control) {
            shown += fmt::format("\\x{:02x}", first);
        } else if ((length == 2 || length == 3) && is_obeyed(code_point(text.substr(0, length)))) {
            shown += fmt::format("\\u{:04x}", code_point(text.substr(0, length)));
        } else {
            shown += text.substr(0, length);
        }
        text.remove_prefix(std::max<std::size_t>(length, 1));
    }
    return shown;
}

} // namespace

std::string readable(std::string_view text)
{
    return written_out(text, false);
}

std::string readable_in_colour(std::string_view text)
{
    return written_out(text, true);
}

} // namespace guidepin::cli
