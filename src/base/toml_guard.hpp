// SPDX-License-Identifier: Apache-2.0
// What the TOML library must never see: texts on which version 3.3 of it runs into undefined behaviour
// instead of an error. All of them are no TOML, or beyond any file of ours. To be asked before each parse of
// a text from outside. Verified by: tests/unit/base/toml_guard.cpp, tests/fuzz/column_map.cpp.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace guidepin {

struct TomlFault
{
    enum class Kind { text, header };
    int line = 0;
    std::string reason;
    Kind kind = Kind::text;
};

/// Nothing when the text may be parsed (it may still be wrong, and the library then says so). Otherwise the
/// first of: no UTF-8; more than 4,000,000 bytes; more than 60 dots in a line (keys nest without limit); a
/// letter outside ASCII beyond strings and comments; a table header that does not begin with a key.
std::optional<TomlFault> toml_fault(std::string_view text);

} // namespace guidepin
