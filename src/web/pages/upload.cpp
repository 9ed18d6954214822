// SPDX-License-Identifier: Apache-2.0
#include "web/pages/upload.hpp"

#include "base/text.hpp"

namespace guidepin::web {

Result<Upload const*> uploaded(Exchange const& exchange)
{
    auto const found = exchange.uploads.find("file");
    if (found == exchange.uploads.end() || found->second.bytes.empty())
        return Error{Errc::invalid_input, "Choose a file that is not empty"};
    if (found->second.bytes.find('\0') != std::string::npos)
        return Error{Errc::invalid_input, "This file is not text: choose a CSV file"};
    return &found->second;
}

std::string shown_name(std::string_view name)
{
    auto const slash = name.find_last_of("/\\");
    if (slash != std::string_view::npos) name = name.substr(slash + 1);
    std::string shown;
    for (char const letter : name.substr(0, 120)) {
        if (static_cast<unsigned char>(letter) >= 0x20 && letter != 0x7f) shown += letter;
    }
    return shown.empty() || !is_utf8(shown) ? "file" : shown;
}

} // namespace guidepin::web
