// SPDX-License-Identifier: Apache-2.0
// A column map as choices that a person can make without writing TOML: which header of the file fills which
// column of ours, or one text for every row. Units, patterns and translations stay in the text. Verified by:
// tests/unit/intake/column_choice.cpp (what was chosen reads back, the rest of the map stays).
#pragma once

#include "base/result.hpp"
#include "intake/layout.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace guidepin::intake {

struct ColumnChoice
{
    std::string column;      ///< of the plain layout
    std::string header;      ///< of the file; empty: none
    std::string constant;    ///< the same for every row; empty: none
    bool as_written = false; ///< several headers, or from the wide rule: only the text says it
};

/// The headers of the file, as a map names them. Errors: the file holds no header.
Result<std::vector<std::string>> headers_of(std::string_view file);

/// What `map` says for each column of the layout, in the layout's order. Takes any text: what it does not
/// understand is no choice.
std::vector<ColumnChoice> column_choices(std::string_view map, LayoutKind layout);

/// `map` with this choice: the rule of the column keeps its other entries; with neither header nor constant
/// it goes.
std::string with_choice(std::string_view map, ColumnChoice const& choice);

/// A text as TOML writes it.
std::string in_quotes(std::string_view text);

} // namespace guidepin::intake
