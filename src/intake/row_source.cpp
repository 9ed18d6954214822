// SPDX-License-Identifier: Apache-2.0
#include "intake/row_source.hpp"

#include "base/text.hpp"
#include "units/quantity.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::intake {

namespace {

bool is_decimal_kind(CellKind kind)
{
    return kind == CellKind::attenuation || kind == CellKind::power || kind == CellKind::length;
}
bool is_number_kind(CellKind kind)
{
    return is_decimal_kind(kind) || kind == CellKind::wavelength || kind == CellKind::position ||
           kind == CellKind::whole_number;
}

/// Away with the last bits of a unit change, so that 0.85 um is 850 nm and not 849.9999999999999.
double tidy(double value)
{
    double const rounded = std::round(value * 1e6) / 1e6;
    return std::fabs(rounded - value) <= 1e-9 * std::fabs(value) ? rounded : value;
}

} // namespace

std::vector<std::string> units_of(Column const& column)
{
    if (column.name == "attenuation_db") return {"dB"};
    if (column.name == "power_dbm") return {"dBm", "W", "mW", "uW", "µW", "nW"};
    if (column.kind == CellKind::wavelength) return {"nm", "um", "µm", "m"};
    if (column.name == "length_m") return {"m", "ft", "km", "cm", "mm"};
    return {};
}

std::optional<double> in_plain_unit(Column const& column, std::string_view unit, double value)
{
    if (unit.empty() || unit == "dB" || unit == "dBm" || unit == "nm") return value;
    if (column.name == "power_dbm") {
        double const milliwatts = unit == "W"                    ? value * 1e3
                                  : unit == "mW"                 ? value
                                  : unit == "uW" || unit == "µW" ? value * 1e-3
                                  : unit == "nW"                 ? value * 1e-6
                                                                 : std::nan("");
        if (!(milliwatts > 0)) return std::nullopt;
        return 10 * std::log10(milliwatts);
    }
    if (column.kind == CellKind::wavelength) {
        if (unit == "um" || unit == "µm") return tidy(value * 1e3);
        if (unit == "m") return tidy(value * 1e9);
        return std::nullopt;
    }
    if (unit == "m") return value;
    if (unit == "ft") return value * metres_per_foot;
    if (unit == "km") return value * 1e3;
    if (unit == "cm") return value / 1e2;
    if (unit == "mm") return value / 1e3;
    return std::nullopt;
}

RowSource::RowSource(OpenedFile file, LayoutKind kind, ReadOptions const& options)
    : file_(std::move(file))
    , columns_(columns_of(kind))
    , origins_(columns_.size())
    , map_(options.map)
    , cursor_(file_.body, file_.dialect.separator, file_.body_line)
    , texts_(columns_.size())
    , moments_(options.default_offset_minutes)
    , default_offset_(options.default_offset_minutes)
    , problems_(options.listed_at_most)
{
}

Result<RowSource> RowSource::open(std::string_view file, LayoutKind kind, ReadOptions const& options)
{
    if (options.map != nullptr && options.map->layout != kind) {
        return Error{Errc::invalid_input,
                     fmt::format("The column map '{}' is for {}, not for {}.", options.map->name,
                                 name_of(options.map->layout), name_of(kind))};
    }
    TRY_ASSIGN(OpenedFile opened, open_file(file, options));
    RowSource source(std::move(opened), kind, options);
    if (options.map == nullptr) {
        TRY_ASSIGN(HeaderMatch const match, match_header(kind, source.file_.headers));
        for (std::size_t k = 0; k < source.columns_.size(); ++k) {
            if (match.file_column[k] >= 0) source.origins_[k].file_columns = {match.file_column[k]};
        }
        source.unused_ = match.unused;
    } else {
        TRY(source.use_map(*options.map));
    }
    for (std::size_t k = 0; k < source.columns_.size(); ++k) {
        if (source.columns_[k].name == "length_ft" && source.has(k)) source.length_unit_ = LengthUnit::feet;
        if (source.columns_[k].name == "length" && source.has(k)) source.length_unit_ = LengthUnit::in_value;
    }
    std::vector<int> numbers;
    for (std::size_t k = 0; k < source.columns_.size(); ++k) {
        if (!is_number_kind(source.columns_[k].kind)) continue;
        for (int const column : source.origins_[k].file_columns) numbers.push_back(column);
    }
    for (WideSlot const& slot : source.wide_) numbers.push_back(slot.file_column);
    bool const has_quotes = source.file_.body.find('"') != std::string_view::npos;
    source.file_.dialect.decimal =
        detect_decimal(source.file_, numbers, has_quotes, options.map != nullptr ? options.map->comment : "");
    return source;
}

