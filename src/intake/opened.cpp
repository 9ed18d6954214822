// SPDX-License-Identifier: Apache-2.0
#include "intake/opened.hpp"

#include "base/text.hpp"
#include "intake/cells.hpp"
#include "intake/column_map.hpp"

#include <algorithm>
#include <span>

#include <fmt/format.h>

namespace guidepin::intake {

Result<OpenedFile> open_file(std::string_view file, ReadOptions const& options)
{
    TRY_ASSIGN(std::string_view const text, text_of_file(file));
    TRY(require_lines(text));
    ColumnMap const* const map = options.map;
    CsvCursor before(text, ',');
    if (map != nullptr) before.skip_lines(map->skip_lines);
    std::string const comment = map != nullptr ? map->comment : std::string{};
    // The header is the first line with something in it, so the separator is looked for there.
    std::string_view rest = before.rest();
    std::uint32_t line = before.line();
    while (!rest.empty()) {
        auto const end = rest.find('\n');
        std::string_view const first = rest.substr(0, end);
        bool const passed = trimmed(first).empty() || (!comment.empty() && first.starts_with(comment));
        if (!passed) break;
        rest.remove_prefix(end == std::string_view::npos ? rest.size() : end + 1);
        ++line;
    }
    OpenedFile result;
    char const given = options.separator != 0 ? options.separator : map != nullptr ? map->separator : char{0};
    result.dialect.separator = given != 0 ? given : detect_separator(rest);
    CsvCursor cursor(rest, result.dialect.separator, line);
    CsvRow header;
    if (!cursor.next(header)) return Error{Errc::invalid_input, "There is no header line."};
    if (header.fault != nullptr) {
        return Error{Errc::invalid_input, fmt::format("Line {}: header {}: {}.", header.line,
                                                      header.fault_field + 1, header.fault)};
    }
    if (header.fields.size() > most_columns) {
        return Error{Errc::invalid_input,
                     fmt::format("Line {}: the header has {} columns; at most {} are read.", header.line,
                                 header.fields.size(), most_columns)};
    }
    for (std::string_view const field : header.fields) {
        if (char const* const fault = name_fault(tight(field))) {
            return Error{Errc::invalid_input,
                         fmt::format("Line {}: header '{}' {}.", header.line, shown(field), fault)};
        }
        result.headers.emplace_back(tight(field));
    }
    result.body = cursor.rest();
    result.body_line = cursor.line();
    char const decimal = options.decimal != 0 ? options.decimal : map != nullptr ? map->decimal : char{0};
    result.dialect.decimal = decimal;
    return result;
}

namespace {

/// Finds each column of a layout in the header of a file, and gathers what is wrong with the header.
class HeaderMatching
{
  public:
    HeaderMatching(LayoutKind kind, std::vector<std::string> const& headers)
        : columns_(columns_of(kind))
        , headers_(headers)
    {
        match_.file_column.assign(columns_.size(), -1);
    }

    Result<HeaderMatch> result()
    {
        find_columns();
        require_columns();
        place_unknown_headers();
        if (faults_.empty()) return std::move(match_);
        std::vector<std::string> header_names;
        for (std::string const& header : headers_) header_names.push_back(shown(header));
        return Error{Errc::invalid_input, fmt::format("The header does not hold: {}. The header reads: {}. A "
                                                      "file of another layout is read through "
                                                      "a column map.",
                                                      joined(faults_, "; "), joined(header_names, ", "))};
    }

  private:
    void find_columns()
    {
        for (std::size_t i = 0; i < headers_.size(); ++i) {
            std::string const name = normal_header(headers_[i]);
            if (name.empty()) continue;
            auto const found = std::find_if(columns_.begin(), columns_.end(),
                                            [&](Column const& column) { return column.name == name; });
            if (found == columns_.end()) {
                unknown_.push_back(headers_[i]);
                continue;
            }
            int& place = match_.file_column[static_cast<std::size_t>(found - columns_.begin())];
            if (place >= 0) {
                faults_.push_back(
                    fmt::format("column '{}' is there twice (columns {} and {})", name, place + 1, i + 1));
            } else {
                place = static_cast<int>(i);
            }
        }
    }

