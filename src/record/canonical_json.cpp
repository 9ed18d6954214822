// SPDX-License-Identifier: Apache-2.0
#include "record/canonical_json.hpp"

#include "record/json_scan.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace guidepin::record {

namespace {

constexpr double largest_integer = 9007199254740992.0; // 2^53: beyond it doubles skip integers

bool needs_escape(unsigned char byte)
{
    return byte < 0x20 || byte == '"' || byte == '\\';
}

/// Appends a whole number scaled by 10^-decimals, without trailing zeros.
void append_scaled(std::string& text, std::int64_t scaled, int decimals)
{
    if (scaled < 0) {
        text += '-';
        scaled = -scaled;
    }
    char digits[24];
    char* const end = digits + sizeof digits;
    char* first = end;
    int left = decimals;
    while (left > 0 && scaled % 10 == 0) {
        scaled /= 10;
        --left;
    }
    if (left > 0) {
        for (; left > 0; --left) {
            *--first = static_cast<char>('0' + scaled % 10);
            scaled /= 10;
        }
        *--first = '.';
    }
    do {
        *--first = static_cast<char>('0' + scaled % 10);
        scaled /= 10;
    } while (scaled > 0);
    text.append(first, static_cast<std::size_t>(end - first));
}

/// UTF-16 puts U+10000 and above (surrogates, D800 to DFFF) before U+E000 to U+FFFF; UTF-8 the other way
/// round.
unsigned utf16_weight(char letter)
{
    auto const byte = static_cast<unsigned char>(letter);
    if (byte == 0xEE || byte == 0xEF) return byte + 0x10U;
    return byte;
}

} // namespace

bool canonical_less(std::string_view left, std::string_view right)
{
    auto const [l, r] = std::mismatch(left.begin(), left.end(), right.begin(), right.end());
    if (r == right.end()) return false;
    if (l == left.end()) return true;
    return utf16_weight(*l) < utf16_weight(*r);
}

void append_number(std::string& text, double value)
{
    if (value == 0) { // minus zero too
        text += '0';
        return;
    }
    // Three decimals cover nearly all readings. scaled / 1000 is the double nearest to a decimal of at most
    // 15 digits; no two such decimals share a double, so when it is `value`, that decimal is the shortest.
    double const scaled = std::nearbyint(value * 1000);
    if (std::fabs(scaled) < 1e15 && scaled / 1000 == value) {
        append_scaled(text, static_cast<std::int64_t>(scaled), 3);
        return;
    }
    // Shortest digits d.ddd e±x, laid out as ECMA-262 Number::toString says: k digits, decimal exponent n.
    char buffer[40];
    auto const end = std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::scientific).ptr;
    std::string_view token(buffer, static_cast<std::size_t>(end - buffer));
    if (token.front() == '-') {
        text += '-';
        token.remove_prefix(1);
    }
    auto const exponent_at = token.find('e');
    std::string digits(1, token.front());
    if (exponent_at > 1) digits += token.substr(2, exponent_at - 2);
    std::string_view exponent_text = token.substr(exponent_at + 1);
    if (exponent_text.front() == '+') exponent_text.remove_prefix(1);
    int exponent = 0;
    std::from_chars(exponent_text.data(), exponent_text.data() + exponent_text.size(), exponent);
    int const n = exponent + 1;
    int const k = static_cast<int>(digits.size());
    if (k <= n && n <= 21) {
        text += digits;
        text.append(static_cast<std::size_t>(n - k), '0');
    } else if (0 < n && n <= 21) {
        text.append(digits, 0, static_cast<std::size_t>(n));
        text += '.';
        text.append(digits, static_cast<std::size_t>(n), std::string::npos);
    } else if (-6 < n && n <= 0) {
        text += "0.";
        text.append(static_cast<std::size_t>(-n), '0');
        text += digits;
    } else {
        text += digits.front();
        if (k > 1) {
            text += '.';
            text.append(digits, 1, std::string::npos);
        }
        text += 'e';
        text += n > 0 ? '+' : '-';
        append_scaled(text, std::abs(n - 1), 0);
    }
}

void detail::append_quoted(std::string& out, std::string_view text)
{
    static constexpr char hex[] = "0123456789abcdef";
    out += '"';
    std::size_t plain = 0;
    for (std::size_t i = 0; i < text.size(); ++i) {
        auto const byte = static_cast<unsigned char>(text[i]);
        if (!needs_escape(byte)) continue;
        out.append(text, plain, i - plain);
        plain = i + 1;
        switch (byte) {
        case '"':
            out += "\\\"";
            break;
        case '\\':
            out += "\\\\";
            break;
        case '\b':
            out += "\\b";
            break;
        case '\f':
            out += "\\f";
            break;
        case '\n':
            out += "\\n";
            break;
        case '\r':
            out += "\\r";
            break;
        case '\t':
            out += "\\t";
            break;
        default:
            out += "\\u00";
            out += hex[byte >> 4];
            out += hex[byte & 15];
        }
    }
    out.append(text, plain);
    out += '"';
}

void JsonWriter::fail(std::string reason)
{
    if (failure_.empty()) failure_ = std::move(reason);
}

void JsonWriter::before_value()
{
    if (after_key_) {
        after_key_ = false;
        return;
    }
    if (levels_.empty()) {
        assert(text_.empty() && "one value only");
        return;
    }
    Level& level = levels_.back();
    assert(!level.is_object && "a key has to come first");
    if (!level.empty) text_ += ',';
    level.empty = false;
}