Outcome RowSource::use_map(ColumnMap const& map)
{
    if (map.default_offset_minutes) {
        default_offset_ = *map.default_offset_minutes;
        moments_ = MomentReader(default_offset_);
    }
    cursor_.pass_comments(map.comment);
    std::vector<std::string> normal;
    for (std::string const& header : file_.headers) normal.push_back(normal_header(header));
    std::vector<bool> used(normal.size(), false);
    for (auto const& [name, rule] : map.columns) {
        Origin& origin = origins_[column(name)];
        origin.rule = &rule;
        for (std::string const& from : rule.from) {
            auto const found = std::find(normal.begin(), normal.end(), normal_header(from));
            if (found == normal.end()) {
                auto const near = nearest(from, file_.headers);
                return Error{
                    Errc::invalid_input,
                    fmt::format(
                        "The column map '{}', line {}, takes {} from the header '{}', which the file does "
                        "not have{}. The header reads: {}.",
                        map.name, rule.line, name, from,
                        near.empty() ? "" : fmt::format(" (is it '{}'?)", joined(near, "' or '")),
                        shown(joined(file_.headers, ", ")))};
            }
            if (std::count(normal.begin(), normal.end(), *found) > 1) {
                return Error{Errc::invalid_input,
                             fmt::format("The header '{}' is twice in the file; give one of the "
                                         "two another name.",
                                         from)};
            }
            auto const place = static_cast<std::size_t>(found - normal.begin());
            used[place] = true;
            origin.file_columns.push_back(static_cast<int>(place));
        }
        if (!rule.pattern.empty()) {
            TRY_ASSIGN(origin.pattern, DatePattern::from(rule.pattern));
        }
    }
    TRY(find_wide_columns(map));
    for (WideSlot const& slot : wide_) used[static_cast<std::size_t>(slot.file_column)] = true;
    for (std::size_t i = 0; i < used.size(); ++i) {
        if (!used[i] && !file_.headers[i].empty()) unused_.push_back(file_.headers[i]);
    }
    return {};
}

Outcome RowSource::find_wide_columns(ColumnMap const& map)
{
    if (!map.wide) return {};
    wide_fill_ = column(map.wide->fills);
    for (WideColumn const& listed : map.wide->columns) {
        WideSlot slot;
        auto const found =
            std::find_if(file_.headers.begin(), file_.headers.end(), [&](std::string const& header) {
                return normal_header(header) == normal_header(listed.from);
            });
        if (found == file_.headers.end()) {
            auto const near = nearest(listed.from, file_.headers);
            return Error{
                Errc::invalid_input,
                fmt::format(
                    "The column map '{}', line {}, takes the header '{}', which the file does not have{}.",
                    map.name, listed.line, listed.from,
                    near.empty() ? "" : fmt::format(" (is it '{}'?)", joined(near, "' or '")))};
        }
        slot.file_column = static_cast<int>(found - file_.headers.begin());
        for (auto const& [name, text] : listed.sets) slot.sets.emplace_back(column(name), text);
        wide_.push_back(std::move(slot));
    }
    if (map.wide->pattern.empty()) return {};
    for (std::size_t i = 0; i < file_.headers.size(); ++i) {
        bool const claimed = std::any_of(origins_.begin(), origins_.end(), [&](Origin const& origin) {
            return std::count(origin.file_columns.begin(), origin.file_columns.end(), static_cast<int>(i)) >
                   0;
        });
        if (claimed) continue;
        WideSlot slot;
        slot.file_column = static_cast<int>(i);
        auto const captures = match_wide_header(map.wide->pattern, file_.headers[i], map.layout);
        if (!captures) continue;
        for (auto const& [name, text] : *captures) slot.sets.emplace_back(column(name), text);
        wide_.push_back(std::move(slot));
    }
    if (wide_.empty()) {
        return Error{Errc::invalid_input, fmt::format("The column map '{}', line {}: no header of the file "
                                                      "has the form '{}'. The header reads: {}.",
                                                      map.name, map.wide->line, map.wide->pattern,
                                                      shown(joined(file_.headers, ", ")))};
    }
    return {};
}

