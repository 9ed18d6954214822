// SPDX-License-Identifier: Apache-2.0
#include "record/canonical_json.hpp"

#include "record/json_scan.hpp"
#include "record/visit_json.hpp"

#include <algorithm>
#include <cmath>

namespace guidepin::record {

namespace {

/// Builds values bottom up.
struct ValueBuilder
{
    struct Open
    {
        bool is_object = false;
        JsonValue::Array elements;
        JsonValue::Object members;
        std::string key;
    };

    bool put(JsonValue value)
    {
        if (open.empty()) {
            result = std::move(value);
        } else if (take != nullptr && open.size() == 2 && open[0].is_object && !open[1].is_object &&
                   open[0].key == list) {
            taken = (*take)(value);
            return bool(taken);
        } else if (open.back().is_object) {
            open.back().members.emplace_back(std::move(open.back().key), std::move(value));
        } else {
            open.back().elements.push_back(std::move(value));
        }
        return true;
    }
    bool space() { return true; }
    bool begin_object()
    {
        open.push_back({true, {}, {}, {}});
        return true;
    }
    bool begin_array()
    {
        open.push_back({false, {}, {}, {}});
        return true;
    }
    bool end_array()
    {
        JsonValue value(std::move(open.back().elements));
        open.pop_back();
        return put(std::move(value));
    }
    bool end_object()
    {
        auto members = std::move(open.back().members);
        open.pop_back();
        auto const by_key = [](auto const& a, auto const& b) { return canonical_less(a.first, b.first); };
        if (!std::is_sorted(members.begin(), members.end(), by_key))
            std::stable_sort(members.begin(), members.end(), by_key);
        auto const twice = std::adjacent_find(
            members.begin(), members.end(), [](auto const& a, auto const& b) { return a.first == b.first; });
        if (twice != members.end()) {
            reason = fmt::format("key \"{}\" comes twice in one object", twice->first);
            return false;
        }
        return put(JsonValue(std::move(members)));
    }
    bool key(std::string_view, std::string_view text)
    {
        open.back().key = text;
        return true;
    }
    bool string(std::string_view, std::string_view text) { return put(JsonValue(std::string(text))); }
    bool boolean(bool value) { return put(JsonValue(value)); }
    bool null() { return put(JsonValue()); }
    bool number(std::string_view token)
    {
        auto const value = detail::number_of_token(token);
        if (!value) {
            reason = fmt::format("number {} is too large", token);
            return false;
        }
        return put(JsonValue(*value));
    }

    std::vector<Open> open;
    JsonValue result;
    std::string reason;
    // For visit_elements():
    std::string_view list;
    std::function<Outcome(JsonValue const&)> const* take = nullptr;
    Outcome taken;
};

/// Passes everything on to a writer.
struct Rewriter
{
    bool space() { return true; }
    bool begin_object() { return json.begin_object(), true; }
    bool end_object() { return json.end_object(), true; }
    bool begin_array() { return json.begin_array(), true; }
    bool end_array() { return json.end_array(), true; }
    bool key(std::string_view, std::string_view text) { return json.key(text), true; }
    bool string(std::string_view, std::string_view text) { return json.string(text), true; }
    bool boolean(bool value) { return json.boolean(value), true; }
    bool null() { return json.null(), true; }
    bool number(std::string_view token)
    {
        auto const value = detail::number_of_token(token);
        if (!value) {
            reason = fmt::format("number {} is too large", token);
            return false;
        }
        json.number(*value);
        return true;
    }

    JsonWriter json;
    std::string reason;
};

/// A plain decimal of at most 15 digits that ends in no needless zero: no two of them share a double, so each
/// is its double's shortest and only needs the right layout, which the size (1e-6 and up, and below 1e21)
/// settles.
bool plainly_canonical(std::string_view token)
{
    if (token == "0") return true;
    if (token.front() == '-') token.remove_prefix(1);
    if (token.size() > 16 || token == "0") return false;
    auto const point = token.find('.');
    for (std::size_t i = 0; i < token.size(); ++i) {
        if (i != point && (token[i] < '0' || token[i] > '9')) return false;
    }
    if (point == std::string_view::npos) return token.size() <= 15;
    if (token.back() == '0') return false;
    return !token.starts_with("0.000000");
}

/// Compares with canonical form on the way.
struct CanonicalChecker
{
    bool fail(std::string why)
    {
        reason = std::move(why);
        return false;
    }
    bool space() { return fail("canonical form has no white space"); }
    bool begin_object()
    {
        levels.push_back(keys.size());
        first_key.push_back(true);
        return true;
    }
    bool end_object()
    {
        keys.resize(levels.back());
        levels.pop_back();
        first_key.pop_back();
        return true;
    }
    bool begin_array() { return true; }
    bool end_array() { return true; }
    bool key(std::string_view raw, std::string_view text)
    {
        std::size_t const start = levels.back();
        if (!first_key.back() && !canonical_less(std::string_view(keys).substr(start), text)) {
            return fail(fmt::format("key \"{}\" is out of canonical order or there twice", text));
        }
        first_key.back() = false;
        keys.resize(start);
        keys += text; // while a value below is read, its own keys come after this one
        return same_string(raw, text);
    }
    bool string(std::string_view raw, std::string_view text) { return same_string(raw, text); }
    bool same_string(std::string_view raw, std::string_view text)
    {
        if (raw.data() == text.data()) return true; // nothing was escaped
        buffer.clear();
        detail::append_quoted(buffer, text);
        if (std::string_view(buffer).substr(1, buffer.size() - 2) == raw) return true;
        return fail("a string is escaped in another way than canonical form does");
    }
    bool boolean(bool) { return true; }
    bool null() { return true; }
    bool number(std::string_view token)
    {
        if (plainly_canonical(token)) return true;
        auto const value = detail::number_of_token(token);
        if (!value) return fail(fmt::format("number {} is too large", token));
        buffer.clear();
        append_number(buffer, *value);
        if (buffer == token) return true;
        return fail(fmt::format("number {} is written {} in canonical form", token, buffer));
    }

