// SPDX-License-Identifier: Apache-2.0
// What foreign bytes look like on a terminal. Verified by: tests/unit/cli/readable.cpp, tests/cli/limits.py.
#pragma once

#include <string>
#include <string_view>

namespace guidepin::cli {

/// `text` with everything written out that a terminal would obey or cannot show: bytes that are not UTF-8 as
/// "\xee", control characters as "\x1b" (line ends and tabs stay), and characters that turn the direction of
/// the text as "\u202e". An error may quote a damaged file or a stranger's name.
std::string readable(std::string_view text);
/// The same, but colours stay: what a command prints on a terminal.
std::string readable_in_colour(std::string_view text);

} // namespace guidepin::cli
