// SPDX-License-Identifier: Apache-2.0
#include "drawing/letters.hpp"

namespace guidepin::drawing {

namespace {
constexpr char32_t replacement = 0xFFFD;
constexpr std::string_view replacement_bytes = "\xEF\xBF\xBD";
} // namespace

char32_t next_letter(std::string_view text, std::size_t& i)
{
    auto const byte_at = [&](std::size_t k) { return static_cast<unsigned char>(text[k]); };
    unsigned const first = byte_at(i);
    if (first < 0x80) {
        ++i;
        return first;
    }
    std::size_t const length = first >= 0xC2 && first < 0xE0   ? 2
                               : first >= 0xE0 && first < 0xF0 ? 3
                               : first >= 0xF0 && first < 0xF5 ? 4
                                                               : 0;
    if (length == 0 || i + length > text.size()) {
        ++i;
        return replacement;
    }
    char32_t letter = length == 2 ? first & 0x1F : length == 3 ? first & 0x0F : first & 0x07;
    for (std::size_t k = 1; k < length; ++k) {
        if ((byte_at(i + k) & 0xC0) != 0x80) {
            ++i;
            return replacement;
        }
        letter = (letter << 6) | (byte_at(i + k) & 0x3F);
    }
    bool const longer_than_needed = (length == 3 && letter < 0x800) || (length == 4 && letter < 0x10000);
    if (longer_than_needed || (letter >= 0xD800 && letter <= 0xDFFF) || letter > 0x10FFFF) {
        ++i;
        return replacement;
    }
    i += length;
    return letter;
}

std::string clean_text(std::string_view text)
{
    std::string clean;
    clean.reserve(text.size());
    for (std::size_t i = 0; i < text.size();) {
        std::size_t const start = i;
        char32_t const letter = next_letter(text, i);
        if (letter < 0x20 || letter == 0x7F || (letter >= 0x80 && letter < 0xA0)) {
            clean += ' ';
        } else if (letter == replacement || letter == 0xFFFE || letter == 0xFFFF) {
            clean += replacement_bytes;
        } else {
            clean += text.substr(start, i - start);
        }
    }
    return clean;
}

} // namespace guidepin::drawing
