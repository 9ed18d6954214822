// SPDX-License-Identifier: Apache-2.0
#include "plant/link.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

namespace guidepin::plant {

char const* name_of(EndFitting fitting)
{
    switch (fitting) {
    case EndFitting::opposed_adapter:
        return "opposed";
    case EndFitting::aligned_adapter:
        return "aligned";
    case EndFitting::bare_plug:
        return "none";
    }
    return "";
}

Result<EndFitting> parse_end_fitting(std::string_view text)
{
    std::string const wanted = lowered(trimmed(text));
    if (wanted == "opposed" || wanted == "a") return EndFitting::opposed_adapter;
    if (wanted == "aligned" || wanted == "b") return EndFitting::aligned_adapter;
    if (wanted == "none" || wanted == "plug") return EndFitting::bare_plug;
    return Error{
        Errc::invalid_input,
        fmt::format("Adapter '{}' is not one of opposed (key up to key down), aligned (key up to key up), "
                    "none (a bare plug).",
                    text)};
}

} // namespace guidepin::plant
