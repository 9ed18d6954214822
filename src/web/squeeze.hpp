// SPDX-License-Identifier: Apache-2.0
// gzip (RFC 1952), at a level that costs little. Verified by: tests/web (a browser reads it).
#pragma once

#include <string>
#include <string_view>

namespace guidepin::web {

std::string squeezed(std::string_view bytes);

} // namespace guidepin::web