    std::string keys, buffer, reason; // keys: of each open object the last one, end to end
    std::vector<std::size_t> levels;  // where each open object's last key starts
    std::vector<bool> first_key;
};

Error missing(std::string_view key, char const* what)
{
    return Error{Errc::invalid_input, fmt::format("JSON: member \"{}\" has to be {}", key, what)};
}

std::optional<std::int64_t> whole(double value)
{
    if (std::fabs(value) > 9007199254740992.0 || value != std::floor(value)) return std::nullopt;
    return static_cast<std::int64_t>(value);
}

} // namespace

Result<JsonValue> parse_json(std::string_view text)
{
    ValueBuilder builder;
    TRY(detail::JsonScanner<ValueBuilder>(text, builder).scan());
    return std::move(builder.result);
}

Result<JsonValue> visit_elements(std::string_view text, std::string_view list,
                                 std::function<Outcome(JsonValue const&)> const& take)
{
    ValueBuilder builder;
    builder.list = list;
    builder.take = &take;
    Outcome const scanned = detail::JsonScanner<ValueBuilder>(text, builder).scan();
    TRY(builder.taken);
    TRY(scanned);
    return std::move(builder.result);
}

Result<std::string> canonicalised(std::string_view text)
{
    Rewriter rewriter;
    TRY(detail::JsonScanner<Rewriter>(text, rewriter).scan());
    return rewriter.json.finish();
}

Outcome require_canonical(std::string_view text)
{
    CanonicalChecker checker;
    return detail::JsonScanner<CanonicalChecker>(text, checker).scan();
}

JsonValue const* JsonValue::find(std::string_view key) const
{
    auto const* members = object();
    if (members == nullptr) return nullptr;
    auto const at = std::lower_bound(
        members->begin(), members->end(), key,
        [](auto const& member, std::string_view wanted) { return canonical_less(member.first, wanted); });
    return at != members->end() && at->first == key ? &at->second : nullptr;
}

Result<std::string> JsonValue::text_of(std::string_view key) const
{
    JsonValue const* member = find(key);
    if (member == nullptr || member->string() == nullptr) return missing(key, "a text");
    return *member->string();
}

Result<double> JsonValue::number_of(std::string_view key) const
{
    JsonValue const* member = find(key);
    if (member == nullptr || member->number() == nullptr) return missing(key, "a number");
    return *member->number();
}

Result<std::int64_t> JsonValue::integer_of(std::string_view key) const
{
    TRY_ASSIGN(double const value, number_of(key));
    auto const integer = whole(value);
    if (!integer) return missing(key, "a whole number");
    return *integer;
}

Result<bool> JsonValue::boolean_of(std::string_view key) const
{
    JsonValue const* member = find(key);
    if (member == nullptr || member->boolean() == nullptr) return missing(key, "true or false");
    return *member->boolean();
}

std::string JsonValue::text_or(std::string_view key, std::string fallback) const
{
    JsonValue const* member = find(key);
    return member != nullptr && member->string() != nullptr ? *member->string() : std::move(fallback);
}

double JsonValue::number_or(std::string_view key, double fallback) const
{
    JsonValue const* member = find(key);
    return member != nullptr && member->number() != nullptr ? *member->number() : fallback;
}

std::int64_t JsonValue::integer_or(std::string_view key, std::int64_t fallback) const
{
    JsonValue const* member = find(key);
    if (member == nullptr || member->number() == nullptr) return fallback;
    return whole(*member->number()).value_or(fallback);
}

bool JsonValue::boolean_or(std::string_view key, bool fallback) const
{
    JsonValue const* member = find(key);
    return member != nullptr && member->boolean() != nullptr ? *member->boolean() : fallback;
}

} // namespace guidepin::record
