// SPDX-License-Identifier: Apache-2.0
// Bringing in readings.
#include "intake/readings.hpp"
#include "job/groundwork/reading_rules.hpp"
#include "job/kit/cord_maps.hpp"
#include "job/open/inside.hpp"

#include <map>
#include <set>

namespace guidepin::job {

namespace {

/// Rows that name no reference get the given one, or the only one that the job has.
Outcome fill_reference(JobState const& state, verdict::ReferenceId reference,
                       verdict::ReadingColumns& readings)
{
    if (reference.empty() && state.references.size() == 1) reference = state.references.front().id;
    if (reference.empty()) return {};
    if (!state.reference_index.contains(reference))
        return Error{Errc::not_found, fmt::format("The job has no reference \"{}\"", reference)};
    std::uint32_t const index = readings.references.index_of(reference);
    for (std::uint32_t& row : readings.reference) {
        if (row == verdict::Dictionary::missing) row = index;
    }
    return {};
}

/// Readings as the instrument numbers its ports become readings on the cabling's own plugs.
Outcome take_cords_out(JobState const& state, verdict::ReadingColumns& readings)
{
    std::map<std::uint32_t, CordMaps> by_reference;
    for (std::size_t row = 0; row < readings.size(); ++row) {
        std::uint32_t const reference = readings.reference[row];
        auto [place, is_new] = by_reference.try_emplace(reference);
        if (is_new) {
            verdict::ReferenceId const id = reference == verdict::Dictionary::missing
                                                ? verdict::ReferenceId()
                                                : readings.references.id(reference);
            TRY_ASSIGN(place->second, cord_maps(state, id));
        }
        int const near = place->second.launch.at(readings.position[row]);
        if (near == 0) {
            return Error{Errc::invalid_input, fmt::format("line {}: the instrument's port has no position {}",
                                                          readings.line[row], readings.position[row])};
        }
        readings.position[row] = static_cast<std::int16_t>(near);
        if (readings.far_position[row] > 0)
            readings.far_position[row] =
                static_cast<std::int16_t>(place->second.receive_back.at(readings.far_position[row]));
    }
    return {};
}

/// Powers need a reference to be compared with.
Outcome require_references(JobState const& state, std::string const& name,
                           verdict::ReadingColumns const& readings)
{
    if (!readings.is_power) return {};
    for (std::size_t row = 0; row < readings.size(); ++row) {
        if (readings.reference[row] != verdict::Dictionary::missing) continue;
        return Error{Errc::invalid_input,
                     fmt::format("{} line {}: a power without a reference to compare it with; add the "
                                 "column \"reference\" or name one reference for all rows of the file",
                                 name, readings.line[row])};
    }
    for (std::size_t i = 0; i < readings.references.size(); ++i) {
        verdict::ReferenceId const id = readings.references.id(static_cast<std::uint32_t>(i));
        if (state.reference_index.contains(id)) continue;
        return Error{Errc::not_found,
                     fmt::format("{}: the file holds powers, and the job has no reference \"{}\" to "
                                 "compare them with; bring it in first",
                                 name, id)};
    }
    return {};
}

/// What the file leaves out: reference and operator.
Outcome fill_gaps(JobState const& state, ReadingsOptions const& how, std::string const& person,
                  verdict::ReadingColumns& readings)
{
    TRY(fill_reference(state, how.reference, readings));
    if (person.empty()) return {};
    std::uint32_t const index = readings.operators.index_of(person);
    for (std::uint32_t& row : readings.operator_name) {
        if (row == verdict::Dictionary::missing) row = index;
    }
    return {};
}

void add_warnings(JobState const& state, intake::Intake<verdict::ReadingColumns> const& file,
                  ReadingsOutcome& outcome)
{
    outcome.rows = file.content.size();
    outcome.repeated_rows = file.repeated.count;
    outcome.bad_rows = file.bad.rows;
    if (file.bad.count > 0) outcome.warnings.push_back(intake::problems_text(file.bad));
    if (file.repeated.count > 0)
        outcome.warnings.push_back("said twice, kept once: " + intake::problems_text(file.repeated));
    for (std::string const& column : file.unused_columns)
        outcome.warnings.push_back(fmt::format("column \"{}\" is not used", column));
    for (std::string& warning : reading_warnings(state, file.content))
        outcome.warnings.push_back(std::move(warning));
}

/// One record a link.
Outcome add_tests(JobState const& state, verdict::ReadingColumns const& readings, SourceFile const& source,
                  Adding& adding, ReadingsOutcome& outcome)
{
    std::set<std::string> tested_before;
    for (TestEntry const& test : state.tests) tested_before.insert(test.link);
    verdict::RowsByLink const by_link(readings, readings.links.size());
    TRY_ASSIGN(std::string source_body, source_file_body(source));
    TRY(adding.add(kind::source_file, std::move(source_body)));
    std::vector<std::uint32_t> rows;
    for (std::size_t link = 0; link < by_link.links(); ++link) {
        rows.clear();
        for (std::uint32_t i = by_link.begin(link); i < by_link.end(link); ++i)
            rows.push_back(by_link.row(i));
        if (rows.empty()) continue;
        std::string const& id = readings.links.text(static_cast<std::uint32_t>(link));
        TRY_ASSIGN(std::string body, link_tested_body(readings, rows, source.sha256));
        TRY(adding.add(kind::link_tested, std::move(body)));
        ++outcome.links;
        if (!state.link_index.contains(id)) outcome.unknown_links.push_back(id);
        ++(tested_before.contains(id) ? outcome.retested : outcome.new_links);
    }
    return {};
}

/// How many of the rows that this change brought are held.
void count_held(JobState const& state, Assessment const& assessment, record::Store const& store,
                Adding const& adding, ReadingsOutcome& outcome)
{
    for (TestEntry const& test : state.tests) {
        if (test.station != store.station() || test.sequence < adding.first() ||
            test.sequence > adding.last())
            continue;
        for (std::size_t row = test.first_row; row < test.first_row + test.rows; ++row) {
            std::uint8_t const why = assessment.hold[row];
            if (why != 0) ++outcome.held;
            if (why == static_cast<std::uint8_t>(verdict::HoldKind::before_reference))
                ++outcome.older_than_reference;
        }
    }
}

} // namespace

Result<ReadingsOutcome> Job::Inside::bring_readings(ReadingsOptions const& how,
                                                    std::function<Result<bool>(BroughtReadings&)> const& look)
{
    ReadingsOutcome outcome;
    std::optional<Adding> added;
    auto const changed = change([&](Adding& adding) -> Outcome {
        BroughtReadings brought;
        TRY_ASSIGN(bool const wanted, look(brought));
        if (!wanted) return {};
        auto& [source, file, keep_good_rows, listed_at_most] = brought;
        if (file.refused) return intake::refusal(source.name, file.bad, file.rows);
        if (how.instrument_positions) {
            TRY(fill_reference(state, how.reference, file.content));
            TRY(take_cords_out(state, file.content));
        }
        take_out_bad_rows(state, now_of(actor), listed_at_most, file.content, file.bad);
        if (file.bad.rows > 0 && !keep_good_rows) return intake::refusal(source.name, file.bad, file.rows);
        TRY(fill_gaps(state, how, how.operator_name.empty() ? actor.name : how.operator_name, file.content));
        TRY(require_references(state, source.name, file.content));
        add_warnings(state, file, outcome);
        TRY(add_tests(state, file.content, source, adding, outcome));
        TRY(adding.flush());
        added.emplace(adding);
        return {};
    });
    TRY(changed);
    if (added) count_held(state, *assessment, *store, *added, outcome);
    return outcome;
}

Result<ReadingsOutcome> Job::import_readings(std::string const& name, std::string_view bytes,
                                             FileOptions const& options, ReadingsOptions const& how)
{
    Inside& inside = *inside_;
    intake::ColumnMap map;
    TRY_ASSIGN(intake::ReadOptions read, inside.read_options(name, options, map));
    // Before anybody's turn to write, for a large file takes seconds.
    inside.report("Reading the file", 0, bytes.size());
    TRY_ASSIGN(auto file, intake::read_readings(bytes, read));
    SourceFile const source = source_file(name, bytes, "readings");
    return inside.bring_readings(how, [&](BroughtReadings& brought) -> Result<bool> {
        JobState const& state = inside.state;
        // Times without a zone are of the job's zone, which another program may just have changed.
        if (read.default_offset_minutes != state.settings.zone_offset_minutes) {
            read.default_offset_minutes = state.settings.zone_offset_minutes;
            TRY_ASSIGN(file, intake::read_readings(bytes, read));
        }
        if (SourceFile const* const before = import_with(state, source.layout, source.sha256);
            before && !how.again && !file.refused) {
            return Error{
                Errc::conflict,
                fmt::format("{}: these bytes came in before, as {}. Brought in again, each of its links "
                            "counts as tested twice",
                            read.name, import_text(*before, state.settings))};
        }
        brought = {source, std::move(file), read.keep_good_rows, read.listed_at_most};
        return true;
    });
}

} // namespace guidepin::job
