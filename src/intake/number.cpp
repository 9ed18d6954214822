// SPDX-License-Identifier: Apache-2.0
#include "intake/number.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <string>

namespace guidepin::intake::detail {

std::optional<double> long_decimal(std::string_view text, char mark)
{
    if (mark == '.') return parse_number(text);
    if (text.find('.') != std::string_view::npos) return std::nullopt;
    std::string with_point(text);
    std::replace(with_point.begin(), with_point.end(), mark, '.');
    return parse_number(with_point);
}

} // namespace guidepin::intake::detail
