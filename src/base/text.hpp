// SPDX-License-Identifier: Apache-2.0
// Numbers and text without a locale: what is stored or computed never depends on the machine's settings.
#pragma once

#include "base/result.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin {

/// The whole text as a number with a decimal point: "0.35", "-12", "1e-3". Nothing else around it; no "nan",
/// no "inf".
std::optional<double> parse_number(std::string_view text);
std::optional<std::int64_t> parse_integer(std::string_view text);

/// Shortest text that reads back as the same double, without an exponent where a person would not write one.
std::string number_text(double value);

/// `value` with exactly `decimals` decimals, point as separator; "-0.00" never appears.
std::string fixed_text(double value, int decimals);

std::string_view trimmed(std::string_view text);
std::vector<std::string_view> split(std::string_view text, char separator);
std::string lowered(std::string_view text);
/// An id as words: "cord-check" reads "cord check".
std::string in_words(std::string_view id);
std::string joined(std::vector<std::string> const& parts, std::string_view separator);
bool is_utf8(std::string_view text);

/// Up to three of `known` that `wanted` was probably meant to be, nearest first: for "did you mean" in
/// messages.
std::vector<std::string> nearest(std::string_view wanted, std::vector<std::string> const& known);

/// "; did you mean ?" after a message that names what is not there; `otherwise` if nothing of `known`
/// is near.
std::string did_you_mean(std::string_view wanted, std::vector<std::string> const& known,
                         std::string_view otherwise = {});

/// "1 record", "2 records", "0 records"; of a noun whose plural does not just add an s, `plural` is the
/// plural.
std::string counted(std::int64_t count, std::string_view noun, std::string_view plural = {});
/// The ending of such a noun alone: "" for one, else "s".
std::string_view plural_ending(std::int64_t count);

} // namespace guidepin
