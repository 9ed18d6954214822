// SPDX-License-Identifier: Apache-2.0
#include "units/quantity.hpp"

namespace guidepin {

std::optional<Metres> parse_length(std::string_view text)
{
    text = trimmed(text);
    double factor = 1;
    auto const drop = [&](std::string_view unit, double metres) {
        if (!text.ends_with(unit)) return false;
        text.remove_suffix(unit.size());
        factor = metres;
        return true;
    };
    // Longest names first, so that "ft" is not read as a number that ends in "t".
    bool const named = drop("feet", metres_per_foot) || drop("ft", metres_per_foot) ||
                       drop("'", metres_per_foot) || drop("km", 1000) || drop("m", 1);
    static_cast<void>(named);
    auto const number = parse_number(trimmed(text));
    if (!number) return std::nullopt;
    return Metres{*number * factor};
}

} // namespace guidepin
