// SPDX-License-Identifier: Apache-2.0
// What the text of one cell means. Each function sets its result and returns nullptr, or returns what is
// wrong in words that follow the value. The texts are trimmed already. Shared by all readers, so that no
// layout is laxer than another. Verified by: tests/unit/intake/cells.cpp.
#pragma once

#include "intake/number.hpp"

#include <cmath>
#include <cstdint>
#include <limits>
#include <string>
#include <string_view>

namespace guidepin::intake {

constexpr int least_wavelength_nm = 600;
constexpr int greatest_wavelength_nm = 1700;
constexpr double greatest_length_m = 200'000;

/// The longest cell of a column of ours. Names have 400 bytes at most; what is longer than this is no number,
/// no time and no list of applications either.
constexpr std::size_t longest_cell = 4096;

/// The unit that a value carries when it says none itself.
enum class LengthUnit : std::uint8_t { metres, feet, in_value };

namespace detail {
char const* other_position(std::string_view text, std::int16_t& position);
char const* other_far_position(std::string_view text, std::int16_t& position);
char const* other_wavelength(std::string_view text, std::uint16_t& wavelength_nm);
char const* other_value(std::string_view text, char decimal, bool is_power, double& value);
char const* other_length(std::string_view text, char decimal, LengthUnit unit, double& metres);

/// One to four digits and nothing else; -1 otherwise.
inline int few_digits(std::string_view text)
{
    if (text.empty() || text.size() > 4) return -1;
    unsigned number = 0;
    for (char const letter : text) {
        unsigned const digit = static_cast<unsigned char>(letter) - unsigned{'0'};
        if (digit > 9) return -1;
        number = number * 10 + digit;
    }
    return static_cast<int>(number);
}
} // namespace detail

inline bool plausible_value(double value, bool is_power)
{
    return is_power ? value >= -100 && value <= 30 : value >= -5 && value <= 80;
}

inline char const* read_position(std::string_view text, std::int16_t& position)
{
    int const number = detail::few_digits(text);
    if (number < 1 || number > 64) return detail::other_position(text, position);
    position = static_cast<std::int16_t>(number);
    return nullptr;
}

/// Empty: not stated (-1). "0", "dark": no light arrives anywhere (0).
inline char const* read_far_position(std::string_view text, std::int16_t& position)
{
    int const number = detail::few_digits(text);
    if (number < 0 || number > 64) return detail::other_far_position(text, position);
    position = static_cast<std::int16_t>(number);
    return nullptr;
}

inline char const* read_wavelength(std::string_view text, std::uint16_t& wavelength_nm)
{
    int const number = detail::few_digits(text);
    if (number < least_wavelength_nm || number > greatest_wavelength_nm) {
        return detail::other_wavelength(text, wavelength_nm);
    }
    wavelength_nm = static_cast<std::uint16_t>(number);
    return nullptr;
}

/// Attenuation in dB, or power in dBm; the unit may stand behind the number.
inline char const* read_value(std::string_view text, char decimal, bool is_power, double& value)
{
    auto const number = parse_decimal(text, decimal);
    if (!number || !plausible_value(*number, is_power))
        return detail::other_value(text, decimal, is_power, value);
    value = *number;
    return nullptr;
}

/// Metres. Empty: NaN. A unit behind the number goes before that of the header.
inline char const* read_length(std::string_view text, char decimal, LengthUnit unit, double& metres)
{
    if (text.empty()) {
        metres = std::numeric_limits<double>::quiet_NaN();
        return nullptr;
    }
    if (unit == LengthUnit::metres) {
        auto const number = parse_decimal(text, decimal);
        if (number && *number >= 0 && *number <= greatest_length_m) {
            metres = *number;
            return nullptr;
        }
    }
    return detail::other_length(text, decimal, unit, metres);
}

/// "a" or "b" in either case: 0 or 1.
inline char const* read_end(std::string_view text, std::uint8_t& end)
{
    if (text.size() == 1) {
        char const letter = static_cast<char>(text[0] | 0x20);
        if (letter == 'a' || letter == 'b') {
            end = letter == 'b' ? 1 : 0;
            return nullptr;
        }
    }
    return "is no end of a link; write a or b";
}

char const* read_count(std::string_view text, int& count); ///< 0 to 1000; empty: 0

/// Nullptr when the text may be a name: UTF-8, no control characters but line breaks and tabs, at most 400
/// bytes.
char const* name_fault(std::string_view text);

/// Without the single quotes that guard formulas (docs/formats/csv.md#formulas). `room` holds the result
/// where it is no part of `text`.
std::string_view without_guard(std::string_view text, std::string& room);

/// trimmed() for fields that are mostly tight already.
inline std::string_view tight(std::string_view text)
{
    auto const is_space = [](char letter) {
        return letter == ' ' || letter == '\t' || letter == '\r' || letter == '\n';
    };
    while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
    while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
    return text;
}

} // namespace guidepin::intake
