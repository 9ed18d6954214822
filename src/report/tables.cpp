// SPDX-License-Identifier: Apache-2.0
#include "report/tables.hpp"

#include "base/csv_cell.hpp"
#include "base/text.hpp"

#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::report {

namespace {

Error sink_refused(Table const& table)
{
    return Error{Errc::environment, fmt::format("Table {} could not be written: is the disk full, the limit "
                                                "on the size of a file (ulimit -f) too small, "
                                                "or the folder read-only?",
                                                table.name)};
}

Error wrong_width(Table const& table, std::size_t cells)
{
    return Error{Errc::internal,
                 fmt::format("Table {} has {} columns; a row has {} cells. Please report this.", table.name,
                             table.columns.size(), cells)};
}

std::string csv_text(Cell const& cell)
{
    struct Say
    {
        std::string operator()(std::monostate) const { return {}; }
        std::string operator()(std::string const& text) const { return csv_cell(text); }
        std::string operator()(double value) const { return std::isfinite(value) ? number_text(value) : ""; }
        std::string operator()(std::int64_t value) const { return fmt::format("{}", value); }
        std::string operator()(bool value) const { return value ? "yes" : "no"; }
        std::string operator()(Instant const& instant) const { return instant_text(instant); }
    };
    return std::visit(Say{}, cell);
}

std::string json_quoted(std::string const& text)
{
    return nlohmann::json(text).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

std::string json_text(Cell const& cell)
{
    struct Say
    {
        std::string operator()(std::monostate) const { return "null"; }
        std::string operator()(std::string const& text) const { return json_quoted(text); }
        std::string operator()(double value) const
        {
            return std::isfinite(value) ? number_text(value) : "null";
        }
        std::string operator()(std::int64_t value) const { return fmt::format("{}", value); }
        std::string operator()(bool value) const { return value ? "true" : "false"; }
        std::string operator()(Instant const& instant) const { return json_quoted(instant_text(instant)); }
    };
    return std::visit(Say{}, cell);
}

char const* name_of(ColumnType type)
{
    switch (type) {
    case ColumnType::text:
        return "text";
    case ColumnType::number:
        return "number";
    case ColumnType::whole:
        return "whole";
    case ColumnType::yes_no:
        return "yes-no";
    case ColumnType::moment:
        return "moment";
    }
    return "text";
}

} // namespace

Outcome write_csv(Table const& table, TextSink const& sink)
{
    std::string line;
    for (Column const& column : table.columns) {
        if (!line.empty()) line += ',';
        line += csv_cell(column.id);
    }
    if (!sink(line += "\r\n")) return sink_refused(table);
    return table.rows([&](TableRow const& row) -> Outcome {
        if (row.size() != table.columns.size()) return wrong_width(table, row.size());
        line.clear();
        for (std::size_t i = 0; i < row.size(); ++i) {
            if (i > 0) line += ',';
            line += csv_text(row[i]);
        }
        // A single empty column would be an empty line, which readers skip.
        if (line.empty()) line = "\"\"";
        if (!sink(line += "\r\n")) return sink_refused(table);
        return {};
    });
}

Outcome write_json(Table const& table, TextSink const& sink)
{
    std::string text = fmt::format("{{\"name\":{},\"columns\":[", json_quoted(table.name));
    for (std::size_t i = 0; i < table.columns.size(); ++i) {
        Column const& column = table.columns[i];
        text += fmt::format("{}\n  {{\"id\":{},\"title\":{},\"type\":\"{}\"}}", i > 0 ? "," : "",
                            json_quoted(column.id), json_quoted(column.title), name_of(column.type));
    }
    text += "\n],\"rows\":[";
    if (!sink(text)) return sink_refused(table);
    bool first = true;
    auto const take = [&](TableRow const& row) -> Outcome {
        if (row.size() != table.columns.size()) return wrong_width(table, row.size());
        text = first ? "\n  [" : ",\n  [";
        first = false;
        for (std::size_t i = 0; i < row.size(); ++i) {
            if (i > 0) text += ',';
            text += json_text(row[i]);
        }
        if (!sink(text += ']')) return sink_refused(table);
        return {};
    };
    TRY(table.rows(take));
    if (!sink("\n]}\n")) return sink_refused(table);
    return {};
}

} // namespace guidepin::report
