// SPDX-License-Identifier: Apache-2.0
// Our plain layouts as data: reading, writing, column maps, help and docs/formats/csv.md speak of the same
// rows. Verified by: tests/unit/intake/layout.cpp (the document lists exactly these columns).
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::intake {

enum class LayoutKind { schedule, reference, cord_check, readings };
char const* name_of(LayoutKind kind); ///< "schedule", "reference", "cord-check", "readings"
std::optional<LayoutKind> parse_layout_kind(std::string_view text);

/// What the text of a cell is, and so which units and changes a column map may ask for.
enum class CellKind {
    text,
    whole_number,
    position,
    wavelength,
    attenuation,
    power,
    length,
    moment,
    end,
    choice
};

struct Column
{
    std::string_view name; ///< as in the header: lower case, words joined by "_"
    CellKind kind = CellKind::text;
    bool required = false; ///< a file without it is refused; its cells may not be empty
    std::string_view meaning;
    /// Columns of one group stand for each other (attenuation_db or power_dbm; length_m, length_ft or
    /// length). Not more than one of a group in a file; when one of them is required, one of the group is.
    std::string_view group = {};
};

/// The columns of a layout in the order in which we write them.
std::span<Column const> columns_of(LayoutKind kind);

/// "  Launch End" -> "launch_end": lower case, spaces and hyphens as "_", units in brackets kept.
std::string normal_header(std::string_view header);

} // namespace guidepin::intake
