// SPDX-License-Identifier: Apache-2.0
#include "record/canonical_json.hpp"

#include "base/text.hpp"

#include <bit>
#include <cmath>
#include <cstdlib>

#include <map>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::record {
namespace canonical_json_test {

std::string canonical_or_error(std::string_view text)
{
    auto const result = canonicalised(text);
    return result ? *result : "error: " + result.error().message;
}

rc::Gen<std::string> any_text()
{
    // Letters of one to four UTF-8 bytes, controls and what is escaped.
    return rc::gen::map(
        rc::gen::container<std::vector<std::string>>(rc::gen::element<std::string>(
            "a", "Z", "0", " ", "\"", "\\", "/", "\n", std::string(1, '\x01'), "\x7f", "\xC3\xB6",
            "\xE2\x82\xAC", "\xEE\x80\x80", "\xEF\xAC\xB3", "\xF0\x9F\x98\x80", "\xF4\x8F\xBF\xBF")),
        [](std::vector<std::string> const& parts) { return joined(parts, ""); });
}

double any_double()
{
    while (true) {
        auto const value = std::bit_cast<double>(*rc::gen::arbitrary<std::uint64_t>());
        if (std::isfinite(value)) return value;
    }
}

JsonValue any_value(int depth)
{
    switch (*rc::gen::inRange(0, depth > 0 ? 7 : 5)) {
    case 0:
        return JsonValue();
    case 1:
        return JsonValue(*rc::gen::arbitrary<bool>());
    case 2:
        return JsonValue(any_double());
    case 3:
        return JsonValue(static_cast<double>(*rc::gen::inRange(-100000, 100000)) / 1000);
    case 4:
        return JsonValue(*any_text());
    case 5: {
        JsonValue::Array elements;
        for (int i = *rc::gen::inRange(0, 4); i > 0; --i) elements.push_back(any_value(depth - 1));
        return JsonValue(std::move(elements));
    }
    default: {
        std::map<std::string, JsonValue> members;
        for (int i = *rc::gen::inRange(0, 5); i > 0; --i)
            members.insert_or_assign(*any_text(), any_value(depth - 1));
        JsonWriter json; // sorts
        json.begin_object();
        for (auto const& [key, value] : members) {
            json.key(key);
            write_value(json, value);
        }
        json.end_object();
        auto const text = json.finish();
        RC_ASSERT(text.has_value());
        auto value = parse_json(*text);
        RC_ASSERT(value.has_value());
        return *value;
    }
    }
}

RC_GTEST_PROP(CanonicalJson, ReadsBackAndIsAFixedPoint, ())
{
    JsonValue const value = any_value(3);
    auto const text = canonical_json(value);
    RC_ASSERT(text.has_value());
    auto const parsed = parse_json(*text);
    RC_ASSERT(parsed.has_value());
    RC_ASSERT(*parsed == value); // -0 and 0 compare equal
    RC_ASSERT(canonical_json(*parsed).value() == *text);
    RC_ASSERT(canonicalised(*text).value() == *text);
    RC_ASSERT(require_canonical(*text).has_value());
}

// Oracle: the C library's strtod reads what we wrote; no shorter digits do (checked by dropping the last
// digit).
RC_GTEST_PROP(CanonicalJson, NumbersAreShortestAndReadBack, ())
{
    bool const plain = *rc::gen::arbitrary<bool>();
    double const value = plain ? static_cast<double>(*rc::gen::arbitrary<std::int32_t>()) /
                                     *rc::gen::element(1.0, 10.0, 1000.0, 100000.0)
                               : any_double();
    std::string text;
    append_number(text, value);
    RC_ASSERT(std::strtod(text.c_str(), nullptr) == value);
    RC_ASSERT(require_canonical(text).has_value());
    auto const mantissa_end = std::min(text.find('e'), text.size());
    if (text.find('.') != std::string::npos) {
        std::string shorter = text;
        shorter.erase(mantissa_end - 1, 1);
        RC_ASSERT(std::strtod(shorter.c_str(), nullptr) != value);
    }
}

RC_GTEST_PROP(CanonicalJson, KeysAreInUtf16Order, ())
{
    // Oracle: code points to UTF-16 units, compared unit by unit.
    auto const utf16 = [](std::string const& text) {
        std::u16string units;
        for (std::size_t i = 0; i < text.size();) {
            auto const byte = [&](std::size_t k) {
                return static_cast<unsigned>(static_cast<unsigned char>(text[i + k]));
            };
            unsigned point = byte(0);
            std::size_t size = 1;
            if (point >= 0xF0) {
                point = (point & 7) << 18 | (byte(1) & 63) << 12 | (byte(2) & 63) << 6 | (byte(3) & 63);
                size = 4;
            } else if (point >= 0xE0) {
                point = (point & 15) << 12 | (byte(1) & 63) << 6 | (byte(2) & 63);
                size = 3;
            } else if (point >= 0xC0) {
                point = (point & 31) << 6 | (byte(1) & 63);
                size = 2;
            }
            i += size;
            if (point < 0x10000) {
                units += static_cast<char16_t>(point);
            } else {
                units += static_cast<char16_t>(0xD800 + ((point - 0x10000) >> 10));
                units += static_cast<char16_t>(0xDC00 + ((point - 0x10000) & 0x3FF));
            }
        }
        return units;
    };
    std::string const left = *any_text();
    std::string const right = *any_text();
    RC_ASSERT(canonical_less(left, right) == (utf16(left) < utf16(right)));
}

TEST(CanonicalJson, WriterSortsMembers)
{
    JsonWriter json;
    json.begin_object().key("b").begin_array().integer(1).number(0.25).end_array();
    json.key("a").begin_object().key("z").null().key("y").boolean(true).end_object();
    json.key("ab").string("x").key("").integer(-7).end_object();
    auto const text = json.finish();
    ASSERT_TRUE(text);
    EXPECT_EQ(*text, R"({"":-7,"a":{"y":true,"z":null},"ab":"x","b":[1,0.25]})");
}

TEST(CanonicalJson, WriterRefuses)
{
    EXPECT_FALSE(JsonWriter().string("\xC3").finish());
    EXPECT_FALSE(JsonWriter().integer(9007199254740993).finish());
    EXPECT_TRUE(JsonWriter().integer(9007199254740992).finish());
    EXPECT_FALSE(
        JsonWriter().begin_object().key("a").null().key("b").null().key("a").null().end_object().finish());
    EXPECT_FALSE(JsonWriter().begin_object().key("a").null().key("a").null().end_object().finish());
    EXPECT_EQ(JsonWriter().number_or_null(std::nan("")).finish().value(), "null");
}

TEST(CanonicalJson, RefusesWhatIsNotJson)
{
    for (std::string_view const text : {"",
                                        " ",
                                        "{",
                                        "}",
                                        "[1,]",
                                        "{\"a\":1,}",
                                        "{a:1}",
                                        "01",
                                        "-",
                                        "1.",
                                        ".5",
                                        "1e",
                                        "+1",
                                        "nul",
                                        "tru",
                                        "\"",
                                        "\"\\x\"",
                                        "\"\\u12\"",
                                        "[1 2]",
                                        "1 2",
                                        "\"\n\"",
                                        "NaN",
                                        "Infinity",
                                        "'a'",
                                        "\xEF\xBB\xBF{}",
                                        "[1]]",
                                        "{\"a\" 1}",
                                        "\"\\ud83dx\"",
                                        "\"\xED\xA0\x80\""}) {
        EXPECT_FALSE(parse_json(text)) << text;
        EXPECT_FALSE(canonicalised(text)) << text;
        EXPECT_FALSE(require_canonical(text)) << text;
    }
    EXPECT_FALSE(parse_json(std::string(200, '[') + std::string(200, ']')));
    EXPECT_TRUE(parse_json(std::string(100, '[') + std::string(100, ']')));
}

TEST(CanonicalJson, CheckFindsEveryDeparture)
{
    for (std::string_view const text : {" {}",
                                        "{ }",
                                        "[1, 2]",
                                        R"({"b":1,"a":2})",
                                        R"({"a":1,"a":2})",
                                        "1.0",
                                        "-0",
                                        "-0.0",
                                        "1e2",
                                        "1E21",
                                        "1e21",
                                        "0.0000001",
                                        "100000000000000000000000",
                                        R"("\/")",
                                        R"("\u0041")",
                                        R"("\u000A")",
                                        R"("\u001F")",
                                        "0.1000000000000000055511151231257827",
                                        "[0.10]",
                                        "12345678901234567890"}) {
        EXPECT_FALSE(require_canonical(text)) << text;
    }
    for (std::string_view const text :
         {"{}", "[1,2]", R"({"a":{"z":1},"b":{"a":2}})", "0.1", "-0.000001", "1e-7", "1e+21", R"("\u001f\n")",
          "123456789012345", R"([{"b":1},{"a":1}])", R"({"a":[{"z":1},{"a":1}],"b":0})"}) {
        auto const held = require_canonical(text);
        EXPECT_TRUE(held) << text << ": " << held.error().message;
    }
}

TEST(CanonicalJson, ReadsNumbersOutOfRangeAsEcmascriptDoes)
{
    EXPECT_EQ(canonical_or_error("1e-400"), "0");
    EXPECT_EQ(canonical_or_error("-1e-99999999999999999999"), "0");
    EXPECT_EQ(canonical_or_error("0." + std::string(400, '0') + "1"), "0");
    EXPECT_FALSE(canonicalised("1" + std::string(400, '0') + ".5"));
    EXPECT_FALSE(canonicalised("0.5e400"));
}

TEST(CanonicalJson, MembersByTypeWithMessages)
{
    auto const value = parse_json(R"({"count":3,"loss":0.31,"link":"A-1","ok":true,"none":null})");
    ASSERT_TRUE(value);
    EXPECT_EQ(value->integer_of("count").value(), 3);
    EXPECT_EQ(value->number_of("loss").value(), 0.31);
    EXPECT_EQ(value->text_of("link").value(), "A-1");
    EXPECT_EQ(value->boolean_of("ok").value(), true);
    EXPECT_EQ(value->text_or("none", "-"), "-");
    EXPECT_EQ(value->integer_or("loss", 9), 9);
    auto const wrong = value->integer_of("loss");
    ASSERT_FALSE(wrong);
    EXPECT_NE(wrong.error().message.find("\"loss\""), std::string::npos);
    EXPECT_EQ(value->find("absent"), nullptr);
}

} // namespace canonical_json_test
} // namespace guidepin::record
