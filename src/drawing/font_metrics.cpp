// SPDX-License-Identifier: Apache-2.0
#include "drawing/font_metrics.hpp"

#include "drawing/font_widths.hpp"
#include "drawing/letters.hpp"

#include <algorithm>

namespace guidepin::drawing {

namespace {

FontWidth const* width_of(char32_t letter)
{
    auto const found = std::lower_bound(font_widths.begin(), font_widths.end(), letter,
                                        [](FontWidth const& a, char32_t b) { return a.letter < b; });
    return found != font_widths.end() && found->letter == letter ? &*found : nullptr;
}

bool breaks_after(char letter)
{
    return letter == '/' || letter == '-' || letter == '_' || letter == '.';
}

} // namespace

double letter_width(char32_t letter, Face face)
{
    FontWidth const* const width = width_of(letter);
    if (!width) return 1.0;
    int const units = face == Face::mono     ? mono_width
                      : face == Face::bold   ? width->bold
                      : face == Face::italic ? width->italic
                                             : width->regular;
    return units / font_units;
}

bool in_font(char32_t letter)
{
    return width_of(letter) != nullptr;
}

double text_width(std::string_view text, double size, Face face)
{
    double ems = 0;
    for (std::size_t i = 0; i < text.size();) ems += letter_width(next_letter(text, i), face);
    return ems * size;
}

std::string fitted(std::string_view text, double width, double size, Face face)
{
    if (text_width(text, size, face) <= width) return std::string(text);
    std::vector<std::string_view> letters;
    for (std::size_t i = 0; i < text.size();) {
        std::size_t const start = i;
        next_letter(text, i);
        letters.push_back(text.substr(start, i - start));
    }
    double const room = width - text_width("…", size, face);
    std::size_t head = 0;
    std::size_t tail = 0;
    double used = 0;
    // The head gets two letters for each of the tail: names differ at both ends.
    while (head + tail < letters.size()) {
        bool const at_head = head <= 2 * tail;
        std::string_view const letter = at_head ? letters[head] : letters[letters.size() - 1 - tail];
        double const more = text_width(letter, size, face);
        if (used + more > room) break;
        used += more;
        ++(at_head ? head : tail);
    }
    std::string result;
    for (std::size_t i = 0; i < head; ++i) result += letters[i];
    result += "…";
    for (std::size_t i = letters.size() - tail; i < letters.size(); ++i) result += letters[i];
    return result;
}

namespace {

/// Where to cut a word that is too wide: after the last joint that fits, else at the last letter that fits.
std::size_t cut_of(std::string_view word, double width, double size, Face face)
{
    double used = 0;
    std::size_t at_joint = 0;
    std::size_t at_letter = 0;
    for (std::size_t i = 0; i < word.size();) {
        std::size_t const start = i;
        used += letter_width(next_letter(word, i), face) * size;
        if (used > width) return at_joint > 0 ? at_joint : at_letter > 0 ? at_letter : i;
        at_letter = i;
        if (i < word.size() && breaks_after(word[start]) && !breaks_after(word[i])) at_joint = i;
    }
    return word.size();
}

void wrap_line(std::string_view line, double width, double size, Face face, std::vector<std::string>& lines)
{
    double const space = text_width(" ", size, face);
    std::string current;
    double used = 0;
    std::size_t i = 0;
    while (i < line.size()) {
        if (line[i] == ' ') {
            ++i;
            continue;
        }
        std::size_t const end = std::min(line.find(' ', i), line.size());
        std::string_view word = line.substr(i, end - i);
        i = end;
        double word_width = text_width(word, size, face);
        if (!current.empty() && used + space + word_width > width) {
            lines.push_back(std::move(current));
            current.clear();
            used = 0;
        }
        while (word_width > width) {
            std::size_t const cut = cut_of(word, width, size, face);
            if (cut >= word.size()) break;
            lines.emplace_back(word.substr(0, cut));
            word.remove_prefix(cut);
            word_width = text_width(word, size, face);
        }
        if (!current.empty()) {
            current += ' ';
            used += space;
        }
        current += word;
        used += word_width;
    }
    lines.push_back(std::move(current));
}

} // namespace

std::vector<std::string> wrapped(std::string_view text, double width, double size, Face face)
{
    std::vector<std::string> lines;
    std::size_t start = 0;
    while (true) {
        std::size_t const end = text.find('\n', start);
        wrap_line(text.substr(start, end == std::string_view::npos ? end : end - start), width, size, face,
                  lines);
        if (end == std::string_view::npos) return lines;
        start = end + 1;
    }
}

} // namespace guidepin::drawing
