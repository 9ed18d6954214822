// SPDX-License-Identifier: Apache-2.0
#include "intake/readings_columns.hpp"

#include "base/parallel.hpp"
#include "base/text.hpp"
#include "intake/problem_list.hpp"
#include "intake/repetition.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::intake {

using verdict::Dictionary;
using verdict::ReadingColumns;

namespace {

template <class Columns, class Work>
void for_each_column(Columns& columns, Work const& work)
{
    // The widest first, so that two threads share them evenly.
    work(columns.value);
    work(columns.length_m);
    work(columns.taken_ms);
    work(columns.link);
    work(columns.reference);
    work(columns.operator_name);
    work(columns.line);
    work(columns.position);
    work(columns.far_position);
    work(columns.wavelength_nm);
    work(columns.offset_minutes);
    work(columns.launch_end);
}

bool same_number(double a, double b)
{
    return a == b || (std::isnan(a) && std::isnan(b));
}

/// Only names that a row still uses, in the order of those rows.
void tidy_dictionary(Dictionary& names, std::vector<std::uint32_t>& column)
{
    Dictionary used;
    std::vector<std::uint32_t> renumbered(names.size(), Dictionary::missing);
    for (std::uint32_t& index : column) {
        if (index == Dictionary::missing) continue;
        if (renumbered[index] == Dictionary::missing) renumbered[index] = used.index_of(names.text(index));
        index = renumbered[index];
    }
    names = std::move(used);
}

} // namespace

void append(ReadingColumns& columns, PlainReading const& reading)
{
    columns.link.push_back(reading.link);
    columns.launch_end.push_back(reading.launch_end);
    columns.position.push_back(reading.position);
    columns.far_position.push_back(reading.far_position);
    columns.wavelength_nm.push_back(reading.wavelength_nm);
    columns.value.push_back(reading.value);
    columns.length_m.push_back(reading.length_m);
    columns.taken_ms.push_back(reading.taken.ms);
    columns.offset_minutes.push_back(reading.taken.offset_minutes);
    columns.reference.push_back(reading.reference);
    columns.operator_name.push_back(reading.operator_name);
    columns.line.push_back(reading.line);
}

void set_size(ReadingColumns& columns, std::size_t rows, int threads)
{
    std::vector<std::function<void()>> tasks;
    for_each_column(columns,
                    [&](auto& column) { tasks.emplace_back([&column, rows] { column.resize(rows); }); });
    run_parallel(rows < 100'000 ? 1 : threads, tasks.size(), [&](std::size_t i) { tasks[i](); });
}

void move_rows(ReadingColumns& columns, std::size_t from, std::size_t to, std::size_t count)
{
    if (from == to) return;
    for_each_column(columns, [&](auto& column) {
        auto const begin = column.begin() + static_cast<std::ptrdiff_t>(from);
        std::copy(begin, begin + static_cast<std::ptrdiff_t>(count),
                  column.begin() + static_cast<std::ptrdiff_t>(to));
    });
}

void settle_repetitions(Intake<ReadingColumns>& intake, ReadOptions const& options, char const* owner)
{
    ReadingColumns& columns = intake.content;
    ComparedRows const rows{columns.size(),
                            columns.links.size(),
                            [&](std::size_t i) { return columns.link[i]; },
                            [&](std::size_t i) {
                                return static_cast<std::uint64_t>(columns.launch_end[i]) |
                                       static_cast<std::uint64_t>(columns.position[i]) << 1 |
                                       static_cast<std::uint64_t>(columns.wavelength_nm[i]) << 8;
                            },
                            [&](std::size_t i) { return columns.taken_ms[i]; },
                            [&](std::size_t a, std::size_t b) {
                                return same_number(columns.value[a], columns.value[b]) &&
                                       same_number(columns.length_m[a], columns.length_m[b]) &&
                                       columns.far_position[a] == columns.far_position[b] &&
                                       columns.reference[a] == columns.reference[b] &&
                                       columns.operator_name[a] == columns.operator_name[b];
                            }};
    auto const repetitions = find_repetitions(rows, options.threads);
    ProblemList bad(options.listed_at_most);
    ProblemList repeated(options.listed_at_most);
    for (Repetition const& found : repetitions) {
        std::string const what = fmt::format("{}, {}position, wavelength and time", owner,
                                             std::string_view(owner) == "link" ? "end, " : "");
        std::string const& name = columns.links.text(columns.link[found.row]);
        std::uint32_t const line = columns.line[found.row];
        if (!found.contradicts) {
            repeated.add(line, owner, name,
                         fmt::format("repeats line {} exactly and is kept once", columns.line[found.first]));
            repeated.count_row();
        } else if (found.row == found.first) {
            bad.add(line, owner, name,
                    fmt::format("is contradicted further on: another row has the same {} and says "
                                "something else",
                                what));
            bad.count_row();
        } else {
            bad.add(
                line, owner, name,
                fmt::format(
                    "has the same {} as line {}, where rows contradict each other; keep the right one, or "
                    "give a retest its own time",
                    what, columns.line[found.first]));
            bad.count_row();
        }
    }
    bool const had_bad_rows = intake.bad.count > 0;
    intake.repeated = repeated.take();
    intake.bad = merged(std::move(intake.bad), bad.take(), options.listed_at_most);
    intake.refused = intake.bad.count > 0 && !options.keep_good_rows;
    if (intake.refused) {
        columns = {};
        return;
    }
    if (!repetitions.empty()) {
        std::size_t next = 0;
        std::size_t kept = 0;
        std::size_t const before = columns.size();
        for (std::size_t i = 0; i < before; ++i) {
            if (next < repetitions.size() && repetitions[next].row == i) {
                ++next;
                continue;
            }
            move_rows(columns, i, kept++, 1);
        }
        for_each_column(columns, [&](auto& column) { column.resize(kept); });
    }
    if (had_bad_rows || !repetitions.empty()) {
        tidy_dictionary(columns.links, columns.link);
        tidy_dictionary(columns.references, columns.reference);
        tidy_dictionary(columns.operators, columns.operator_name);
    }
}

} // namespace guidepin::intake
