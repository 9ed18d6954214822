// SPDX-License-Identifier: Apache-2.0
// The rows of the derived tables: what lists, pages and queries read.
#include "base/rounding.hpp"
#include "base/text.hpp"
#include "job/assess/assess.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using verdict::State;

std::optional<double> known_number(double value)
{
    return std::isnan(value) ? std::nullopt : std::optional<double>(rounded_to(value, 6));
}

/// The reading taken last of those that count, or none.
std::optional<std::uint32_t> latest_row(JobState const& state, Groundwork const& ground, std::size_t link)
{
    std::optional<std::uint32_t> latest;
    for (std::uint32_t i = ground.rows->begin(link); i < ground.rows->end(link); ++i) {
        std::uint32_t const row = ground.rows->row(i);
        if (ground.verdicts.reading_flags[row] & verdict::superseded) continue;
        if (!latest || state.readings.taken_ms[row] > state.readings.taken_ms[*latest]) latest = row;
    }
    return latest;
}

std::string reason_of(JobState const& state, Assessment const& assessment, std::size_t link)
{
    verdict::LinkVerdict const& v = assessment.verdicts.links[link];
    if (link >= state.scheduled()) return "measured, but not in the schedule";
    if (v.readings == 0) return "not measured yet";
    if (v.state == State::pass) return {};
    if (v.state == State::held) {
        for (std::uint32_t i = assessment.rows->begin(link); i < assessment.rows->end(link); ++i) {
            std::uint32_t const row = assessment.rows->row(i);
            if (!assessment.hold.empty() && assessment.hold[row] != 0)
                return assessment.hold_of(state, row).text;
        }
    }
    auto const detail = verdict::explain(state.readings, *assessment.rows, assessment.tasks,
                                         assessment.verdicts, link, writing_of(state.settings));
    for (verdict::Finding const& finding : detail.findings) {
        if (finding.decides) return finding.text;
    }
    return {};
}

record::DerivedLink derived_link(JobState const& state, Assessment const& assessment, std::size_t link)
{
    verdict::LinkVerdict const& v = assessment.verdicts.links[link];
    record::DerivedLink row;
    row.link = state.readings.links.text(static_cast<std::uint32_t>(link));
    row.scheduled = link < state.scheduled();
    row.state = state_id(v.state);
    if (row.scheduled) {
        plant::LinkSpec const& spec = state.links[link];
        row.zone = spec.zone;
        row.category = spec.category;
        row.family = spec.family.name();
        row.search = lowered(spec.id + " " + spec.zone + " " + spec.a.name + " " + spec.b.name);
    } else {
        row.search = lowered(row.link);
    }
    row.fibres = v.fibres;
    row.readings = v.current;
    row.failed_fibres = v.readings == 0 ? 0 : v.fibres - v.fibres_accepted;
    row.worst_margin_db = known_number(v.margin_db);
    row.worst_attenuation_db = known_number(v.worst_attenuation_db);
    row.worst_limit_db = known_number(v.worst_limit_db);
    if (v.worst_position != 0) {
        row.worst_position = v.worst_position;
        row.worst_wavelength_nm = v.worst_wavelength_nm;
    }
    if (!std::isnan(v.p_conform)) row.conformity = v.p_conform;
    if (!std::isnan(v.length_most_m)) row.length_m = rounded_to(static_cast<double>(v.length_most_m), 3);
    if (auto const latest = latest_row(state, assessment, link)) {
        Instant const taken{state.readings.taken_ms[*latest], state.readings.offset_minutes[*latest]};
        if (taken.ms != verdict::ReadingColumns::no_time) {
            row.tested_at_ms = taken.ms;
            row.tested_offset_minutes = taken.offset_minutes;
            row.day = date_text(taken);
        }
        if (state.readings.reference[*latest] != verdict::Dictionary::missing) {
            row.reference = state.readings.references.text(state.readings.reference[*latest]);
        }
        if (state.readings.operator_name[*latest] != verdict::Dictionary::missing) {
            row.operator_name = state.readings.operators.text(state.readings.operator_name[*latest]);
        }
    }
    row.reason = reason_of(state, assessment, link);
    row.row = row_text(state, assessment, link);
    return row;
}

