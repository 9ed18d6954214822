// SPDX-License-Identifier: Apache-2.0
// The workbook. In constant-memory mode the library flushes each row to a temporary file; cells are written
// in order of rows and columns for that. Its zip carries the library's own fixed time of each member, so the
// creation time of the properties is the only moment in the file.
#include "report/tables.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <set>

#include <fmt/format.h>
#include <xlsxwriter.h>

namespace guidepin::report {

namespace {

constexpr std::uint32_t rows_of_a_sheet = 1'048'576;
constexpr std::size_t longest_cell_text = 32'767;

/// Names of sheets: at most 31 letters, none of []:*?/\ and no apostrophe at the ends; no two alike.
std::string sheet_name(std::string const& wanted, int part, std::set<std::string>& taken)
{
    std::string const tail = part > 1 ? fmt::format(" {}", part) : "";
    std::string clean;
    for (char const letter : wanted)
        clean += std::string_view("[]:*?/\\'").find(letter) == std::string_view::npos ? letter : '_';
    if (clean.empty()) clean = "table";
    clean.resize(std::min(clean.size(), 31 - tail.size()));
    while (!clean.empty() && !is_utf8(clean)) clean.pop_back();
    std::string name = clean + tail;
    for (int n = 2; !taken.insert(lowered(name)).second; ++n) {
        std::string const number = fmt::format("~{}", n);
        name = clean.substr(0, 31 - number.size()) + number;
    }
    return name;
}

/// Days since 1899-12-30 on the wall clock of the moment: what a spreadsheet counts in.
double spreadsheet_days(Instant const& instant)
{
    return static_cast<double>(instant.ms + instant.offset_minutes * 60'000LL) / 86'400'000.0 + 25'569.0;
}

class Writer
{
  public:
    explicit Writer(lxw_workbook* book)
        : book_(book)
    {
        header_ = workbook_add_format(book_);
        format_set_bold(header_);
        format_set_text_wrap(header_);
        format_set_align(header_, LXW_ALIGN_VERTICAL_TOP);
        format_set_bottom(header_, LXW_BORDER_THIN);
    }

    Outcome table(Table const& table)
    {
        std::vector<lxw_format*> formats;
        for (Column const& column : table.columns) {
            lxw_format* const format = workbook_add_format(book_);
            if (column.type == ColumnType::number) {
                std::string const zeros(static_cast<std::size_t>(std::clamp(column.decimals, 0, 9)), '0');
                format_set_num_format(format, zeros.empty() ? "0" : ("0." + zeros).c_str());
            } else if (column.type == ColumnType::moment) {
                format_set_num_format(format, "yyyy-mm-dd hh:mm:ss");
            }
            formats.push_back(format);
        }
        int part = 0;
        lxw_worksheet* sheet = nullptr;
        std::uint32_t next = 0;
        auto const close_sheet = [&] {
            if (sheet && !table.columns.empty()) {
                worksheet_autofilter(sheet, 0, 0, std::max(next, 1u) - 1,
                                     static_cast<lxw_col_t>(table.columns.size() - 1));
            }
        };
        auto const open_sheet = [&]() -> Outcome {
            close_sheet();
            sheet = workbook_add_worksheet(
                book_, sheet_name(table.title.empty() ? table.name : table.title, ++part, taken_).c_str());
            if (!sheet) return Error{Errc::internal, fmt::format("Sheet {} could not be made.", table.name)};
            for (std::size_t c = 0; c < table.columns.size(); ++c) {
                worksheet_set_column(sheet, col(c), col(c), table.columns[c].width, nullptr);
            }
            worksheet_freeze_panes(sheet, 1, 0);
            worksheet_repeat_rows(sheet, 0, 0);
            worksheet_set_landscape(sheet);
            worksheet_fit_to_pages(sheet, 1, 0);
            for (std::size_t c = 0; c < table.columns.size(); ++c) {
                worksheet_write_string(sheet, 0, col(c), table.columns[c].title.c_str(), header_);
            }
            next = 1;
            return {};
        };
        TRY(open_sheet());
        auto const take = [&](TableRow const& row) -> Outcome {
            if (row.size() != table.columns.size()) {
                return Error{Errc::internal,
                             fmt::format("Table {} has {} columns; a row has {} cells. Please report this.",
                                         table.name, table.columns.size(), row.size())};
            }
            if (next == rows_of_a_sheet) TRY(open_sheet());
            for (std::size_t c = 0; c < row.size(); ++c) TRY(cell(sheet, next, c, row[c], formats[c], table));
            ++next;
            return {};
        };
        TRY(table.rows(take));
        close_sheet();
        return {};
    }

  private:
    static lxw_col_t col(std::size_t c) { return static_cast<lxw_col_t>(c); }

    Outcome cell(lxw_worksheet* sheet, std::uint32_t row, std::size_t c, Cell const& cell, lxw_format* format,
                 Table const& table)
    {
        lxw_error status = LXW_NO_ERROR;
        if (auto const* text = std::get_if<std::string>(&cell)) {
            std::string kept = *text;
            // Longer text is no spreadsheet cell; it is whole in the CSV and JSON beside.
            if (kept.size() > longest_cell_text) {
                kept.resize(longest_cell_text - 3);
                while (!kept.empty() && !is_utf8(kept)) kept.pop_back();
                kept += "…";
            }
            if (!kept.empty()) status = worksheet_write_string(sheet, row, col(c), kept.c_str(), format);
        } else if (auto const* number = std::get_if<double>(&cell)) {
            if (std::isfinite(*number)) status = worksheet_write_number(sheet, row, col(c), *number, format);
        } else if (auto const* whole = std::get_if<std::int64_t>(&cell)) {
            status = worksheet_write_number(sheet, row, col(c), static_cast<double>(*whole), format);
        } else if (auto const* yes = std::get_if<bool>(&cell)) {
            status = worksheet_write_string(sheet, row, col(c), *yes ? "yes" : "no", format);
        } else if (auto const* moment = std::get_if<Instant>(&cell)) {
            status = worksheet_write_number(sheet, row, col(c), spreadsheet_days(*moment), format);
        }
        if (status == LXW_NO_ERROR) return {};
        return Error{Errc::internal, fmt::format("Table {}, row {}, column {}: {}", table.name, row,
                                                 table.columns[c].id, lxw_strerror(status))};
    }

    lxw_workbook* book_;
    lxw_format* header_ = nullptr;
    std::set<std::string> taken_;
};

} // namespace

Outcome write_workbook(std::string const& path, std::vector<Table> const& tables, std::string const& title,
                       Instant const& made)
{
    lxw_workbook_options options = {};
    options.constant_memory = LXW_TRUE;
    lxw_workbook* const book = workbook_new_opt(path.c_str(), &options);
    if (!book) return Error{Errc::environment, fmt::format("Workbook {} could not be begun.", path)};
    lxw_doc_properties properties = {};
    std::string heading = title.substr(0, 255);
    while (!heading.empty() && !is_utf8(heading)) heading.pop_back();
    std::string author = "Guidepin";
    properties.title = heading.data();
    properties.author = author.data();
    properties.created = static_cast<time_t>(made.ms / 1000);
    workbook_set_properties(book, &properties);
    Writer writer(book);
    Outcome outcome;
    for (Table const& table : tables) {
        outcome = writer.table(table);
        if (!outcome) break;
    }
    // Closing frees the book, whatever came before.
    lxw_error const status = workbook_close(book);
    if (!outcome) {
        std::remove(path.c_str());
        return outcome;
    }
    if (status != LXW_NO_ERROR) {
        return Error{
            Errc::environment,
            fmt::format("Workbook {} could not be written: {}. Is the disk full, the limit on the size "
                        "of a file (ulimit -f) too small, or the folder read-only?",
                        path, lxw_strerror(status))};
    }
    return {};
}

} // namespace guidepin::report
