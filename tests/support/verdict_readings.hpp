// SPDX-License-Identifier: Apache-2.0
// Small jobs for the tests of the verdict room.
#pragma once

#include "plant/presets.hpp"
#include "verdict/judge.hpp"

#include <cmath>

namespace guidepin::verdict {

struct Row
{
    std::string link = "L1";
    LaunchEnd end = LaunchEnd::a;
    int position = 1;
    int far = far_not_stated;
    int wavelength = 850;
    double db = 0.3;
    double length = std::nan("");
    std::int64_t taken = ReadingColumns::no_time;
};

inline void add(ReadingColumns& readings, Row const& row)
{
    readings.link.push_back(readings.links.index_of(row.link));
    readings.launch_end.push_back(row.end);
    readings.position.push_back(static_cast<std::int16_t>(row.position));
    readings.far_position.push_back(static_cast<std::int16_t>(row.far));
    readings.wavelength_nm.push_back(static_cast<std::uint16_t>(row.wavelength));
    readings.value.push_back(row.db);
    readings.length_m.push_back(row.length);
    readings.taken_ms.push_back(row.taken);
    readings.offset_minutes.push_back(0);
    readings.reference.push_back(Dictionary::missing);
    readings.operator_name.push_back(Dictionary::missing);
    readings.line.push_back(static_cast<std::uint32_t>(readings.link.size() + 1));
}

inline ReadingColumns columns_of(std::vector<Row> const& rows)
{
    ReadingColumns readings;
    for (Row const& row : rows) add(readings, row);
    return readings;
}

/// Judges all links at once.
inline Result<Verdicts> judge(ReadingColumns const& readings, JudgeTasks const& tasks,
                              std::span<std::uint8_t const> hold = {})
{
    TRY_ASSIGN(Verdicts verdicts, prepare_verdicts(readings, tasks));
    RowsByLink const rows{readings, tasks.links.size()};
    judge_links({readings, rows, tasks, hold}, 0, tasks.links.size(), verdicts);
    return verdicts;
}

/// One kind: type B on mpo-12, 850 nm required and 1300 nm allowed, u = 0.05 dB; limit 0.75 dB, 30 m drawn.
inline JudgeTasks tasks_for(std::size_t links, char const* type = "B")
{
    plant::Family const family = plant::parse_family("mpo-12").value();
    JudgeTasks tasks;
    LinkKind kind = kind_of(plant::cable_map(type, family).value());
    kind.wavelength_nm = {850, 1300};
    kind.uncertainty = {UncertaintyModel::constant(0.05), UncertaintyModel::constant(0.05)};
    kind.wavelengths = 2;
    kind.required = 1;
    tasks.kinds.push_back(kind);
    LinkTask task;
    task.limit_db.fill(0.75);
    task.length_m = 30;
    tasks.links.assign(links, task);
    return tasks;
}

/// All twelve fibres of a healthy type B link from end A at 850 nm.
inline std::vector<Row> healthy(std::string const& link = "L1", double db = 0.3)
{
    std::vector<Row> rows;
    for (int p = 1; p <= 12; ++p) rows.push_back(Row{link, LaunchEnd::a, p, 13 - p, 850, db, 30.2});
    return rows;
}

} // namespace guidepin::verdict