/// By wavelength and position at A: a reading that counts saw no light arrive.
std::vector<bool> dark_cells(JobState const& state, Groundwork const& ground, std::size_t link)
{
    verdict::LinkKind const& kind = ground.tasks.kinds[ground.tasks.links[link].kind];
    auto const columns = static_cast<std::size_t>(ground.verdicts.columns[link]);
    std::vector<bool> dark(kind.wavelengths * columns, false);
    for (std::uint32_t i = ground.rows->begin(link); i < ground.rows->end(link); ++i) {
        std::uint32_t const row = ground.rows->row(i);
        if (state.readings.far_position[row] != verdict::far_dark ||
            (ground.verdicts.reading_flags[row] & (verdict::superseded | verdict::not_planned)))
            continue;
        int const launched = state.readings.position[row];
        // Without a map in the plan a fibre has one number at both ends.
        bool const from_a = state.readings.launch_end[row] == verdict::LaunchEnd::a || kind.b_to_a.empty();
        int const at_a = from_a ? launched : kind.b_to_a.at(launched);
        for (std::size_t w = 0; w < kind.wavelengths; ++w) {
            if (kind.wavelength_nm[w] == state.readings.wavelength_nm[row] && at_a >= 1 &&
                at_a <= static_cast<int>(columns))
                dark[w * columns + static_cast<std::size_t>(at_a - 1)] = true;
        }
    }
    return dark;
}

/// Verdict of one test alone.
record::DerivedTest derived_test(JobState const& state, Groundwork const& ground, TestEntry const& test,
                                 std::size_t link)
{
    record::DerivedTest row;
    row.link = test.link;
    row.station = test.station;
    row.sequence = test.sequence;
    row.counts = false;
    State worst = State::pass;
    double margin = std::numeric_limits<double>::infinity();
    std::int64_t latest = verdict::ReadingColumns::no_time;
    verdict::LinkTask const& task = ground.tasks.links[link];
    verdict::LinkKind const& kind = ground.tasks.kinds[task.kind];
    for (std::uint32_t i = test.first_row; i < test.first_row + test.rows; ++i) {
        if (!(ground.verdicts.reading_flags[i] & verdict::superseded)) row.counts = true;
        worst = verdict::worse(worst, ground.verdicts.reading_state[i]);
        if (state.readings.taken_ms[i] > latest) {
            latest = state.readings.taken_ms[i];
            row.tested_offset_minutes = state.readings.offset_minutes[i];
        }
        for (std::size_t w = 0; w < kind.wavelengths; ++w) {
            if (kind.wavelength_nm[w] != state.readings.wavelength_nm[i]) continue;
            double const here = task.limit_db[w] - state.readings.value[i];
            if (here < margin) margin = here;
        }
    }
    row.tested_at_ms = latest == verdict::ReadingColumns::no_time ? test.recorded.ms : latest;
    row.state = state_id(worst);
    if (std::isfinite(margin)) row.worst_margin_db = rounded_to(margin, 6);
    if (state.readings.reference[test.first_row] != verdict::Dictionary::missing) {
        row.reference = state.readings.references.text(state.readings.reference[test.first_row]);
    }
    if (state.readings.operator_name[test.first_row] != verdict::Dictionary::missing) {
        row.operator_name = state.readings.operators.text(state.readings.operator_name[test.first_row]);
    }
    return row;
}

using Counts = std::map<std::tuple<std::string, std::string, std::string>, std::int64_t>;

/// The scopes that a link counts in, each with its state.
template <class Each>
void each_scope(record::DerivedLink const& link, Each each)
{
    each("job", std::string{}, link.state);
    each("zone", link.zone, link.state);
    if (!link.day.empty()) each("day", link.day, link.state);
    if (!link.reference.empty()) each("reference", link.reference, link.state);
    if (!link.operator_name.empty()) each("operator", link.operator_name, link.state);
}

std::vector<record::DerivedProgress> progress_of(Counts const& counts)
{
    std::vector<record::DerivedProgress> progress;
    for (auto const& [key, count] : counts)
        progress.push_back({std::get<0>(key), std::get<1>(key), std::get<2>(key), count});
    return progress;
}

} // namespace

bool worst_is_dark(record::DerivedLink const& link)
{
    return link.worst_position && link.worst_wavelength_nm &&
           says_dark(link.row, *link.worst_wavelength_nm, *link.worst_position);
}

