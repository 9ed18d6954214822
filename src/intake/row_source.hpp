// SPDX-License-Identifier: Apache-2.0
// Rows in the terms of a plain layout, whatever the file looks like: the plain layout itself, or another
// through a column map, where one row of a wide file becomes many. Room-private.
#pragma once

#include "intake/cells.hpp"
#include "intake/column_map.hpp"
#include "intake/moment.hpp"
#include "intake/opened.hpp"
#include "intake/problem_list.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::intake {

class RowSource
{
  public:
    static Result<RowSource> open(std::string_view file, LayoutKind kind, ReadOptions const& options);

    /// The next row with content. Rows whose shape is wrong are listed and passed over.
    bool next();

    /// Index of a column of the layout, for cell().
    std::size_t column(std::string_view name) const;
    bool has(std::size_t column) const;

    /// The trimmed text of a cell in the plain layout's terms (decimal point, plain unit). Nothing when it is
    /// already listed as a problem: a required cell that is empty, a value that the map cannot change.
    std::optional<std::string_view> cell(std::size_t column);
    /// As cell(), for a name: without formula guard, checked for UTF-8. Valid until the next name().
    std::optional<std::string_view> name(std::size_t column);
    std::optional<Instant> moment(std::size_t column, bool& failed);

    void fail(std::size_t column, std::string_view reason);
    bool row_failed() const { return row_failed_; }
    std::uint32_t line() const { return row_.line; }
    LengthUnit length_unit() const { return length_unit_; }

    ProblemList& problems() { return problems_; }
    std::size_t rows() const { return rows_; }
    std::vector<std::string> const& unused_columns() const { return unused_; }
    Dialect const& dialect() const { return file_.dialect; }

  private:
    struct Origin
    {
        std::vector<int> file_columns;
        ColumnRule const* rule = nullptr;
        std::optional<DatePattern> pattern;
    };
    struct WideSlot
    {
        int file_column = 0;
        std::vector<std::pair<std::size_t, std::string>> sets;
    };

    RowSource(OpenedFile file, LayoutKind kind, ReadOptions const& options);
    Outcome use_map(ColumnMap const& map);
    Outcome find_wide_columns(ColumnMap const& map);
    bool next_file_row();
    std::optional<std::string> changed(std::size_t column, std::string text);
    std::size_t size_of(std::size_t column) const; ///< bytes of the cell in the file, before it is copied
    std::string raw(std::size_t column) const;
    std::string header_of(std::size_t column) const;
    bool is_empty_text(std::string_view text) const;

    OpenedFile file_;
    std::span<Column const> columns_;
    std::vector<Origin> origins_; ///< per column of the layout
    std::vector<WideSlot> wide_;
    std::size_t wide_fill_ = 0; ///< column of the layout that the wide columns fill
    std::size_t slot_ = 0;      ///< next wide slot of this row
    WideSlot const* current_slot_ = nullptr;
    ColumnMap const* map_ = nullptr;
    CsvCursor cursor_;
    CsvRow row_;
    std::vector<std::string> texts_; ///< of this row, where a cell was changed
    std::string plain_name_;         ///< what name() gave last, where a guard was taken off
    MomentReader moments_;
    std::int16_t default_offset_;
    std::vector<std::size_t> failed_in_row_; ///< columns whose fault was already reported for this row
    bool row_failed_ = false;
    LengthUnit length_unit_ = LengthUnit::metres;
    std::size_t rows_ = 0;
    ProblemList problems_;
    std::vector<std::string> unused_;
};

/// The number in the plain unit: "attenuation_db" in dB, "power_dbm" in dBm, "wavelength_nm" in nm,
/// "length_m" in m. Nothing for a unit that is not known, or a power of zero or less in watts.
std::optional<double> in_plain_unit(Column const& column, std::string_view unit, double value);
/// The units that a column can be written in, for messages and the document; empty: it has none.
std::vector<std::string> units_of(Column const& column);

} // namespace guidepin::intake
