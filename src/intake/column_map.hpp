// SPDX-License-Identifier: Apache-2.0
// A column map says, by header name, where another layout of rows and columns keeps what our plain layouts
// hold. It is a TOML file of our own format: docs/formats/column-map.md. No layout of another program is
// built in. Verified by: tests/unit/intake/column_map.cpp (the document's examples are run),
// tests/fuzz/column_map.cpp.
#pragma once

#include "base/result.hpp"
#include "intake/layout.hpp"

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::intake {

/// How one column of the plain layout is made.
struct ColumnRule
{
    std::vector<std::string> from;       ///< headers; several are joined by a space (date and time)
    std::optional<std::string> constant; ///< the same text for every row
    std::string unit;                    ///< of the file's numbers; empty: the layout's own
    double scale = 1;                    ///< plain value = file's value x scale + add, then the unit
    double add = 0;
    std::map<std::string, std::string> values; ///< translations, by normal_header() of the file's text
    std::string pattern;                       ///< of a moment: "DD.MM.YYYY hh:mm:ss"; empty: RFC 3339
    int line = 0;                              ///< of the map, for messages
};

/// One column of a wide layout when it is listed rather than found by pattern.
struct WideColumn
{
    std::string from;
    std::map<std::string, std::string> sets; ///< "position" -> "1", "wavelength_nm" -> "850"
    int line = 0;
};

/// One row of the file holds many readings, a column each.
struct WideRule
{
    std::string fills;   ///< "attenuation_db" or "power_dbm"
    std::string pattern; ///< "F{position}@{wavelength_nm}"; empty when columns are listed
    std::vector<WideColumn> columns;
    int line = 0;
};

struct ColumnMap
{
    std::string name; ///< of the map's file, for messages
    LayoutKind layout = LayoutKind::readings;
    char separator = 0;  ///< 0: detected
    char decimal = 0;    ///< 0: detected
    int skip_lines = 0;  ///< lines before the header
    std::string comment; ///< lines that start with it are passed over; empty: none
    std::optional<std::int16_t> default_offset_minutes;
    std::vector<std::string> empty;            ///< texts that mean "nothing here", besides the empty cell
    std::map<std::string, ColumnRule> columns; ///< by name in the plain layout
    std::optional<WideRule> wide;
};

/// Reads a map and checks it against its layout. Reports all faults at once, each with its line and,
/// for a name that is not known, the nearest that are.
Result<ColumnMap> read_column_map(std::string_view toml, std::string const& name = "column map");

/// What the header of a wide column says, by the pattern: "F{position}@{wavelength_nm}" and "F3@850" give
/// position 3 and wavelength 850. Case and runs of spaces do not matter. Nothing when the header is not of
/// that form.
std::optional<std::vector<std::pair<std::string, std::string>>>
match_wide_header(std::string_view pattern, std::string_view header, LayoutKind layout);

/// A first map for a file that is not in a plain layout, from its header and first rows, for the person to
/// correct: comments mark what is unsure, and what was not found is commented out. Always TOML;
/// when every required column was found it reads back through read_column_map() as it is, and otherwise that
/// names what is missing.
Result<std::string> propose_column_map(std::string_view file, LayoutKind layout,
                                       std::string const& file_name);

} // namespace guidepin::intake
