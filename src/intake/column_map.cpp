// SPDX-License-Identifier: Apache-2.0
#include "intake/column_map.hpp"

#include "base/text.hpp"
#include "base/toml_guard.hpp"
#include "intake/moment.hpp"
#include "intake/row_source.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

#include <fmt/format.h>

#define TOML_EXCEPTIONS 1
#include "base/toml.hpp"

namespace guidepin::intake {

namespace {

/// Where a header pattern has its words: "F{position}@{wavelength_nm}" is 'F', position, '@', wavelength_nm.
struct PatternPart
{
    bool is_capture = false;
    std::string text;
};

std::optional<std::vector<PatternPart>> pattern_parts(std::string_view pattern)
{
    std::vector<PatternPart> parts;
    while (!pattern.empty()) {
        auto const open = pattern.find('{');
        if (open != 0) {
            parts.push_back({false, std::string(pattern.substr(0, open))});
            if (open == std::string_view::npos) break;
            pattern.remove_prefix(open);
        }
        auto const close = pattern.find('}');
        if (close == std::string_view::npos) return std::nullopt;
        parts.push_back({true, normal_header(pattern.substr(1, close - 1))});
        pattern.remove_prefix(close + 1);
    }
    return parts;
}

/// Runs of spaces as one.
std::string plain_spacing(std::string_view text)
{
    std::string result;
    for (char const letter : trimmed(text)) {
        bool const space = letter == ' ' || letter == '\t' || letter == '\n' || letter == '\r';
        if (space && !result.empty() && result.back() == ' ') continue;
        result += space ? ' ' : letter;
    }
    return result;
}

Column const* find_column(LayoutKind layout, std::string_view name)
{
    for (Column const& column : columns_of(layout)) {
        if (column.name == name) return &column;
    }
    return nullptr;
}

/// Reads the tables of a map and gathers all that is wrong.
class MapReader
{
  public:
    MapReader(ColumnMap& map)
        : map_(map)
    {
    }

    void read(toml::table const& root)
    {
        known_keys(root, "", {"layout", "file", "column", "wide"});
        auto const layout = text_of(root, "layout");
        if (!layout) {
            fault(line_of(root),
                  "layout is missing; write layout = \"readings\" (or schedule, reference, cord-check)");
            return;
        }
        auto const kind = parse_layout_kind(*layout);
        if (!kind) {
            auto const near = nearest(*layout, {"schedule", "reference", "cord-check", "readings"});
            fault(line_of(*root.get("layout")),
                  fmt::format("layout '{}' is not one of schedule, reference, cord-check, readings{}",
                              shown(*layout), meant(near)));
            return;
        }
        map_.layout = *kind;
        if (auto const* const file = table_of(root, "file")) read_file(*file);
        if (auto const* const columns = table_of(root, "column")) read_columns(*columns);
        if (auto const* const wide = table_of(root, "wide")) read_wide(*wide);
        check_complete(line_of(root));
    }

    std::vector<std::string> const& faults() const { return faults_; }

  private:
    static int line_of(toml::node const& node) { return static_cast<int>(node.source().begin.line); }
    static std::string meant(std::vector<std::string> const& near)
    {
        return near.empty() ? "" : fmt::format(" (is it '{}'?)", joined(near, "' or '"));
    }
    void fault(int line, std::string const& what)
    {
        faults_.push_back(fmt::format("line {}: {}", std::max(line, 1), what));
    }

    void known_keys(toml::table const& table, std::string const& where, std::vector<std::string> const& known)
    {
        for (auto const& [key, value] : table) {
            std::string const name(key.str());
            if (std::find(known.begin(), known.end(), name) != known.end()) continue;
            fault(line_of(value), fmt::format("'{}' is not known{}{}; known are {}", shown(name),
                                              where.empty() ? "" : " in " + where,
                                              meant(nearest(name, known)), joined(known, ", ")));
        }
    }
    toml::table const* table_of(toml::table const& parent, char const* key)
    {
        toml::node const* const node = parent.get(key);
        if (node == nullptr) return nullptr;
        if (!node->is_table()) fault(line_of(*node), fmt::format("'{}' must be a table: [{}]", key, key));
        return node->as_table();
    }
    std::optional<std::string> text_of(toml::table const& table, char const* key)
    {
        toml::node const* const node = table.get(key);
        if (node == nullptr) return std::nullopt;
        if (auto const* const text = node->as_string()) return text->get();
        fault(line_of(*node), fmt::format("'{}' must be text in quotes", key));
        return std::nullopt;
    }
    std::optional<double> number_of(toml::table const& table, char const* key)
    {
        toml::node const* const node = table.get(key);
        if (node == nullptr) return std::nullopt;
        auto const number = node->value<double>();
        if (number && node->is_number() && std::isfinite(*number)) return number;
        fault(line_of(*node), fmt::format("'{}' must be a number", key));
        return std::nullopt;
    }
    /// One text or a list of them.
    std::vector<std::string> texts_of(toml::table const& table, char const* key)
    {
        toml::node const* const node = table.get(key);
        if (node == nullptr) return {};
        if (auto const* const text = node->as_string()) return {text->get()};
        std::vector<std::string> result;
        if (auto const* const list = node->as_array()) {
            for (toml::node const& one : *list) {
                if (auto const* const text = one.as_string()) result.push_back(text->get());
            }
            if (result.size() == list->size() && !result.empty()) return result;
        }
        fault(line_of(*node), fmt::format("'{}' must be text in quotes, or a list of such texts", key));
        return {};
    }

