// SPDX-License-Identifier: Apache-2.0
// The one strict scanner of JSON text behind parse_json(), canonicalised() and require_canonical(). For this
// room alone.
#pragma once

#include "record/canonical_json.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::record::detail {

constexpr std::size_t most_levels = 100;

/// Calls `handler` for what it meets, in order:
///   bool begin_object(), end_object(), begin_array(), end_array(), boolean(bool), null()
///   bool key(raw, text), string(raw, text)   raw: between the quotes, as written; text: what it means
///   bool number(token)                       grammar checked, value not
///   bool space()                             white space was skipped
/// A handler that returns false has set its own reason.
template <class Handler>
class JsonScanner
{
  public:
    JsonScanner(std::string_view text, Handler& handler)
        : text_(text)
        , handler_(handler)
    {
    }

    Outcome scan()
    {
        bool const good = skip_space() && value(0) && skip_space();
        if (good && at_ == text_.size()) return {};
        if (good) reason_ = "nothing may follow the value";
        if (reason_.empty()) reason_ = handler_.reason;
        return Error{Errc::invalid_input, fmt::format("JSON: byte {}: {}", at_, reason_)};
    }

  private:
    bool fail(char const* reason)
    {
        reason_ = reason;
        return false;
    }
    bool ended() const { return at_ >= text_.size(); }
    char here() const { return ended() ? '\0' : text_[at_]; }

    bool skip_space()
    {
        std::size_t const start = at_;
        while (!ended() &&
               (text_[at_] == ' ' || text_[at_] == '\n' || text_[at_] == '\r' || text_[at_] == '\t'))
            ++at_;
        return at_ == start || handler_.space();
    }

    bool literal(std::string_view word)
    {
        if (text_.substr(at_, word.size()) != word) return fail("a value was expected");
        at_ += word.size();
        return true;
    }

    bool value(std::size_t level)
    {
        switch (here()) {
        case '{':
            return object(level);
        case '[':
            return array(level);
        case '"': {
            std::string_view raw, meant;
            return quoted(raw, meant) && handler_.string(raw, meant);
        }
        case 't':
            return literal("true") && handler_.boolean(true);
        case 'f':
            return literal("false") && handler_.boolean(false);
        case 'n':
            return literal("null") && handler_.null();
        default:
            return number();
        }
    }

    bool object(std::size_t level)
    {
        if (level >= most_levels) return fail("nested too deeply");
        ++at_;
        if (!handler_.begin_object() || !skip_space()) return false;
        if (here() == '}') {
            ++at_;
            return handler_.end_object();
        }
        while (true) {
            if (here() != '"') return fail("a key in quotes was expected");
            std::string_view raw, meant;
            if (!quoted(raw, meant) || !handler_.key(raw, meant) || !skip_space()) return false;
            if (here() != ':') return fail("a colon was expected");
            ++at_;
            if (!skip_space() || !value(level + 1) || !skip_space()) return false;
            char const next = here();
            if (next != ',' && next != '}') return fail("a comma or the end of the object was expected");
            ++at_;
            if (next == '}') return handler_.end_object();
            if (!skip_space()) return false;
        }
    }

    bool array(std::size_t level)
    {
        if (level >= most_levels) return fail("nested too deeply");
        ++at_;
        if (!handler_.begin_array() || !skip_space()) return false;
        if (here() == ']') {
            ++at_;
            return handler_.end_array();
        }
        while (true) {
            if (!value(level + 1) || !skip_space()) return false;
            char const next = here();
            if (next != ',' && next != ']') return fail("a comma or the end of the array was expected");
            ++at_;
            if (next == ']') return handler_.end_array();
            if (!skip_space()) return false;
        }
    }

    bool digits()
    {
        std::size_t const start = at_;
        while (here() >= '0' && here() <= '9') ++at_;
        return at_ > start || fail("a digit was expected");
    }

    bool number()
    {
        std::size_t const start = at_;
        if (here() == '-') ++at_;
        if (here() == '0') {
            ++at_;
            if (here() >= '0' && here() <= '9') return fail("a number may not begin with 0");
        } else if (here() >= '1' && here() <= '9') {
            digits();
        } else {
            return fail(at_ == start ? "a value was expected" : "a digit was expected");
        }
        if (here() == '.') {
            ++at_;
            if (!digits()) return false;
        }
        if (here() == 'e' || here() == 'E') {
            ++at_;
            if (here() == '+' || here() == '-') ++at_;
            if (!digits()) return false;
        }
        return handler_.number(text_.substr(start, at_ - start));
    }

    bool four_digits(unsigned& unit)
    {
        if (at_ + 4 > text_.size()) return fail("four hexadecimal digits were expected");
        auto const [end, code] = std::from_chars(text_.data() + at_, text_.data() + at_ + 4, unit, 16);
        if (code != std::errc{} || end != text_.data() + at_ + 4)
            return fail("four hexadecimal digits were expected");
        at_ += 4;
        return true;
    }

