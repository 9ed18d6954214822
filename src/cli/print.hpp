// SPDX-License-Identifier: Apache-2.0
// What commands share when they print for people: aligned tables, a row of tanks in one line, colour on a
// terminal. Verified by: tests/unit/cli/print.cpp, tests/cli.
#pragma once

#include "base/text.hpp"
#include "cli/command.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::cli {

/// Columns that a text takes on a terminal: characters, not bytes.
std::size_t columns_of(std::string_view text);

enum class Align { left, right };

/// Rows of cells under headings, columns as wide as their widest cell, nothing behind the last one.
class Table
{
  public:
    struct Column
    {
        std::string_view heading;
        Align align = Align::left;
    };
    explicit Table(std::vector<Column> columns)
        : columns_(std::move(columns))
    {
    }

    /// Cells that are missing at the end stay empty; cells too many are a bug.
    void add(std::vector<std::string> cells);
    /// Each line begins with `indent` spaces. Without rows: nothing.
    std::string text(std::size_t indent = 2) const;

  private:
    std::vector<Column> columns_;
    std::vector<std::vector<std::string>> rows_;
};

/// `text` in the colour "#rrggbb" where standard output is a terminal and NO_COLOR is not set; else the text
/// alone.
std::string painted(World const& world, std::string_view text, std::string_view rgb);

} // namespace guidepin::cli