    void read_file(toml::table const& file)
    {
        known_keys(file, "[file]", {"separator", "decimal", "skip_lines", "comment", "zone", "empty"});
        if (auto const separator = text_of(file, "separator")) {
            if (*separator == "," || *separator == ";") {
                map_.separator = separator->front();
            } else if (*separator == "\t" || *separator == "tab") {
                map_.separator = '\t';
            } else {
                fault(line_of(*file.get("separator")),
                      fmt::format("separator '{}' is not one of \",\", \";\", \"tab\"", shown(*separator)));
            }
        }
        if (auto const decimal = text_of(file, "decimal")) {
            if (*decimal == "." || *decimal == ",") {
                map_.decimal = decimal->front();
            } else {
                fault(line_of(*file.get("decimal")),
                      fmt::format("decimal '{}' is neither \".\" nor \",\"", shown(*decimal)));
            }
        }
        if (toml::node const* const skip = file.get("skip_lines")) {
            auto const count = skip->value_exact<std::int64_t>();
            if (count && *count >= 0 && *count <= 10'000) {
                map_.skip_lines = static_cast<int>(*count);
            } else {
                fault(line_of(*skip), "skip_lines must be a whole number from 0 to 10000");
            }
        }
        map_.comment = text_of(file, "comment").value_or("");
        if (map_.comment.starts_with('"'))
            fault(line_of(*file.get("comment")), "comment cannot begin with a double quote");
        if (auto const zone = text_of(file, "zone")) {
            map_.default_offset_minutes = parse_zone(*zone);
            if (!map_.default_offset_minutes) {
                fault(
                    line_of(*file.get("zone")),
                    fmt::format("zone '{}' is no offset from UTC such as \"+01:00\" or \"Z\"", shown(*zone)));
            }
        }
        map_.empty = texts_of(file, "empty");
    }

    Column const* known_column(std::string const& name, int line)
    {
        if (Column const* const column = find_column(map_.layout, name)) {
            if (name != "length_ft" && name != "length") return column;
            fault(line, fmt::format("'{}': use length_m with unit = \"ft\" (or m, km, cm, mm)", name));
            return nullptr;
        }
        std::vector<std::string> names;
        for (Column const& column : columns_of(map_.layout)) {
            if (column.name != "length_ft" && column.name != "length") names.emplace_back(column.name);
        }
        fault(line, fmt::format("'{}' is no column of {}{}; its columns are {}", shown(name),
                                name_of(map_.layout), meant(nearest(name, names)), joined(names, ", ")));
        return nullptr;
    }

    void read_columns(toml::table const& columns)
    {
        for (auto const& [key, node] : columns) {
            std::string const name(key.str());
            Column const* const column = known_column(name, line_of(node));
            if (column == nullptr) continue;
            if (!node.is_table()) {
                fault(line_of(node), fmt::format("'{0}' must be a table: [column.{0}]", name));
                continue;
            }
            map_.columns.emplace(name, read_rule(*node.as_table(), *column));
        }
    }

