// SPDX-License-Identifier: Apache-2.0
// Bringing in readings.
#include "intake/readings.hpp"
#include "job/cord_maps.hpp"
#include "job/inside.hpp"
#include "job/reading_rules.hpp"

#include <map>
#include <set>

namespace guidepin::job {

namespace {

/// Rows that name no reference get the one that is told, or the only one there is.
Outcome fill_reference(JobState const& state, std::string reference, verdict::ReadingColumns& readings)
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
            std::string const id = reference == verdict::Dictionary::missing
                                       ? std::string{}
                                       : readings.references.text(reference);
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

} // namespace

Result<ReadingsOutcome> Job::import_readings(std::string const& name, std::string_view bytes,
                                             FileOptions const& options, ReadingsOptions const& how)
{
    Inside& inside = *inside_;
    intake::ColumnMap map;
    TRY_ASSIGN(intake::ReadOptions const read, inside.read_options(name, options, map));
    inside.tell("Reading the file", 0, bytes.size());
    TRY_ASSIGN(auto file, intake::read_readings(bytes, read));
    if (file.refused) return intake::refusal(read.name, file.bad, file.rows);
    verdict::ReadingColumns& readings = file.content;
    SourceFile const source = Inside::source_of(name, bytes, "readings");
    if (SourceFile const* const before = import_with(inside.state, source.layout, source.sha256);
        before && !how.again) {
        return Error{Errc::conflict,
                     fmt::format("{}: these bytes came in before, as {}. Brought in again, each of its links "
                                 "counts as tested twice; --again does it all the same",
                                 read.name, import_text(*before))};
    }
    if (how.instrument_positions) {
        TRY(fill_reference(inside.state, how.reference, readings));
        TRY(take_cords_out(inside.state, readings));
    }
    take_out_bad_rows(inside.state, now_of(inside.actor), read.listed_at_most, readings, file.bad);
    if (file.bad.rows > 0 && !read.keep_good_rows) return intake::refusal(read.name, file.bad, file.rows);
    ReadingsOutcome outcome;
    outcome.rows = readings.size();
    outcome.repeated_rows = file.repeated.count;
    outcome.bad_rows = file.bad.rows;
    if (file.bad.count > 0) outcome.warnings.push_back(intake::problems_text(file.bad));
    if (file.repeated.count > 0)
        outcome.warnings.push_back("said twice, kept once: " + intake::problems_text(file.repeated));
    for (std::string const& column : file.unused_columns)
        outcome.warnings.push_back(fmt::format("column \"{}\" is not used", column));

    // What the file leaves unsaid.
    TRY(fill_reference(inside.state, how.reference, readings));
    std::string const person = how.operator_name.empty() ? inside.actor.name : how.operator_name;
    if (!person.empty()) {
        std::uint32_t const index = readings.operators.index_of(person);
        for (std::uint32_t& row : readings.operator_name) {
            if (row == verdict::Dictionary::missing) row = index;
        }
    }
    if (readings.is_power) {
        for (std::size_t row = 0; row < readings.size(); ++row) {
            if (readings.reference[row] != verdict::Dictionary::missing) continue;
            return Error{Errc::invalid_input,
                         fmt::format("{} line {}: a power without a reference to compare it with; add the "
                                     "column \"reference\" or give --reference ID",
                                     read.name, readings.line[row])};
        }
        for (std::size_t i = 0; i < readings.references.size(); ++i) {
            std::string const& id = readings.references.text(static_cast<std::uint32_t>(i));
            if (inside.state.reference_index.contains(id)) continue;
            return Error{Errc::not_found,
                         fmt::format("{}: the file holds powers, and the job has no reference \"{}\" to "
                                     "compare them with; bring it in first",
                                     read.name, id)};
        }
    }
    for (std::string& warning : reading_warnings(inside.state, readings))
        outcome.warnings.push_back(std::move(warning));

    std::set<std::string> tested_before;
    for (TestEntry const& test : inside.state.tests) tested_before.insert(test.link);

    verdict::RowsByLink const by_link(readings, readings.links.size());
    TRY_ASSIGN(auto const write, inside.store->begin_write());
    TRY_ASSIGN(std::string const source_body, source_file_body(source));
    std::vector<record::Draft> drafts{inside.draft(kind::source_file, source_body)};
    std::vector<std::int64_t> sequences; // of the link-tested records, in their order
    std::int64_t source_sequence = 0;
    auto const flush = [&]() -> Outcome {
        TRY_ASSIGN(record::Appended const added, write->append(drafts));
        if (source_sequence == 0) source_sequence = added.first;
        for (std::size_t i = 0; i < drafts.size(); ++i) {
            if (drafts[i].kind == kind::link_tested)
                sequences.push_back(added.first + static_cast<std::int64_t>(i));
        }
        drafts.clear();
        return {};
    };
    std::vector<std::uint32_t> rows;
    for (std::size_t link = 0; link < by_link.links(); ++link) {
        rows.clear();
        for (std::uint32_t i = by_link.begin(link); i < by_link.end(link); ++i)
            rows.push_back(by_link.row(i));
        if (rows.empty()) continue;
        std::string const& id = readings.links.text(static_cast<std::uint32_t>(link));
        TRY_ASSIGN(std::string body, link_tested_body(readings, rows, source.sha256));
        drafts.push_back(inside.draft(kind::link_tested, std::move(body)));
        ++outcome.links;
        if (!inside.state.link_index.contains(id)) outcome.unknown_links.push_back(id);
        if (tested_before.contains(id)) {
            ++outcome.retested;
        } else {
            ++outcome.new_links;
        }
        if (drafts.size() >= 2000) {
            TRY(flush());
            inside.tell("Keeping records", link, by_link.links());
        }
    }
    TRY(flush());
    // The state takes the rows over link by link, as a later reading of the records would.
    JobState& state = inside.state;
    std::size_t const first_new = state.readings.size();
    std::size_t const first_test = state.tests.size();
    state.readings.reserve(first_new + readings.size());
    for (std::size_t link = 0; link < by_link.links(); ++link) {
        auto const before = static_cast<std::uint32_t>(state.readings.size());
        for (std::uint32_t i = by_link.begin(link); i < by_link.end(link); ++i)
            state.readings.append_row_of(readings, by_link.row(i));
        auto const count = static_cast<std::uint32_t>(state.readings.size()) - before;
        if (count == 0) continue;
        state.tests.push_back({readings.links.text(static_cast<std::uint32_t>(link)),
                               inside.store->station(),
                               sequences[state.tests.size() - first_test],
                               {},
                               now_of(inside.actor),
                               before,
                               count});
    }
    if (readings.is_power) {
        for (std::size_t row = first_new; row < state.readings.size(); ++row) {
            std::uint32_t const index = state.readings.reference[row];
            std::string_view const id = index == verdict::Dictionary::missing
                                            ? std::string_view{}
                                            : std::string_view{state.readings.references.text(index)};
            state.readings.value[row] =
                state.reference_power(id, state.readings.position[row], state.readings.wavelength_nm[row]) -
                state.readings.value[row];
        }
    }
    state.files.push_back(source);
    state.files.back().station = inside.store->station();
    state.files.back().sequence = source_sequence;
    state.files.back().recorded = now_of(inside.actor);
    state.files.back().person = inside.actor.name;
    auto kept = inside.store_derived(*write);
    if (kept) kept = write->commit();
    if (!kept) {
        TRY(inside.reload());
        return kept.error();
    }
    TRY_ASSIGN(inside.ends, inside.store->latest_heads());
    // The store has hashed the new records while it chained them.
    record::RecordQuery fresh;
    fresh.station = inside.store->station();
    fresh.kinds = {std::string(kind::link_tested)};
    fresh.from_sequence = sequences.empty() ? INT64_MAX : sequences.front();
    fresh.order = record::RecordQuery::Order::chain;
    std::size_t told = first_test;
    TRY(inside.store->visit(fresh, [&](record::RecordView const& view) -> Outcome {
        if (told < state.tests.size() && state.tests[told].sequence == view.sequence)
            state.tests[told++].hash = view.hash.hex();
        return {};
    }));
    for (std::size_t row = first_new; row < state.readings.size(); ++row) {
        std::uint8_t const why = inside.assessment->hold[row];
        if (why != 0) ++outcome.held;
        if (why == static_cast<std::uint8_t>(verdict::HoldKind::before_reference))
            ++outcome.older_than_reference;
    }
    return outcome;
}

} // namespace guidepin::job