std::size_t RowSource::column(std::string_view name) const
{
    auto const found =
        std::find_if(columns_.begin(), columns_.end(), [&](Column const& c) { return c.name == name; });
    assert(found != columns_.end());
    return static_cast<std::size_t>(found - columns_.begin());
}

bool RowSource::has(std::size_t column) const
{
    Origin const& origin = origins_[column];
    if (!origin.file_columns.empty() || (origin.rule != nullptr && origin.rule->constant)) return true;
    if (wide_.empty()) return false;
    if (column == wide_fill_) return true;
    return std::any_of(wide_.begin(), wide_.end(), [&](WideSlot const& slot) {
        return std::any_of(slot.sets.begin(), slot.sets.end(),
                           [&](auto const& set) { return set.first == column; });
    });
}

bool RowSource::is_empty_text(std::string_view text) const
{
    if (text.empty()) return true;
    return map_ != nullptr && std::find(map_->empty.begin(), map_->empty.end(), text) != map_->empty.end();
}

bool RowSource::next_file_row()
{
    while (cursor_.next(row_)) {
        if (is_blank(row_)) continue;
        failed_in_row_.clear();
        if (row_.fault != nullptr) {
            std::size_t const f = row_.fault_field;
            problems_.add(row_.line, f < file_.headers.size() ? file_.headers[f] : "", row_.fields[f],
                          row_.fault);
        } else if (row_.fields.size() != file_.headers.size()) {
            problems_.add(row_.line, "", "",
                          fmt::format("has {} fields where the header has {}", row_.fields.size(),
                                      file_.headers.size()));
        } else {
            return true;
        }
        ++rows_;
        problems_.count_row();
    }
    return false;
}

bool RowSource::next()
{
    row_failed_ = false;
    current_slot_ = nullptr;
    if (!map_ || !map_->wide) {
        if (!next_file_row()) return false;
        ++rows_;
        return true;
    }
    while (true) {
        for (; slot_ < wide_.size() && !row_.fields.empty(); ++slot_) {
            auto const& field = row_.fields[static_cast<std::size_t>(wide_[slot_].file_column)];
            if (is_empty_text(tight(field))) continue; // not measured
            current_slot_ = &wide_[slot_++];
            ++rows_;
            return true;
        }
        if (!next_file_row()) return false;
        slot_ = 0;
    }
}

std::size_t RowSource::size_of(std::size_t column) const
{
    if (current_slot_ != nullptr && column == wide_fill_) {
        return tight(row_.fields[static_cast<std::size_t>(current_slot_->file_column)]).size();
    }
    std::size_t size = 0;
    for (int const place : origins_[column].file_columns)
        size += tight(row_.fields[static_cast<std::size_t>(place)]).size();
    return size;
}

std::string RowSource::raw(std::size_t column) const
{
    if (current_slot_ != nullptr) {
        if (column == wide_fill_) {
            return std::string(tight(row_.fields[static_cast<std::size_t>(current_slot_->file_column)]));
        }
        for (auto const& [set, text] : current_slot_->sets) {
            if (set == column) return text;
        }
    }
    Origin const& origin = origins_[column];
    if (origin.rule != nullptr && origin.rule->constant) return *origin.rule->constant;
    std::string text;
    for (int const place : origin.file_columns) {
        std::string_view const part = tight(row_.fields[static_cast<std::size_t>(place)]);
        if (!text.empty() && !part.empty()) text += ' ';
        text += part;
    }
    return text;
}