std::string row_text(JobState const& state, Groundwork const& ground, std::size_t link)
{
    if (link >= state.scheduled() || ground.verdicts.links[link].readings == 0) return {};
    verdict::LinkKind const& kind = ground.tasks.kinds[ground.tasks.links[link].kind];
    int const columns = ground.verdicts.columns[link];
    std::vector<bool> const dark = dark_cells(state, ground, link);
    RowWriter row;
    for (std::size_t w = 0; w < kind.wavelengths; ++w) {
        bool any = w < kind.required;
        for (int p = 1; p <= columns && !any; ++p)
            any = !std::isnan(ground.verdicts.ratio[ground.verdicts.cell(link, w, p)]);
        if (!any) continue;
        row.wavelength(kind.wavelength_nm[w]);
        for (int p = 1; p <= columns; ++p) {
            RowCell cell;
            if (kind.occupied_a.test(static_cast<std::size_t>(p - 1))) {
                std::size_t const at = ground.verdicts.cell(link, w, p);
                float const ratio = ground.verdicts.ratio[at];
                if (!std::isnan(ratio)) cell.level = std::lround(static_cast<double>(ratio) * 1000);
                State const is = ground.verdicts.cell_state[at];
                bool const without_light =
                    is == State::fail &&
                    dark[w * static_cast<std::size_t>(columns) + static_cast<std::size_t>(p - 1)];
                cell.mark = without_light ? CellMark::dark : mark_of(is);
            }
            row.cell(cell);
        }
    }
    return row.take();
}

record::DerivedTables derive(JobState const& state, Assessment const& assessment)
{
    record::DerivedTables tables;
    std::vector<std::int64_t> tests_of(assessment.links(), 0);
    tables.tests.reserve(state.tests.size());
    for (TestEntry const& test : state.tests) {
        std::uint32_t const link = state.readings.link[test.first_row];
        ++tests_of[link];
        tables.tests.push_back(derived_test(state, assessment, test, link));
    }
    tables.links.reserve(assessment.links());
    Counts counts;
    for (std::size_t link = 0; link < assessment.links(); ++link) {
        tables.links.push_back(derived_link(state, assessment, link));
        tables.links.back().tests = tests_of[link];
        each_scope(tables.links.back(),
                   [&](char const* scope, std::string const& name, std::string const& is) {
                       ++counts[{scope, name, is}];
                   });
    }
    tables.progress = progress_of(counts);
    return tables;
}

std::optional<record::DerivedTables> derive_again(JobState const& state, Assessment const& assessment,
                                                  std::size_t tests_before,
                                                  std::vector<std::uint32_t> const& moved,
                                                  record::DerivedTables& tables)
{
    record::DerivedTables change;
    std::map<std::uint32_t, std::int64_t> more;
    for (std::size_t i = 0; i < state.tests.size(); ++i) {
        TestEntry const& test = state.tests[i];
        std::uint32_t const link = state.readings.link[test.first_row];
        bool const is_new = i >= tests_before;
        if (!is_new && !std::binary_search(moved.begin(), moved.end(), link)) continue;
        record::DerivedTest row = derived_test(state, assessment, test, link);
        if (is_new) {
            ++more[link];
            change.tests.push_back(row);
            tables.tests.push_back(std::move(row));
        } else if (tables.tests[i] != row) {
            change.tests.push_back(row);
            tables.tests[i] = std::move(row);
        }
    }
    Counts counts;
    for (record::DerivedProgress const& row : tables.progress)
        counts[{row.scope, row.name, row.state}] = row.links;
    Counts changed;
    for (std::uint32_t const link : moved) {
        record::DerivedLink row = derived_link(state, assessment, link);
        row.tests = tables.links[link].tests;
        if (auto const found = more.find(link); found != more.end()) row.tests += found->second;
        if (tables.links[link] == row) continue;
        each_scope(tables.links[link],
                   [&](char const* scope, std::string const& name, std::string const& is) {
                       changed[{scope, name, is}] = --counts[{scope, name, is}];
                   });
        each_scope(row, [&](char const* scope, std::string const& name, std::string const& is) {
            changed[{scope, name, is}] = ++counts[{scope, name, is}];
        });
        change.links.push_back(row);
        tables.links[link] = std::move(row);
    }
    for (auto const& [key, count] : changed) {
        if (count == 0) return std::nullopt;
        change.progress.push_back({std::get<0>(key), std::get<1>(key), std::get<2>(key), count});
    }
    tables.progress = progress_of(counts);
    return change;
}

} // namespace guidepin::job
