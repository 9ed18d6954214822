// SPDX-License-Identifier: Apache-2.0
// Oracle: RFC 8785 (June 2020), "JSON Canonicalization Scheme (JCS)": section 3.2.2 (primitive types), 3.2.3
// (sorting), appendix B (numbers, given as IEEE 754 bit patterns). Exact: the RFC states bytes.
#include "record/canonical_json.hpp"

#include <bit>
#include <cmath>
#include <limits>

#include <gtest/gtest.h>

namespace guidepin::record {
namespace canonical_json_test {

// RFC 8785 section 3.2.2: the input of the first example, and the output of section 3.2.3.
TEST(CanonicalJsonRfc8785, PrimitiveTypes)
{
    std::string_view const input = R"({
  "numbers": [333333333.33333329, 1E30, 4.50,
              2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
})";
    auto const canonical = canonicalised(input);
    ASSERT_TRUE(canonical) << canonical.error().message;
    EXPECT_EQ(*canonical,
              "{\"literals\":[null,true,false],\"numbers\":[333333333.3333333,1e+30,4.5,0.002,1e-27],"
              "\"string\":\"\xE2\x82\xAC$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}");
    // Section 3.2.4 prints the same result as UTF-8 bytes; its first and last rows:
    std::string_view const bytes = *canonical;
    EXPECT_EQ(bytes.substr(0, 4), "\x7b\x22\x6c\x69");
    EXPECT_EQ(bytes.substr(bytes.size() - 4), "\x22\x2f\x22\x7d");
}

// RFC 8785 section 3.2.3: the expected argument order of the second example.
TEST(CanonicalJsonRfc8785, SortingByUtf16)
{
    auto const canonical = canonicalised(R"({
  "\u20ac": "Euro Sign",
  "\r": "Carriage Return",
  "\ufb33": "Hebrew Letter Dalet With Dagesh",
  "1": "One",
  "\ud83d\ude00": "Emoji: Grinning Face",
  "\u0080": "Control",
  "\u00f6": "Latin Small Letter O With Diaeresis"
})");
    ASSERT_TRUE(canonical) << canonical.error().message;
    std::string_view const text = *canonical;
    std::size_t last = 0;
    for (char const* name : {"Carriage Return", "One", "Control", "Latin Small Letter O With Diaeresis",
                             "Euro Sign", "Emoji: Grinning Face", "Hebrew Letter Dalet With Dagesh"}) {
        auto const at = text.find(name);
        ASSERT_NE(at, std::string_view::npos) << name;
        EXPECT_GE(at, last) << name << " stands too early";
        last = at;
    }
}

struct NumberRow
{
    std::uint64_t bits;
    char const* text;
};

// RFC 8785 appendix B, all rows with a JSON representation.
constexpr NumberRow appendix_b[] = {
    {0x0000000000000000, "0"},
    {0x8000000000000000, "0"},
    {0x0000000000000001, "5e-324"},
    {0x8000000000000001, "-5e-324"},
    {0x7fefffffffffffff, "1.7976931348623157e+308"},
    {0xffefffffffffffff, "-1.7976931348623157e+308"},
    {0x4340000000000000, "9007199254740992"},
    {0xc340000000000000, "-9007199254740992"},
    {0x4430000000000000, "295147905179352830000"},
    {0x44b52d02c7e14af5, "9.999999999999997e+22"},
    {0x44b52d02c7e14af6, "1e+23"},
    {0x44b52d02c7e14af7, "1.0000000000000001e+23"},
    {0x444b1ae4d6e2ef4e, "999999999999999700000"},
    {0x444b1ae4d6e2ef4f, "999999999999999900000"},
    {0x444b1ae4d6e2ef50, "1e+21"},
    {0x3eb0c6f7a0b5ed8c, "9.999999999999997e-7"},
    {0x3eb0c6f7a0b5ed8d, "0.000001"},
    {0x41b3de4355555553, "333333333.3333332"},
    {0x41b3de4355555554, "333333333.33333325"},
    {0x41b3de4355555555, "333333333.3333333"},
    {0x41b3de4355555556, "333333333.3333334"},
    {0x41b3de4355555557, "333333333.33333343"},
    {0xbecbf647612f3696, "-0.0000033333333333333333"},
    {0x43143ff3c1cb0959, "1424953923781206.2"},
};

TEST(CanonicalJsonRfc8785, AppendixBNumbers)
{
    for (NumberRow const& row : appendix_b) {
        std::string text;
        append_number(text, std::bit_cast<double>(row.bits));
        EXPECT_EQ(text, row.text) << std::hex << row.bits;
        auto const again = canonicalised(text);
        ASSERT_TRUE(again) << text;
        EXPECT_EQ(*again, row.text);
        EXPECT_TRUE(require_canonical(text)) << text;
    }
}

// RFC 8785 appendix B, last rows: NaN and Infinity have no JSON form and are an error.
TEST(CanonicalJsonRfc8785, NotANumberIsAnError)
{
    for (double const value : {std::bit_cast<double>(std::uint64_t{0x7fffffffffffffff}),
                               std::numeric_limits<double>::infinity()}) {
        JsonWriter json;
        auto const text = json.number(value).finish();
        ASSERT_FALSE(text);
        EXPECT_EQ(text.error().code, Errc::invalid_input);
    }
}

// RFC 8785 section 3.1 with RFC 7493: what canonical form cannot be made of.
TEST(CanonicalJsonRfc8785, RefusesWhatIsNotIJson)
{
    for (std::string_view const text :
         {R"({"a":1,"a":2})", R"("\ud800")", R"("\udc00x")", "\"\xff\"", "1e999", "-1e400"}) {
        EXPECT_FALSE(canonicalised(text)) << text;
    }
}

} // namespace canonical_json_test
} // namespace guidepin::record