std::string RowSource::header_of(std::size_t column) const
{
    if (current_slot_ != nullptr) {
        bool const set = std::any_of(current_slot_->sets.begin(), current_slot_->sets.end(),
                                     [&](auto const& s) { return s.first == column; });
        if (set || column == wide_fill_)
            return file_.headers[static_cast<std::size_t>(current_slot_->file_column)];
    }
    std::string text;
    for (int const place : origins_[column].file_columns) {
        if (!text.empty()) text += " + ";
        text += file_.headers[static_cast<std::size_t>(place)];
    }
    return text.empty() ? std::string(columns_[column].name) : text;
}

void RowSource::fail(std::size_t column, std::string_view reason)
{
    if (!row_failed_) problems_.count_row();
    row_failed_ = true;
    bool const of_slot =
        current_slot_ != nullptr &&
        header_of(column) == file_.headers[static_cast<std::size_t>(current_slot_->file_column)];
    if (current_slot_ != nullptr && !of_slot) {
        // A wide row says this cell once for all its readings; so does the list.
        if (std::find(failed_in_row_.begin(), failed_in_row_.end(), column) != failed_in_row_.end()) return;
        failed_in_row_.push_back(column);
    }
    problems_.add(row_.line, header_of(column), raw(column), reason);
}

std::optional<std::string> RowSource::changed(std::size_t column, std::string text)
{
    ColumnRule const* const rule = origins_[column].rule;
    Column const& about = columns_[column];
    if (rule != nullptr && !rule->values.empty()) {
        auto const found = rule->values.find(normal_header(text));
        if (found != rule->values.end()) text = found->second;
    }
    if (about.kind == CellKind::moment && origins_[column].pattern) {
        auto const moment = origins_[column].pattern->read(text, default_offset_);
        if (!moment) {
            fail(column, fmt::format("is no time of the form {}", rule->pattern));
            return std::nullopt;
        }
        return instant_text(*moment);
    }
    if (is_decimal_kind(about.kind) && file_.dialect.decimal == ',') {
        if (text.find('.') != std::string::npos && !(rule != nullptr && rule->constant)) {
            fail(column, "is no number with a decimal comma, as the rest of this file has");
            return std::nullopt;
        }
        std::replace(text.begin(), text.end(), ',', '.');
    }
    bool const scaled = rule != nullptr && (!rule->unit.empty() || rule->scale != 1 || rule->add != 0);
    if (scaled && is_number_kind(about.kind)) {
        if (!is_decimal_kind(about.kind)) std::replace(text.begin(), text.end(), ',', '.'); // "0,85" µm
        auto const number = parse_number(text);
        if (!number) return text; // the cell's own rule says what is wrong
        auto const value = in_plain_unit(about, rule->unit, *number * rule->scale + rule->add);
        if (!value) {
            fail(column, fmt::format("has no level in dBm: a power in {} must be above zero", rule->unit));
            return std::nullopt;
        }
        return number_text(*value);
    }
    return text;
}

std::optional<std::string_view> RowSource::cell(std::size_t column)
{
    if (size_of(column) > longest_cell) {
        fail(column, fmt::format("is longer than {} bytes", longest_cell));
        return std::nullopt;
    }
    std::string text = raw(column);
    if (is_empty_text(text)) {
        if (columns_[column].required && has(column)) {
            fail(column, "is empty");
            return std::nullopt;
        }
        return std::string_view{};
    }
    auto result = changed(column, std::move(text));
    if (!result) return std::nullopt;
    texts_[column] = std::move(*result);
    return std::string_view(texts_[column]);
}

std::optional<std::string_view> RowSource::name(std::size_t column)
{
    auto const text = cell(column);
    if (!text) return std::nullopt;
    std::string_view const plain = without_guard(*text, plain_name_);
    if (char const* const fault = name_fault(plain)) {
        fail(column, fault);
        return std::nullopt;
    }
    return plain;
}

std::optional<Instant> RowSource::moment(std::size_t column, bool& failed)
{
    failed = false;
    auto const text = cell(column);
    if (!text || text->empty()) {
        failed = !text;
        return std::nullopt;
    }
    auto const moment = moments_.read(*text);
    if (!moment) {
        failed = true;
        fail(column, "is no time of RFC 3339, such as 2026-03-02T08:15:00+01:00");
    }
    return moment;
}

} // namespace guidepin::intake