    /// Of a group of columns, those that the file has: one of them is enough, and two are too many.
    std::vector<std::string> present(std::string_view group) const
    {
        std::vector<std::string> names;
        for (std::size_t k = 0; k < columns_.size(); ++k) {
            if (columns_[k].group == group && match_.file_column[k] >= 0)
                names.emplace_back(columns_[k].name);
        }
        return names;
    }

    void require_columns()
    {
        for (std::size_t k = 0; k < columns_.size(); ++k) {
            Column const& column = columns_[k];
            if (!column.group.empty()) {
                bool const first = k == 0 || columns_[k - 1].group != column.group;
                auto const names = present(column.group);
                if (first && names.size() > 1) {
                    faults_.push_back(
                        fmt::format("columns {} say the same; keep one", joined(names, " and ")));
                }
                if (!first || !names.empty()) continue;
            }
            if (column.required && match_.file_column[k] < 0) faults_.push_back(missing(column));
        }
    }

    /// "column 'link' is missing (is it 'lnk'?)"
    std::string missing(Column const& column) const
    {
        std::vector<std::string> alternatives;
        for (Column const& other : columns_) {
            if (other.name == column.name || (!column.group.empty() && other.group == column.group)) {
                alternatives.emplace_back(other.name);
            }
        }
        std::string fault = fmt::format("column '{}' is missing", joined(alternatives, "' or '"));
        std::vector<std::string> near;
        for (std::string const& name : alternatives) {
            for (std::string const& candidate : nearest(name, unknown_)) {
                if (std::find(near.begin(), near.end(), candidate) == near.end()) near.push_back(candidate);
            }
        }
        if (!near.empty()) fault += fmt::format(" (is it '{}'?)", joined(near, "' or '"));
        return fault;
    }

    /// A misspelt optional column must not be lost in silence; other unknown columns are only not used.
    void place_unknown_headers()
    {
        std::vector<std::string> optional_absent;
        for (std::size_t k = 0; k < columns_.size(); ++k) {
            bool const is_there =
                columns_[k].group.empty() ? match_.file_column[k] >= 0 : !present(columns_[k].group).empty();
            if (!columns_[k].required && !is_there) optional_absent.emplace_back(columns_[k].name);
        }
        for (std::string const& header : unknown_) {
            auto const meant = nearest(normal_header(header), optional_absent);
            if (!meant.empty()) {
                faults_.push_back(fmt::format("column '{}' is not known; is it '{}'? Correct or remove it",
                                              shown(header), joined(meant, "' or '")));
            } else {
                match_.unused.push_back(header);
            }
        }
    }

    std::span<Column const> columns_;
    std::vector<std::string> const& headers_;
    HeaderMatch match_;
    std::vector<std::string> faults_, unknown_;
};

} // namespace

Result<HeaderMatch> match_header(LayoutKind kind, std::vector<std::string> const& headers)
{
    return HeaderMatching(kind, headers).result();
}

char detect_decimal(OpenedFile const& file, std::vector<int> const& number_columns, bool has_quotes,
                    std::string const& comment)
{
    if (file.dialect.decimal != 0) return file.dialect.decimal;
    // With commas between fields a decimal comma can only stand in quotes.
    if (file.dialect.separator == ',' && !has_quotes) return '.';
    CsvCursor cursor(file.body, file.dialect.separator);
    cursor.pass_comments(comment);
    CsvRow row;
    while (cursor.next(row)) {
        for (int const column : number_columns) {
            if (static_cast<std::size_t>(column) >= row.fields.size()) continue;
            std::string_view const field = tight(row.fields[static_cast<std::size_t>(column)]);
            auto const mark = field.find_first_of(".,");
            bool const number = mark != std::string_view::npos && !field.empty() &&
                                field.find_first_not_of("+-0123456789.,") == std::string_view::npos;
            if (number) return field[mark];
        }
    }
    return '.';
}

} // namespace guidepin::intake
