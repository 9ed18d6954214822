// SPDX-License-Identifier: Apache-2.0
// Oracles: std::from_chars (libstdc++ 12) and strtod of the C library in the "C" locale, bit for bit; hard
// cases from V. Paxson, "A program for testing IEEE decimal-binary conversion" (1991), tables 1 and 2 (basis
// memory), and the edges of the short way: 15 and 16 digits, 2^53. Exact: no tolerance.
#include "intake/number.hpp"

#include <bit>
#include <charconv>
#include <cstdlib>

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::intake {
namespace number_test {

std::uint64_t bits(double value)
{
    return std::bit_cast<std::uint64_t>(value);
}

void expect_as_library(std::string const& text)
{
    double library = 0;
    char const* const begin = text.data() + (text.starts_with('+') ? 1 : 0);
    auto const [end, error] = std::from_chars(begin, text.data() + text.size(), library);
    ASSERT_EQ(error, std::errc{}) << text;
    ASSERT_EQ(end, text.data() + text.size()) << text;
    auto const ours = parse_decimal(text, '.');
    ASSERT_TRUE(ours.has_value()) << text;
    EXPECT_EQ(bits(*ours), bits(library)) << text;
    EXPECT_EQ(bits(*ours), bits(std::strtod(text.c_str(), nullptr))) << text;
    std::string with_comma = text;
    for (char& letter : with_comma) letter = letter == '.' ? ',' : letter;
    auto const comma = parse_decimal(with_comma, ',');
    ASSERT_TRUE(comma.has_value()) << with_comma;
    EXPECT_EQ(bits(*comma), bits(library)) << with_comma;
}

TEST(Number, HardCases)
{
    for (char const* const text : {"0",
                                   "-0",
                                   "+0",
                                   "-0.0",
                                   "0.1",
                                   "0.3",
                                   "-0.35",
                                   "+0.35",
                                   ".5",
                                   "5.",
                                   "-.5",
                                   "1e-3",
                                   "1.5E2",
                                   "9007199254740991",
                                   "9007199254740992",
                                   "9007199254740993",
                                   "999999999999999",
                                   "0.999999999999999",
                                   "99999999999999.9",
                                   "123456789012345",
                                   "1234567890123456",
                                   "0.000000000000001",
                                   "0.0000000000000001",
                                   "1.23456789012345",
                                   "1.234567890123456",
                                   "12345678901234567890",
                                   "2.2250738585072011e-308",
                                   "1.7976931348623157e308",
                                   "8.98846567431158e307",
                                   "4.9e-324",
                                   "5e-20",
                                   "67e14",
                                   "985e15",
                                   "7693e-42",
                                   "55895e-16",
                                   "996622e-44",
                                   "7038531e-32",
                                   "60419369e-46",
                                   "702990899e-20",
                                   "6930161142e-48",
                                   "25933168707e-13",
                                   "596428896559e20",
                                   "0.5000000000000000000001",
                                   "00000000000000000000000000000.25"}) {
        expect_as_library(text);
    }
}

TEST(Number, WhatIsNoNumber)
{
    for (char const* const text : {"",
                                   "+",
                                   "-",
                                   ".",
                                   "-.",
                                   "1.2.3",
                                   "1,2",
                                   "nan",
                                   "inf",
                                   "-inf",
                                   "0x10",
                                   "1 ",
                                   " 1",
                                   "--1",
                                   "+-1",
                                   "1e",
                                   "e5",
                                   "1e400",
                                   "12345678901234567.1.2",
                                   "1_000",
                                   "½"}) {
        EXPECT_FALSE(parse_decimal(text, '.').has_value()) << text;
    }
    EXPECT_FALSE(parse_decimal("1.2", ',').has_value());
    EXPECT_FALSE(parse_decimal("1.234,5", ',').has_value());
    EXPECT_FALSE(parse_decimal("1,2,3", ',').has_value());
}

RC_GTEST_PROP(Number, AsTheLibraryOnRandomDecimals, ())
{
    auto const whole = *rc::gen::inRange<std::uint64_t>(0, 100'000'000'000'000'000ULL);
    int const decimals = *rc::gen::inRange(0, 20);
    std::string digits = fmt::format("{:020}", whole);
    digits.erase(0, *rc::gen::inRange<std::size_t>(0, 19));
    if (decimals > 0 && static_cast<std::size_t>(decimals) <= digits.size()) {
        digits.insert(digits.size() - static_cast<std::size_t>(decimals), ".");
    }
    std::string const text = (*rc::gen::arbitrary<bool>() ? "-" : "") + digits;
    double library = 0;
    std::from_chars(text.data(), text.data() + text.size(), library);
    auto const ours = parse_decimal(text, '.');
    RC_ASSERT(ours.has_value());
    RC_ASSERT(bits(*ours) == bits(library));
}

RC_GTEST_PROP(Number, AsTheLibraryOnRandomText, ())
{
    auto const text = *rc::gen::container<std::string>(rc::gen::elementOf(std::string("0123456789.-+eE,")));
    double library = 0;
    bool const plus = text.starts_with('+') && !text.starts_with("++");
    std::string_view const part = plus ? std::string_view(text).substr(1) : std::string_view(text);
    auto const [end, error] = std::from_chars(part.data(), part.data() + part.size(), library);
    bool const is_number = !part.empty() && error == std::errc{} && end == part.data() + part.size() &&
                           !(plus && part.starts_with('-'));
    auto const ours = parse_decimal(text, '.');
    RC_ASSERT(ours.has_value() == is_number);
    if (is_number) RC_ASSERT(bits(*ours) == bits(library));
}

} // namespace number_test
} // namespace guidepin::intake
