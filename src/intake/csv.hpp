// SPDX-License-Identifier: Apache-2.0
// Rows and fields of a CSV text: RFC 4180, with the separators of all locales and any line ends of LF or
// CRLF. Verified by: tests/oracle/intake/rfc4180.cpp, tests/fuzz/csv_readings.cpp.
#pragma once

#include "base/result.hpp"
#include "intake/file.hpp"

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::intake {

/// The text behind a byte-order mark; an error that says what to do for UTF-16, a workbook, or an empty file.
Result<std::string_view> text_of_file(std::string_view file);

/// The longest line that is read: a row of 5000 columns has room in it many times over.
constexpr std::size_t longest_line = std::size_t{1} << 20;
/// The most of a file that is looked at to find its header and propose a column map.
constexpr std::size_t looked_at_most = std::size_t{1} << 20;

/// Refuses a text with a line longer than longest_line, by its number from `first_line` on. Takes a step for
/// each longest_line bytes, not for each line.
Outcome require_lines(std::string_view text, std::uint32_t first_line = 1);

/// The whole lines within the first looked_at_most bytes; an error when none ends there.
Result<std::string_view> beginning_of(std::string_view text);

struct CsvRow
{
    std::vector<std::string_view>
        fields;                  ///< without their quotes, spaces kept; valid until the next row is read
    std::uint32_t line = 0;      ///< where it starts, from 1
    char const* fault = nullptr; ///< what is wrong with its quotes
    std::size_t fault_field = 0;
};

/// Walks over the rows of `text`. A double quote opens a quoted field exactly when it is the field's first
/// byte; everywhere else outside a quoted field it is a fault of that row (RFC 4180, 2.5), and the row ends
/// at its line end.
class CsvCursor
{
  public:
    CsvCursor(std::string_view text, char separator, std::uint32_t first_line = 1)
        : at_(text.data())
        , end_(text.data() + text.size())
        , separator_(separator)
        , line_(first_line)
    {
    }
    /// Lines that begin with `prefix` are passed over. Empty: none.
    void pass_comments(std::string prefix) { comment_ = std::move(prefix); }
    void skip_lines(int count);

    /// False at the end. Lines without a byte are passed over.
    bool next(CsvRow& row);
    std::uint32_t line() const { return line_; }
    std::string_view rest() const { return {at_, static_cast<std::size_t>(end_ - at_)}; }

  private:
    void skip_line();
    void read_quoted(CsvRow& row);
    void read_plain(CsvRow& row);

    char const* at_;
    char const* end_;
    char separator_;
    std::uint32_t line_;
    std::string comment_;
    std::vector<std::string> unescaped_; ///< one per field that had doubled quotes
    std::size_t unescaped_used_ = 0;
};

/// True when every field is empty or spaces: what a spreadsheet leaves below a table.
bool is_blank(CsvRow const& row);

/// Shortened to what a message can carry, control characters and broken UTF-8 made visible.
std::string shown(std::string_view value);

} // namespace guidepin::intake