    ColumnRule read_rule(toml::table const& table, Column const& column)
    {
        std::string const where = fmt::format("[column.{}]", column.name);
        known_keys(table, where, {"from", "constant", "unit", "scale", "add", "values", "pattern"});
        ColumnRule rule;
        rule.line = line_of(table);
        rule.from = texts_of(table, "from");
        rule.constant = text_of(table, "constant");
        if (!rule.from.empty() && rule.constant)
            fault(rule.line, where + " has both from and constant; keep one");
        bool const number = column.kind == CellKind::attenuation || column.kind == CellKind::power ||
                            column.kind == CellKind::length || column.kind == CellKind::wavelength ||
                            column.kind == CellKind::position || column.kind == CellKind::whole_number;
        rule.scale = number_of(table, "scale").value_or(1);
        rule.add = number_of(table, "add").value_or(0);
        if (!number && (table.contains("scale") || table.contains("add") || table.contains("unit"))) {
            fault(rule.line, where + " is no number, so it takes no unit, scale or add");
        }
        if (table.contains("scale") && rule.scale == 0)
            fault(line_of(*table.get("scale")), "scale cannot be 0");
        if (auto const unit = text_of(table, "unit")) {
            auto const units = units_of(column);
            if (std::find(units.begin(), units.end(), *unit) != units.end()) {
                rule.unit = *unit;
            } else if (number) {
                fault(line_of(*table.get("unit")),
                      units.empty() ? fmt::format("{} has no unit", column.name)
                                    : fmt::format("unit '{}' is not one of {} for {}", shown(*unit),
                                                  joined(units, ", "), column.name));
            }
        }
        if (auto const* const values = table_of(table, "values")) {
            for (auto const& [from, to] : *values) {
                if (auto const* const text = to.as_string()) {
                    rule.values[normal_header(from.str())] = text->get();
                } else {
                    fault(line_of(to),
                          fmt::format("values: '{}' must become text in quotes", shown(from.str())));
                }
            }
        }
        if (auto const pattern = text_of(table, "pattern")) {
            auto const parsed = DatePattern::from(*pattern);
            if (column.kind != CellKind::moment) {
                fault(rule.line, where + " is no time, so it takes no pattern");
            } else if (!parsed) {
                fault(line_of(*table.get("pattern")), parsed.error().message);
            } else {
                rule.pattern = *pattern;
            }
        }
        return rule;
    }

    void read_wide(toml::table const& table)
    {
        known_keys(table, "[wide]", {"fills", "header", "column"});
        WideRule wide;
        wide.line = line_of(table);
        if (map_.layout == LayoutKind::schedule) {
            fault(wide.line,
                  "a schedule has one row a link; [wide] is for readings, reference and cord-check");
            return;
        }
        wide.fills = text_of(table, "fills")
                         .value_or(map_.layout == LayoutKind::reference ? "power_dbm" : "attenuation_db");
        if (!(wide.fills == "power_dbm" ||
              (wide.fills == "attenuation_db" && map_.layout != LayoutKind::reference))) {
            fault(wide.line,
                  fmt::format("fills '{}' is not one of attenuation_db, power_dbm", shown(wide.fills)));
            return;
        }
        wide.pattern = text_of(table, "header").value_or("");
        if (!wide.pattern.empty()) check_pattern(wide);
        if (toml::node const* const list = table.get("column")) read_wide_columns(*list, wide);
        if (wide.pattern.empty() == wide.columns.empty()) {
            fault(wide.line,
                  "[wide] needs either header = \"F{position}@{wavelength_nm}\" or [[wide.column]] entries");
            return;
        }
        map_.wide = std::move(wide);
    }

    void check_pattern(WideRule const& wide)
    {
        auto const parts = pattern_parts(wide.pattern);
        if (!parts) {
            fault(wide.line, fmt::format("header '{}' has a '{{' without '}}'", shown(wide.pattern)));
            return;
        }
        bool previous = false;
        std::vector<std::string> seen;
        for (PatternPart const& part : *parts) {
            if (part.is_capture) {
                known_column(part.text, wide.line);
                if (previous) fault(wide.line, "header: two columns need some text between them");
                if (std::find(seen.begin(), seen.end(), part.text) != seen.end() || part.text == wide.fills) {
                    fault(wide.line,
                          fmt::format("header: '{}' is there twice, or is what the columns fill", part.text));
                }
                seen.push_back(part.text);
            }
            previous = part.is_capture;
        }
        if (seen.empty()) fault(wide.line, "header names no column, such as {position}");
    }

    void read_wide_columns(toml::node const& list, WideRule& wide)
    {
        auto const* const entries = list.as_array();
        if (entries == nullptr) {
            fault(line_of(list), "columns of a wide layout are listed as [[wide.column]]");
            return;
        }
        for (toml::node const& entry : *entries) {
            auto const* const table = entry.as_table();
            if (table == nullptr) {
                fault(line_of(entry), "columns of a wide layout are listed as [[wide.column]]");
                continue;
            }
            WideColumn column;
            column.line = line_of(entry);
            column.from = text_of(*table, "from").value_or("");
            if (column.from.empty()) fault(column.line, "[[wide.column]] needs from = \"header\"");
            for (auto const& [key, node] : *table) {
                std::string const name(key.str());
                if (name == "from" || known_column(name, line_of(node)) == nullptr) continue;
                if (auto const* const text = node.as_string()) {
                    column.sets[name] = text->get();
                } else if (auto const whole = node.value_exact<std::int64_t>()) {
                    column.sets[name] = fmt::format("{}", *whole);
                } else {
                    fault(line_of(node), fmt::format("'{}' must be text in quotes or a whole number", name));
                }
            }
            wide.columns.push_back(std::move(column));
        }
    }

