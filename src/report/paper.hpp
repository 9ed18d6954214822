// SPDX-License-Identifier: Apache-2.0
#pragma once

#include <optional>
#include <string_view>

namespace guidepin::report {

enum class Paper { a4, letter };
std::optional<Paper> parse_paper(std::string_view text); ///< "a4", "letter"
char const* name_of(Paper paper);

struct PaperSize
{
    double width = 0; ///< points, 1/72 inch
    double height = 0;
};
PaperSize size_of(Paper paper); ///< ISO 216 A4 210 mm x 297 mm; 8.5 in x 11 in

} // namespace guidepin::report
