// SPDX-License-Identifier: Apache-2.0
#include "report/paper.hpp"

namespace guidepin::report {

std::optional<Paper> parse_paper(std::string_view text)
{
    if (text == "a4") return Paper::a4;
    if (text == "letter") return Paper::letter;
    return std::nullopt;
}

char const* name_of(Paper paper)
{
    return paper == Paper::a4 ? "a4" : "letter";
}

PaperSize size_of(Paper paper)
{
    if (paper == Paper::letter) return {612, 792};
    return {210 / 25.4 * 72, 297 / 25.4 * 72};
}

} // namespace guidepin::report
