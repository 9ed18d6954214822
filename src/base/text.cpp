// SPDX-License-Identifier: Apache-2.0
#include "base/text.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <numeric>

#include <fmt/format.h>

namespace guidepin {

std::optional<double> parse_number(std::string_view text)
{
    bool const plus = !text.empty() && text.front() == '+';
    if (plus) text.remove_prefix(1);
    if (text.empty() || text.front() == '+' || (plus && text.front() == '-')) return std::nullopt;
    double value = 0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value))
        return std::nullopt;
    return value;
}

std::optional<std::int64_t> parse_integer(std::string_view text)
{
    std::int64_t value = 0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (text.empty() || error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
    return value;
}

std::string number_text(double value)
{
    if (value == 0) return "0";
    double const size = std::fabs(value);
    char buffer[512];
    auto const style = size >= 1e-6 && size < 1e15 ? std::chars_format::fixed : std::chars_format::general;
    auto const [end, error] = std::to_chars(buffer, buffer + sizeof buffer, value, style);
    return error == std::errc{} ? std::string(buffer, end) : std::string{};
}

std::string fixed_text(double value, int decimals)
{
    std::string text = fmt::format("{:.{}f}", value, decimals);
    if (text.starts_with('-') && text.find_first_not_of("-0.") == std::string::npos) text.erase(0, 1);
    return text;
}

std::string_view trimmed(std::string_view text)
{
    auto const first = text.find_first_not_of(" \t\r\n");
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1);
}

std::vector<std::string_view> split(std::string_view text, char separator)
{
    std::vector<std::string_view> parts;
    std::size_t start = 0;
    while (true) {
        auto const end = text.find(separator, start);
        parts.push_back(text.substr(start, end == std::string_view::npos ? end : end - start));
        if (end == std::string_view::npos) return parts;
        start = end + 1;
    }
}

std::string lowered(std::string_view text)
{
    std::string result(text);
    for (char& letter : result) {
        if (letter >= 'A' && letter <= 'Z') letter = static_cast<char>(letter - 'A' + 'a');
    }
    return result;
}

std::string in_words(std::string_view id)
{
    std::string words(id);
    std::replace_if(
        words.begin(), words.end(), [](char letter) { return letter == '-' || letter == '_'; }, ' ');
    return words;
}

std::string joined(std::vector<std::string> const& parts, std::string_view separator)
{
    return fmt::format("{}", fmt::join(parts, separator));
}

bool is_utf8(std::string_view text)
{
    auto const byte_at = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
    for (std::size_t i = 0; i < text.size();) {
        unsigned const first = byte_at(i);
        std::size_t const length = first < 0x80                     ? 1
                                   : first >= 0xF0 && first <= 0xF4 ? 4
                                   : first >= 0xE0 && first < 0xF0  ? 3
                                   : first >= 0xC2 && first < 0xE0  ? 2
                                                                    : 0;
        if (length == 0 || i + length > text.size()) return false;
        for (std::size_t k = 1; k < length; ++k) {
            if ((byte_at(i + k) & 0xC0) != 0x80) return false;
        }
        if (length > 2) {
            unsigned const second = byte_at(i + 1);
            if (first == 0xE0 && second < 0xA0) return false; // longer than needed
            if (first == 0xED && second > 0x9F) return false; // surrogates
            if (first == 0xF0 && second < 0x90) return false;
            if (first == 0xF4 && second > 0x8F) return false; // beyond U+10FFFF
        }
        i += length;
    }
    return true;
}

std::vector<std::string> nearest(std::string_view wanted, std::vector<std::string> const& known)
{
    auto const distance = [](std::string_view a, std::string_view b) {
        std::vector<std::size_t> row(b.size() + 1);
        std::iota(row.begin(), row.end(), std::size_t{0});
        for (std::size_t i = 1; i <= a.size(); ++i) {
            std::size_t diagonal = row[0];
            row[0] = i;
            for (std::size_t j = 1; j <= b.size(); ++j) {
                std::size_t const substitution = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
                diagonal = row[j];
                row[j] = std::min({row[j] + 1, row[j - 1] + 1, substitution});
            }
        }
        return row[b.size()];
    };
    std::string const target = lowered(wanted);
    std::vector<std::pair<std::size_t, std::string>> found;
    for (std::string const& candidate : known) {
        std::size_t const d = distance(target, lowered(candidate));
        if (d <= std::max<std::size_t>(2, target.size() / 3)) found.emplace_back(d, candidate);
    }
    std::sort(found.begin(), found.end());
    std::vector<std::string> names;
    for (std::size_t i = 0; i < found.size() && i < 3; ++i) names.push_back(found[i].second);
    return names;
}

std::string did_you_mean(std::string_view wanted, std::vector<std::string> const& known,
                         std::string_view otherwise)
{
    auto const near = nearest(wanted, known);
    return near.empty() ? std::string(otherwise) : "; did you mean " + joined(near, ", ") + "?";
}

std::string_view plural_ending(std::int64_t count)
{
    return count == 1 ? "" : "s";
}

std::string counted(std::int64_t count, std::string_view noun, std::string_view plural)
{
    std::string text = std::to_string(count) + " ";
    if (count != 1 && !plural.empty()) return text.append(plural);
    return text.append(noun).append(plural_ending(count));
}

} // namespace guidepin
