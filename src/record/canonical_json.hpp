// SPDX-License-Identifier: Apache-2.0
// Canonical JSON (RFC 8785, JCS): the one way to write a value, so that equal values have equal bytes and
// equal hashes. Objects by UTF-16 order of keys, numbers as ECMAScript writes doubles, strings escaped only
// where they must be. Input is I-JSON (RFC 7493): UTF-8, no duplicate keys, no lone surrogates, numbers
// within double. Verified by: tests/oracle/record/canonical_json.cpp (RFC 8785 sections 3.2.2, 3.2.3,
// appendix B), tests/unit/record/canonical_json.cpp (properties), tests/fuzz/json_record.cpp.
#pragma once

#include "base/result.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace guidepin::record {

/// Writes canonical form straight away. Members may come in any order (in canonical order is fastest).
/// Unbalanced calls are bugs and assert.
///   JsonWriter json;
///   json.begin_object().key("link").string(id).key("loss").begin_array().number(0.31).end_array().end_object();
///   TRY_ASSIGN(auto const body, json.finish());
class JsonWriter
{
  public:
    JsonWriter& begin_object();
    JsonWriter& end_object();
    JsonWriter& begin_array();
    JsonWriter& end_array();
    JsonWriter& key(std::string_view name);
    JsonWriter& string(std::string_view text);
    JsonWriter& number(double value);         ///< finite; finish() fails otherwise
    JsonWriter& number_or_null(double value); ///< null for NaN: "not stated"
    JsonWriter& integer(std::int64_t value);  ///< within ±2^53; finish() fails otherwise
    JsonWriter& boolean(bool value);
    JsonWriter& null();

    /// The text, when everything was closed. Fails with invalid_input when a string was not UTF-8, a number
    /// not finite or an integer too large, or a key came twice. The writer is empty afterwards and can be
    /// used again.
    Result<std::string> finish();

  private:
    struct Member
    {
        std::size_t key_start, key_size; ///< in keys_
        std::size_t text_start;          ///< in text_
    };
    struct Level
    {
        std::size_t first_member; ///< in members_
        std::size_t first_key;    ///< in keys_
        bool is_object, sorted, empty;
    };
    void before_value();
    void sort_members(Level const& level);
    void fail(std::string reason);

    std::string text_, keys_, failure_;
    std::vector<Member> members_;
    std::vector<Level> levels_;
    bool after_key_ = false;
};

/// A parsed value.
class JsonValue
{
  public:
    using Array = std::vector<JsonValue>;
    using Object = std::vector<std::pair<std::string, JsonValue>>; ///< in canonical order

    JsonValue() = default; ///< null
    explicit JsonValue(bool value)
        : value_(value)
    {
    }
    explicit JsonValue(double value)
        : value_(value)
    {
    }
    explicit JsonValue(std::string value)
        : value_(std::move(value))
    {
    }
    explicit JsonValue(Array value)
        : value_(std::move(value))
    {
    }
    explicit JsonValue(Object value)
        : value_(std::move(value))
    {
    }

    bool is_null() const { return value_.index() == 0; }
    bool const* boolean() const { return std::get_if<bool>(&value_); }
    double const* number() const { return std::get_if<double>(&value_); }
    std::string const* string() const { return std::get_if<std::string>(&value_); }
    Array const* array() const { return std::get_if<Array>(&value_); }
    Object const* object() const { return std::get_if<Object>(&value_); }

    /// The member of an object; nullptr when there is none or this is no object.
    JsonValue const* find(std::string_view key) const;

    /// A member that has to be there, or invalid_input naming it.
    Result<std::string> text_of(std::string_view key) const;
    Result<double> number_of(std::string_view key) const;
    Result<std::int64_t> integer_of(std::string_view key) const;
    Result<bool> boolean_of(std::string_view key) const;
    /// A member that may be missing or null; of another type counts as missing.
    std::string text_or(std::string_view key, std::string fallback = {}) const;
    double number_or(std::string_view key, double fallback) const;
    std::int64_t integer_or(std::string_view key, std::int64_t fallback) const;
    bool boolean_or(std::string_view key, bool fallback) const;

    friend bool operator==(JsonValue const&, JsonValue const&) = default;

  private:
    std::variant<std::monostate, bool, double, std::string, Array, Object> value_;
};

/// Strict: RFC 8259 grammar, I-JSON constraints, at most 100 levels. invalid_input with the byte where it
/// failed.
Result<JsonValue> parse_json(std::string_view text);

void write_value(JsonWriter& json, JsonValue const& value);
Result<std::string> canonical_json(JsonValue const& value);

/// The canonical form of any JSON text.
Result<std::string> canonicalised(std::string_view json);

/// invalid_input with the byte and the reason when `json` is not in canonical form. Makes no copy.
Outcome require_canonical(std::string_view json);

/// The order of keys: by UTF-16 code units. Both are UTF-8.
bool canonical_less(std::string_view left, std::string_view right);

/// A finite double as ECMAScript's Number.prototype.toString writes it, appended.
void append_number(std::string& text, double value);

} // namespace guidepin::record
