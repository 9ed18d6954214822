// SPDX-License-Identifier: Apache-2.0
#include "base/csv_cell.hpp"

#include <algorithm>
#include <array>

namespace guidepin {

namespace {

/// Bytes of the sign at the front of `text` that makes a spreadsheet calculate: = + - @, also in their
/// full-width forms (U+FF1D, U+FF0B, U+FF0D, U+FF20). 0: there is none.
std::size_t formula_sign(std::string_view text)
{
    constexpr std::array<std::string_view, 8> signs{
        "=", "+", "-", "@", "\xEF\xBC\x9D", "\xEF\xBC\x8B", "\xEF\xBC\x8D", "\xEF\xBC\xA0"};
    for (std::string_view const sign : signs) {
        if (text.starts_with(sign)) return sign.size();
    }
    return 0;
}

/// A spreadsheet that reads our commas with another separator starts a cell behind these, quotes or not.
bool starts_a_cell(char letter)
{
    return letter == ';' || letter == '\t' || letter == '\n' || letter == '\r';
}

/// Calls `found(at, guards)` where a formula starts: at `at` the single quotes begin, `guards` of them, and
/// the sign comes behind them. Double quotes before them do not protect a cell, so they are passed over.
template <class Found>
void each_formula(std::string_view text, Found const& found)
{
    for (std::size_t start = 0; start < text.size();) {
        std::size_t const at = std::min(text.find_first_not_of('"', start), text.size());
        std::size_t const sign = std::min(text.find_first_not_of('\'', at), text.size());
        std::string_view const rest = text.substr(sign);
        bool const runs = formula_sign(rest) > 0 ||
                          (start == 0 && !rest.empty() && rest[0] != ';' && starts_a_cell(rest[0]));
        if (runs) found(at, sign - at);
        start = sign;
        while (start < text.size() && !starts_a_cell(text[start])) ++start;
        if (start < text.size()) ++start;
    }
}

} // namespace

std::string formula_guarded(std::string_view text)
{
    std::string result;
    std::size_t copied = 0;
    each_formula(text, [&](std::size_t at, std::size_t) {
        result.append(text, copied, at - copied);
        result += '\'';
        copied = at;
    });
    return result.append(text, copied);
}

std::string formula_unguarded(std::string_view text)
{
    std::string result;
    std::size_t copied = 0;
    each_formula(text, [&](std::size_t at, std::size_t guards) {
        if (guards == 0) return;
        result.append(text, copied, at - copied);
        copied = at + 1;
    });
    return result.append(text, copied);
}

std::string csv_cell(std::string_view text)
{
    std::string const cell = formula_guarded(text);
    bool const plain = cell.find_first_of(",;\t\"\r\n") == std::string::npos &&
                       (cell.empty() || (cell.front() != ' ' && cell.back() != ' '));
    if (plain) return cell;
    std::string quoted = "\"";
    for (char const letter : cell) {
        if (letter == '"') quoted += '"';
        quoted += letter;
    }
    return quoted + "\"";
}

} // namespace guidepin
