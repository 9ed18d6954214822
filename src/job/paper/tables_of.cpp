// SPDX-License-Identifier: Apache-2.0
#include "job/paper/tables_of.hpp"

#include <cmath>
#include <limits>
#include <optional>
#include <string>

namespace guidepin::job {

namespace {

using report::Cell;
using report::ColumnType;

/// Returns the limit of a reading of this link at a wavelength; NaN if there is none.
double limit_at(verdict::JudgeTasks const& tasks, std::size_t link, int wavelength_nm)
{
    verdict::LinkTask const& task = tasks.links[link];
    verdict::LinkKind const& kind = tasks.kinds[task.kind];
    for (std::size_t w = 0; w < kind.wavelengths; ++w) {
        if (kind.wavelength_nm[w] == wavelength_nm) return task.limit_db[w];
    }
    return std::numeric_limits<double>::quiet_NaN();
}

report::Table table_of_links(record::DerivedTables const& tables)
{
    auto const maybe = [](std::optional<double> value) -> Cell { return value ? Cell(*value) : Cell{}; };
    report::Table links;
    links.name = "links";
    links.title = "Links";
    links.columns = {{"link", "Link", ColumnType::text, 0, 16},
                     {"zone", "Zone", ColumnType::text, 0, 16},
                     {"state", "State", ColumnType::text, 0, 12},
                     {"category", "Fibre", ColumnType::text, 0, 8},
                     {"fibres", "Fibres", ColumnType::whole, 0, 8},
                     {"failed_fibres", "Fibres not accepted", ColumnType::whole, 0, 10},
                     {"worst_position", "Worst position", ColumnType::whole, 0, 10},
                     {"worst_wavelength_nm", "at nm", ColumnType::whole, 0, 8},
                     {"worst_attenuation_db", "Attenuation, dB", ColumnType::number, 2, 12},
                     {"worst_limit_db", "Limit, dB", ColumnType::number, 2, 10},
                     {"worst_margin_db", "Margin, dB", ColumnType::number, 2, 10},
                     {"probability_of_conformity", "p_c", ColumnType::number, 4, 8},
                     {"length_m", "Length, m", ColumnType::number, 1, 10},
                     {"reference", "Reference", ColumnType::text, 0, 12},
                     {"operator", "By", ColumnType::text, 0, 12},
                     {"reason", "Reason", ColumnType::text, 0, 60}};
    links.rows = [&tables, maybe](auto const& take) -> Outcome {
        for (record::DerivedLink const& link : tables.links) {
            TRY(take({link.link, link.zone, link.state, link.category, link.fibres, link.failed_fibres,
                      link.worst_position ? Cell(*link.worst_position) : Cell{},
                      link.worst_wavelength_nm ? Cell(*link.worst_wavelength_nm) : Cell{},
                      maybe(link.worst_attenuation_db), maybe(link.worst_limit_db),
                      maybe(link.worst_margin_db), maybe(link.conformity), maybe(link.length_m),
                      link.reference, link.operator_name, link.reason}));
        }
        return {};
    };
    return links;
}

report::Table table_of_readings(JobState const& state, Assessment const& assessment)
{
    report::Table readings;
    readings.name = "readings";
    readings.title = "Readings";
    readings.columns = {{"link", "Link", ColumnType::text, 0, 16},
                        {"launch_end", "Launch end", ColumnType::text, 0, 8},
                        {"position", "Position", ColumnType::whole, 0, 8},
                        {"far_position", "Far position", ColumnType::whole, 0, 8},
                        {"wavelength_nm", "Wavelength, nm", ColumnType::whole, 0, 8},
                        {"attenuation_db", "Attenuation, dB", ColumnType::number, 2, 12},
                        {"limit_db", "Limit, dB", ColumnType::number, 2, 10},
                        {"length_m", "Length, m", ColumnType::number, 1, 10},
                        {"taken_at", "Taken", ColumnType::moment, 0, 22},
                        {"reference", "Reference", ColumnType::text, 0, 12},
                        {"operator", "By", ColumnType::text, 0, 12},
                        {"state", "State", ColumnType::text, 0, 12},
                        {"superseded", "Superseded", ColumnType::yes_no, 0, 8}};
    readings.rows = [&state, &assessment](auto const& take) -> Outcome {
        auto const& r = state.readings;
        auto const name = [](verdict::Dictionary const& names, std::uint32_t index) -> Cell {
            return index == verdict::Dictionary::missing ? Cell{} : Cell(names.text(index));
        };
        for (std::size_t i = 0; i < r.size(); ++i) {
            double const limit = limit_at(assessment.tasks, r.link[i], r.wavelength_nm[i]);
            TRY(take({r.links.text(r.link[i]),
                      std::string(r.launch_end[i] == verdict::LaunchEnd::a ? "a" : "b"),
                      std::int64_t{r.position[i]},
                      r.far_position[i] == verdict::far_not_stated ? Cell{}
                                                                   : Cell(std::int64_t{r.far_position[i]}),
                      std::int64_t{r.wavelength_nm[i]}, std::isnan(r.value[i]) ? Cell{} : Cell(r.value[i]),
                      std::isnan(limit) ? Cell{} : Cell(limit),
                      std::isnan(r.length_m[i]) ? Cell{} : Cell(r.length_m[i]),
                      r.taken_ms[i] == verdict::ReadingColumns::no_time
                          ? Cell{}
                          : Cell(Instant{r.taken_ms[i], r.offset_minutes[i]}),
                      name(r.references, r.reference[i]), name(r.operators, r.operator_name[i]),
                      std::string(verdict::name_of(assessment.verdicts.reading_state[i])),
                      (assessment.verdicts.reading_flags[i] & verdict::superseded) != 0}));
        }
        return {};
    };
    return readings;
}

report::Table table_of_values(JobState const& state)
{
    report::Table values;
    values.name = "values";
    values.title = "Values";
    values.columns = {
        {"id", "Value", ColumnType::text, 0, 40},       {"quantity", "What it is", ColumnType::text, 0, 40},
        {"value", "Number", ColumnType::number, 3, 10}, {"unit", "Unit", ColumnType::text, 0, 8},
        {"source", "Source", ColumnType::text, 0, 40},  {"basis", "Known by", ColumnType::text, 0, 16}};
    values.rows = [&state](auto const& take) -> Outcome {
        for (facts::Fact const* const fact : state.rules.facts()) {
            TRY(take({fact->id, fact->quantity, fact->value, fact->unit, fact->source.text(),
                      std::string(facts::name_of(fact->basis))}));
        }
        return {};
    };
    return values;
}

} // namespace

std::vector<report::Table> tables_of(JobState const& state, Assessment const& assessment,
                                     record::DerivedTables const& tables)
{
    std::vector<report::Table> all;
    all.push_back(table_of_links(tables));
    all.push_back(table_of_readings(state, assessment));
    all.push_back(table_of_values(state));
    return all;
}

} // namespace guidepin::job