    void append_utf8(unsigned point)
    {
        auto const add = [&](unsigned byte) { buffer_ += static_cast<char>(byte); };
        if (point < 0x80) {
            add(point);
        } else if (point < 0x800) {
            add(0xC0 | (point >> 6));
            add(0x80 | (point & 0x3F));
        } else if (point < 0x10000) {
            add(0xE0 | (point >> 12));
            add(0x80 | ((point >> 6) & 0x3F));
            add(0x80 | (point & 0x3F));
        } else {
            add(0xF0 | (point >> 18));
            add(0x80 | ((point >> 12) & 0x3F));
            add(0x80 | ((point >> 6) & 0x3F));
            add(0x80 | (point & 0x3F));
        }
    }

    bool escape()
    {
        char const letter = here();
        ++at_;
        switch (letter) {
        case '"':
            buffer_ += '"';
            return true;
        case '\\':
            buffer_ += '\\';
            return true;
        case '/':
            buffer_ += '/';
            return true;
        case 'b':
            buffer_ += '\b';
            return true;
        case 'f':
            buffer_ += '\f';
            return true;
        case 'n':
            buffer_ += '\n';
            return true;
        case 'r':
            buffer_ += '\r';
            return true;
        case 't':
            buffer_ += '\t';
            return true;
        case 'u':
            break;
        default:
            return fail("unknown escape in a string");
        }
        unsigned unit = 0;
        if (!four_digits(unit)) return false;
        if (unit >= 0xDC00 && unit <= 0xDFFF) return fail("a low surrogate without a high one");
        if (unit >= 0xD800 && unit <= 0xDBFF) {
            if (text_.substr(at_, 2) != "\\u") return fail("a high surrogate without a low one");
            at_ += 2;
            unsigned low = 0;
            if (!four_digits(low)) return false;
            if (low < 0xDC00 || low > 0xDFFF) return fail("a high surrogate without a low one");
            unit = 0x10000 + ((unit - 0xD800) << 10) + (low - 0xDC00);
        }
        append_utf8(unit);
        return true;
    }

    bool quoted(std::string_view& raw, std::string_view& meant)
    {
        std::size_t const start = ++at_;
        std::size_t plain = start; // what from here on is not yet in the buffer
        bool escaped = false, ascii = true;
        while (true) {
            if (ended()) return fail("a string without an end");
            auto const byte = static_cast<unsigned char>(text_[at_]);
            if (byte == '"') break;
            if (byte < 0x20) return fail("a control character in a string");
            if (byte >= 0x80) ascii = false;
            ++at_;
            if (byte != '\\') continue;
            if (!escaped) buffer_.clear();
            escaped = true;
            buffer_ += text_.substr(plain, at_ - 1 - plain);
            if (ended()) return fail("a string without an end");
            if (!escape()) return false;
            plain = at_;
        }
        raw = text_.substr(start, at_ - start);
        meant = raw;
        if (escaped) {
            buffer_ += text_.substr(plain, at_ - plain);
            meant = buffer_;
        }
        if (!ascii && !is_utf8(raw)) return fail("text that is not UTF-8");
        ++at_;
        return true;
    }

    std::string_view text_;
    Handler& handler_;
    std::size_t at_ = 0;
    std::string reason_, buffer_;
};

/// Whether the number's first digit that is not 0 comes after the point. `token` passed the grammar.
inline bool is_below_one(std::string_view token)
{
    if (token.starts_with('-')) token.remove_prefix(1);
    auto const exponent_at = token.find_first_of("eE");
    std::int64_t exponent = 0;
    if (exponent_at != std::string_view::npos) {
        std::string_view digits = token.substr(exponent_at + 1);
        if (digits.front() == '+') digits.remove_prefix(1);
        auto const code = std::from_chars(digits.data(), digits.data() + digits.size(), exponent).ec;
        if (code != std::errc{}) return digits.front() == '-';
        token = token.substr(0, exponent_at);
    }
    auto const first = token.find_first_not_of("0.");
    if (first == std::string_view::npos) return true;
    auto const point = std::min(token.find('.'), token.size());
    auto const place = static_cast<std::int64_t>(point) - static_cast<std::int64_t>(first);
    return place + exponent <= 0;
}

/// `token` passed the grammar. nullopt: beyond double.
inline std::optional<double> number_of_token(std::string_view token)
{
    double value = 0;
    auto const [end, code] = std::from_chars(token.data(), token.data() + token.size(), value);
    if (code == std::errc::result_out_of_range) {
        // Too small is zero, as ECMAScript reads it; too large is refused. from_chars does not say which it
        // was.
        if (is_below_one(token)) return token.starts_with('-') ? -0.0 : 0.0;
        return std::nullopt;
    }
    if (code != std::errc{} || end != token.data() + token.size() || !std::isfinite(value))
        return std::nullopt;
    return value;
}

/// Appends `text` as a quoted canonical string. `text` is UTF-8.
void append_quoted(std::string& out, std::string_view text);

} // namespace guidepin::record::detail
