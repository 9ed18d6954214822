// SPDX-License-Identifier: Apache-2.0
// Tables of typed cells, and three ways to write them: a workbook, CSV, JSON. Rows are asked for one at a
// time, so a table may be larger than memory. The same rows and time give the same bytes.
// Layout of the files: docs/formats/package-tables.md.
// Verified by: tests/unit/report/tables.cpp (read back: CSV by our own reader, JSON by nlohmann, the
// workbook as zip and XML; bytes equal on a second run; formulas of a spreadsheet stay text).
#pragma once

#include "base/result.hpp"
#include "report/locale.hpp"
#include "units/instant.hpp"

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace guidepin::report {

enum class ColumnType : std::uint8_t { text, number, whole, yes_no, moment };

struct Column
{
    std::string id;    ///< snake_case, with unit where it has one: "attenuation_db"
    std::string title; ///< for people: "Attenuation, dB"
    ColumnType type = ColumnType::text;
    int decimals = 2;  ///< shown in a workbook; files for programs carry every digit
    double width = 12; ///< letters, in a workbook
};

/// std::monostate is "not there".
using Cell = std::variant<std::monostate, std::string, double, std::int64_t, bool, Instant>;
using TableRow = std::vector<Cell>;

/// Calls back with each row; stops when the callback gives an error.
using RowProvider = std::function<Outcome(std::function<Outcome(TableRow const&)> const& take)>;

struct Table
{
    std::string name;  ///< "readings": file name and sheet name
    std::string title; ///< "Readings"
    std::vector<Column> columns;
    RowProvider rows;
};

using TextSink = std::function<bool(std::string_view bytes)>;

/// RFC 4180, UTF-8, decimal point, RFC 3339, empty: not there. No text runs as a formula (base/csv_cell.hpp).
Outcome write_csv(Table const& table, TextSink const& sink);

/// {"name", "columns": [{"id","title","type"}], "rows": [[…], …]}: numbers in shortest form that reads back.
Outcome write_json(Table const& table, TextSink const& sink);

/// One sheet a table, first row frozen and filtered, text never taken for a formula. `path` is written by the
/// workbook library; `made` is the only time in it. More than 1,048,575 rows go on in a further sheet.
Outcome write_workbook(std::string const& path, std::vector<Table> const& tables, std::string const& title,
                       Instant const& made);

} // namespace guidepin::report