JsonWriter& JsonWriter::begin_object()
{
    before_value();
    text_ += '{';
    levels_.push_back({members_.size(), keys_.size(), true, true, true});
    return *this;
}

JsonWriter& JsonWriter::key(std::string_view name)
{
    assert(!levels_.empty() && levels_.back().is_object && !after_key_);
    if (!is_utf8(name)) fail("a key is not UTF-8");
    Level& level = levels_.back();
    if (!level.empty) {
        text_ += ',';
        Member const& last = members_.back();
        if (!canonical_less({keys_.data() + last.key_start, last.key_size}, name)) level.sorted = false;
    }
    level.empty = false;
    members_.push_back({keys_.size(), name.size(), text_.size()});
    keys_ += name;
    detail::append_quoted(text_, name);
    text_ += ':';
    after_key_ = true;
    return *this;
}

void JsonWriter::sort_members(Level const& level)
{
    auto const first = members_.begin() + static_cast<std::ptrdiff_t>(level.first_member);
    auto const key_text = [&](Member const& member) {
        return std::string_view(keys_).substr(member.key_start, member.key_size);
    };
    struct Piece
    {
        std::string_view key, text;
    };
    std::vector<Piece> pieces;
    std::size_t const start = first->text_start;
    std::string const written = text_.substr(start);
    for (auto at = first; at != members_.end(); ++at) {
        std::size_t const end =
            at + 1 == members_.end() ? text_.size() : (at + 1)->text_start - 1; // without the comma
        pieces.push_back(
            {key_text(*at), std::string_view(written).substr(at->text_start - start, end - at->text_start)});
    }
    std::stable_sort(pieces.begin(), pieces.end(),
                     [](Piece const& a, Piece const& b) { return canonical_less(a.key, b.key); });
    text_.resize(start);
    for (std::size_t i = 0; i < pieces.size(); ++i) {
        if (i > 0) {
            if (pieces[i].key == pieces[i - 1].key)
                fail(fmt::format("key \"{}\" comes twice", pieces[i].key));
            text_ += ',';
        }
        text_ += pieces[i].text;
    }
}

JsonWriter& JsonWriter::end_object()
{
    assert(!levels_.empty() && levels_.back().is_object && !after_key_);
    Level const level = levels_.back();
    levels_.pop_back();
    if (!level.sorted) sort_members(level);
    members_.resize(level.first_member);
    keys_.resize(level.first_key);
    text_ += '}';
    return *this;
}

JsonWriter& JsonWriter::begin_array()
{
    before_value();
    text_ += '[';
    levels_.push_back({members_.size(), keys_.size(), false, true, true});
    return *this;
}

JsonWriter& JsonWriter::end_array()
{
    assert(!levels_.empty() && !levels_.back().is_object);
    levels_.pop_back();
    text_ += ']';
    return *this;
}

JsonWriter& JsonWriter::string(std::string_view text)
{
    before_value();
    if (!is_utf8(text)) fail("a text is not UTF-8");
    detail::append_quoted(text_, text);
    return *this;
}

JsonWriter& JsonWriter::number(double value)
{
    before_value();
    if (std::isfinite(value)) {
        append_number(text_, value);
    } else {
        fail("a number is not finite");
        text_ += "null";
    }
    return *this;
}

JsonWriter& JsonWriter::number_or_null(double value)
{
    return std::isnan(value) ? null() : number(value);
}

JsonWriter& JsonWriter::integer(std::int64_t value)
{
    before_value();
    if (value > static_cast<std::int64_t>(largest_integer) ||
        value < -static_cast<std::int64_t>(largest_integer)) {
        fail(fmt::format("integer {} is beyond 2^53 and would not survive JSON", value));
        value = 0;
    }
    append_scaled(text_, value, 0);
    return *this;
}

JsonWriter& JsonWriter::boolean(bool value)
{
    before_value();
    text_ += value ? "true" : "false";
    return *this;
}

JsonWriter& JsonWriter::null()
{
    before_value();
    text_ += "null";
    return *this;
}

Result<std::string> JsonWriter::finish()
{
    assert(levels_.empty() && !after_key_ && !text_.empty());
    std::string text = std::move(text_);
    std::string const failure = std::move(failure_);
    *this = JsonWriter{};
    if (!failure.empty()) return Error{Errc::invalid_input, "JSON: " + failure};
    return text;
}

void write_value(JsonWriter& json, JsonValue const& value)
{
    if (auto const* boolean = value.boolean()) {
        json.boolean(*boolean);
    } else if (auto const* number = value.number()) {
        json.number(*number);
    } else if (auto const* text = value.string()) {
        json.string(*text);
    } else if (auto const* array = value.array()) {
        json.begin_array();
        for (JsonValue const& element : *array) write_value(json, element);
        json.end_array();
    } else if (auto const* object = value.object()) {
        json.begin_object();
        for (auto const& member : *object) {
            json.key(member.first);
            write_value(json, member.second);
        }
        json.end_object();
    } else {
        json.null();
    }
}

Result<std::string> canonical_json(JsonValue const& value)
{
    JsonWriter json;
    write_value(json, value);
    return json.finish();
}

} // namespace guidepin::record
