// SPDX-License-Identifier: Apache-2.0
// Decimal numbers of a file, exactly rounded. Short ones (up to 15 digits) need one integer and one division:
// both are exact doubles and IEEE division rounds once, so the result is the nearest double (W. D. Clinger,
// "How to read floating point numbers accurately", 1990, section 3). The rest goes to the standard library.
// Verified by: tests/oracle/intake/number.cpp (std::from_chars and strtod on hard and random cases).
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>

namespace guidepin::intake {

namespace detail {
constexpr std::array<double, 16> powers_of_ten{1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                               1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
std::optional<double> long_decimal(std::string_view text, char mark);
} // namespace detail

/// The whole text as a number: sign, digits, one decimal `mark` ('.' or ','), exponent; no unit, no space, no
/// thousands, no "nan", no "inf".
inline std::optional<double> parse_decimal(std::string_view text, char mark)
{
    char const* at = text.data();
    char const* const end = at + text.size();
    bool negative = false;
    if (at != end && (*at == '-' || *at == '+')) negative = *at++ == '-';
    if (end - at > 16) return detail::long_decimal(text, mark);
    std::uint64_t digits = 0;
    char const* const first = at;
    char const* after_mark = nullptr;
    for (; at != end; ++at) {
        unsigned const digit = static_cast<unsigned char>(*at) - unsigned{'0'};
        if (digit <= 9) {
            digits = digits * 10 + digit;
        } else if (*at == mark && after_mark == nullptr) {
            after_mark = at + 1;
        } else {
            return detail::long_decimal(text, mark);
        }
    }
    auto const count = (end - first) - (after_mark != nullptr ? 1 : 0);
    if (count == 0 || count > 15) return detail::long_decimal(text, mark);
    auto value = static_cast<double>(digits);
    if (after_mark != nullptr) value /= detail::powers_of_ten[static_cast<std::size_t>(end - after_mark)];
    return negative ? -value : value;
}

} // namespace guidepin::intake
