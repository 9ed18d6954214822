// SPDX-License-Identifier: Apache-2.0
#include "intake/write.hpp"

#include "base/csv_cell.hpp"
#include "base/text.hpp"
#include "intake/layout.hpp"
#include "units/instant.hpp"

#include <cmath>

namespace guidepin::intake {

namespace {

/// The header: the layout's columns, of each group the one that is used.
std::string header_row(LayoutKind kind, std::string_view value_column, CsvStyle const& style)
{
    std::string text;
    for (Column const& column : columns_of(kind)) {
        if (column.group == "value" && column.name != value_column) continue;
        if (column.group == "length" && (column.name != "length_m" || !style.lengths)) continue;
        if (!text.empty()) text += ',';
        text += column.name;
    }
    return text.append(style.line_end);
}

std::string number_cell(double value)
{
    return std::isnan(value) ? std::string{} : number_text(value);
}

std::string moment_cell(std::int64_t ms, std::int16_t offset_minutes)
{
    return ms == verdict::ReadingColumns::no_time ? std::string{} : instant_text(Instant{ms, offset_minutes});
}

std::string name_cell(verdict::Dictionary const& names, std::uint32_t index)
{
    return index == verdict::Dictionary::missing ? std::string{} : csv_cell(names.text(index));
}

std::string far_cell(std::int16_t position)
{
    return position == verdict::far_not_stated ? std::string{} : std::to_string(position);
}

void add_row(std::string& text, std::vector<std::string> const& cells, CsvStyle const& style)
{
    for (std::size_t i = 0; i < cells.size(); ++i) {
        if (i > 0) text += ',';
        text += cells[i];
    }
    text += style.line_end;
}

} // namespace

std::string schedule_csv(std::vector<plant::LinkSpec> const& links)
{
    CsvStyle const style;
    std::string text = header_row(LayoutKind::schedule, {}, style);
    for (plant::LinkSpec const& link : links) {
        add_row(text,
                {csv_cell(link.id), csv_cell(link.zone), csv_cell(link.a.name), csv_cell(link.b.name),
                 csv_cell(link.category), number_text(link.length.value()), link.family.name(),
                 csv_cell(plant::occupancy_text(link.fibres)), csv_cell(link.trunk_type),
                 plant::name_of(link.a.pins), plant::name_of(link.b.pins), plant::name_of(link.face),
                 plant::name_of(link.a.fitting), plant::name_of(link.b.fitting),
                 std::to_string(link.inner_connections), std::to_string(link.splices),
                 csv_cell(joined(link.applications, "|"))},
                style);
    }
    return text;
}

std::string reference_csv(ReferencePowers const& powers, CsvStyle const& style)
{
    std::string text = header_row(LayoutKind::reference, "power_dbm", style);
    for (std::size_t i = 0; i < powers.size(); ++i) {
        add_row(text,
                {name_cell(powers.references, powers.reference[i]), std::to_string(powers.position[i]),
                 std::to_string(powers.wavelength_nm[i]), number_cell(powers.power_dbm[i]),
                 moment_cell(powers.taken_ms[i], powers.offset_minutes[i])},
                style);
    }
    return text;
}

std::string cord_check_csv(CordChecks const& checks, CsvStyle const& style)
{
    std::string text =
        header_row(LayoutKind::cord_check, checks.is_power ? "power_dbm" : "attenuation_db", style);
    std::vector<std::string> cells;
    for (std::size_t i = 0; i < checks.size(); ++i) {
        cells = {name_cell(checks.checks, checks.check[i]), name_cell(checks.references, checks.reference[i]),
                 std::to_string(checks.position[i]),        far_cell(checks.far_position[i]),
                 std::to_string(checks.wavelength_nm[i]),   number_cell(checks.value[i])};
        if (style.lengths) cells.push_back(number_cell(checks.length_m[i]));
        cells.push_back(moment_cell(checks.taken_ms[i], checks.offset_minutes[i]));
        add_row(text, cells, style);
    }
    return text;
}

std::string readings_csv(verdict::ReadingColumns const& readings, CsvStyle const& style)
{
    std::string text =
        header_row(LayoutKind::readings, readings.is_power ? "power_dbm" : "attenuation_db", style);
    text.reserve(text.size() + readings.size() * 80);
    std::vector<std::string> cells;
    for (std::size_t i = 0; i < readings.size(); ++i) {
        cells = {name_cell(readings.links, readings.link[i]),
                 readings.launch_end[i] == verdict::LaunchEnd::a ? "a" : "b",
                 std::to_string(readings.position[i]),
                 far_cell(readings.far_position[i]),
                 std::to_string(readings.wavelength_nm[i]),
                 number_cell(readings.value[i])};
        if (style.lengths) cells.push_back(number_cell(readings.length_m[i]));
        cells.push_back(moment_cell(readings.taken_ms[i], readings.offset_minutes[i]));
        cells.push_back(name_cell(readings.references, readings.reference[i]));
        cells.push_back(name_cell(readings.operators, readings.operator_name[i]));
        add_row(text, cells, style);
    }
    return text;
}

} // namespace guidepin::intake
