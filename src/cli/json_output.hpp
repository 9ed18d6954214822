// SPDX-License-Identifier: Apache-2.0
// How a command writes JSON. Verified by: tests/cli/limits.py (jobs whose texts are damaged).
#pragma once

#include <nlohmann/json.hpp>

namespace guidepin::cli {

/// For dump(): bytes of a damaged file that are not UTF-8 become U+FFFD. Without it the library throws.
constexpr auto damaged_text = nlohmann::ordered_json::error_handler_t::replace;

} // namespace guidepin::cli