    bool is_made(std::string_view name) const
    {
        auto const rule = map_.columns.find(std::string(name));
        if (rule != map_.columns.end() && (!rule->second.from.empty() || rule->second.constant)) return true;
        if (!map_.wide) return false;
        if (map_.wide->fills == name) return true;
        if (auto const parts = pattern_parts(map_.wide->pattern); parts && !map_.wide->pattern.empty()) {
            return std::any_of(parts->begin(), parts->end(),
                               [&](PatternPart const& part) { return part.is_capture && part.text == name; });
        }
        return std::all_of(map_.wide->columns.begin(), map_.wide->columns.end(),
                           [&](WideColumn const& column) { return column.sets.contains(std::string(name)); });
    }

    void check_complete(int line)
    {
        bool const attenuation =
            find_column(map_.layout, "attenuation_db") != nullptr && is_made("attenuation_db");
        bool const power = find_column(map_.layout, "power_dbm") != nullptr && is_made("power_dbm");
        if (attenuation && power) fault(line, "both attenuation_db and power_dbm are made; keep one");
        for (Column const& column : columns_of(map_.layout)) {
            if (!column.required || is_made(column.name)) continue;
            if (column.group == "value" && (attenuation || power || column.name == "power_dbm")) continue;
            if (column.name == "length_ft" || column.name == "length") continue;
            fault(line,
                  fmt::format("nothing makes the column {}{}; write [column.{}] with from = \"header\" or "
                              "constant = \"text\"",
                              column.name, column.group == "value" ? " (or power_dbm)" : "", column.name));
        }
        for (auto const& [name, rule] : map_.columns) {
            if (is_made(name) || !rule.from.empty() || rule.constant) continue;
            fault(rule.line, fmt::format("[column.{}] needs from = \"header\" or constant = \"text\"", name));
        }
    }

    ColumnMap& map_;
    std::vector<std::string> faults_;
};

} // namespace

Result<ColumnMap> read_column_map(std::string_view toml_text, std::string const& name)
{
    ColumnMap map;
    map.name = name;
    if (toml_text.starts_with("\xEF\xBB\xBF")) toml_text.remove_prefix(3);
    if (auto const fault = toml_fault(toml_text)) {
        return Error{Errc::invalid_input, fmt::format("{}: line {}: {}.", name, fault->line, fault->reason)};
    }
    try {
        toml::table const root = toml::parse(toml_text);
        MapReader reader(map);
        reader.read(root);
        if (!reader.faults().empty()) {
            return Error{Errc::invalid_input, fmt::format("{}: the column map does not hold.\n{}", name,
                                                          joined(reader.faults(), "\n"))};
        }
    } catch (toml::parse_error const& error) {
        return Error{Errc::invalid_input,
                     fmt::format("{}: line {}: {}.", name, error.source().begin.line, error.description())};
    }
    return map;
}

std::optional<std::vector<std::pair<std::string, std::string>>>
match_wide_header(std::string_view pattern, std::string_view header, LayoutKind layout)
{
    auto const parts = pattern_parts(pattern);
    if (!parts) return std::nullopt;
    std::string const text = plain_spacing(header);
    std::string const lower = lowered(text); // same length: only ASCII letters change
    std::string_view rest = lower;
    std::vector<std::pair<std::string, std::string>> captures;
    for (std::size_t i = 0; i < parts->size(); ++i) {
        PatternPart const& part = (*parts)[i];
        if (!part.is_capture) {
            std::string literal = lowered(part.text);
            if (i == 0) literal.erase(0, literal.find_first_not_of(' '));
            if (i + 1 == parts->size()) literal.erase(literal.find_last_not_of(' ') + 1);
            if (!rest.starts_with(literal)) return std::nullopt;
            rest.remove_prefix(literal.size());
            continue;
        }
        Column const* const column = find_column(layout, part.text);
        if (column == nullptr) return std::nullopt;
        std::size_t length = 0;
        if (column->kind == CellKind::position || column->kind == CellKind::wavelength) {
            length = std::min(rest.find_first_not_of("0123456789."), rest.size());
        } else {
            std::string const stop = i + 1 < parts->size() ? lowered((*parts)[i + 1].text) : std::string{};
            length = stop.empty() ? rest.size() : rest.find(stop);
            if (length == std::string_view::npos) return std::nullopt;
        }
        if (length == 0) return std::nullopt;
        captures.emplace_back(
            part.text,
            std::string(trimmed(std::string_view(text).substr(lower.size() - rest.size(), length))));
        rest.remove_prefix(length);
    }
    if (!rest.empty()) return std::nullopt;
    return captures;
}

} // namespace guidepin::intake
