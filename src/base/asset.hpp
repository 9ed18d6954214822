// SPDX-License-Identifier: Apache-2.0
// A text file that was built into the program (cmake/Embed.cmake).
#pragma once

#include <span>
#include <string_view>

namespace guidepin {

struct Asset
{
    std::string_view name;
    std::string_view bytes;
};

} // namespace guidepin
