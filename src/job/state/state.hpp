// SPDX-License-Identifier: Apache-2.0
// All that a job's records say, put together in memory: the input of every judgement.
#pragma once

#include "facts/tables.hpp"
#include "job/entry/acknowledgement.hpp"
#include "job/entry/bodies.hpp"
#include "job/entry/entries.hpp"
#include "job/entry/kit_bodies.hpp"
#include "job/entry/manifest.hpp"
#include "job/sheet/settings.hpp"
#include "record/store.hpp"

#include <limits>
#include <map>
#include <memory>
#include <string>
#include <unordered_map>
#include <vector>

namespace guidepin::job {

/// One link-tested record: a run of rows in JobState::readings.
struct TestEntry
{
    std::string link;
    std::string station;
    std::int64_t sequence = 0;
    std::string hash; ///< hex
    Instant recorded;
    std::uint32_t first_row = 0, rows = 0;
};

/// The order in which records are read: by time, then station, then place in the chain.
struct RecordOrder
{
    std::int64_t ms = std::numeric_limits<std::int64_t>::min();
    std::string station;
    std::int64_t sequence = 0;
    friend auto operator<=>(RecordOrder const&, RecordOrder const&) = default;
};
RecordOrder order_of(record::RecordView const& view);

/// Something about the records themselves that a person has to know: one that cannot be read, or two that
/// contradict each other. The job opens anyway, by a fixed rule (docs/formats/job-file.md).
struct RecordRemark
{
    std::string rule;    ///< "reference-twice", "record-unreadable", …
    std::string subject; ///< "reference R-1"
    std::string text;    ///< what is there and which of it is used
    std::string action;  ///< the way out
};

struct JobState
{
    Settings settings;
    facts::Tables tables; ///< built in, with the job's own rule set
    facts::RuleSet rules;
    std::vector<plant::LinkSpec>
        links; ///< scheduled, in order of first appearance; a later schedule replaces
    std::unordered_map<std::string, std::size_t> link_index;
    /// Of links[i]: equal numbers where family, end face and fibre category are equal.
    std::vector<std::uint32_t> link_glass;
    std::vector<ReferenceEntry> references;                      ///< in the order of their records
    std::map<verdict::ReferenceId, std::size_t> reference_index; ///< by id
    std::vector<CordCheckEntry> checks;
    std::vector<ReferenceEvent> events;
    std::vector<SourceFile> files;
    std::vector<Note> notes; ///< photos stay in their records: Note::photo is empty here
    std::vector<StepDone> steps_done;
    std::vector<ChosenSetup> setups; ///< in the order of their records
    std::vector<Person> people;      ///< the latest record of each name
    std::vector<Withdrawal> withdrawals;
    KitRecords kit;
    std::vector<Instrument> instruments; ///< of the job sheet, each as registered since, then the others
    std::vector<Cord> cords;             ///< in the same order; items that left the kit stay known
    std::vector<TrustDecision> trust_decisions;    ///< in the order of their records
    std::vector<Acknowledgement> acknowledgements; ///< in order of time; the latest on a finding counts
    std::vector<HandOver> handed_over;             ///< in order of time
    /// Index i of readings.links is links[i] for scheduled ones; unscheduled ones come after.
    verdict::ReadingColumns readings;
    std::vector<TestEntry> tests;
    bool has_settings = false;
    RecordOrder newest; ///< of all records that were taken in
    std::vector<RecordRemark> remarks;

    std::size_t scheduled() const { return links.size(); }
    void add_links(std::vector<plant::LinkSpec> more);
    /// The first record of an id is used; a later one is set aside with a remark.
    void add_reference(ReferenceEntry reference);
    void add_check(CordCheckEntry check);
    void add_person(Person person);
    void add_kit_item(KitItem item);
    void gather_kit(); ///< rebuilds instruments and cords from settings and records
    Instrument const* instrument(InstrumentRole role, std::string_view id) const;
    Cord const* cord(std::string_view id) const;
    bool has_file(std::string_view name) const;
    /// Power at `position` of a reference in dBm, mean of its readings; NaN when not known.
    double reference_power(verdict::ReferenceId const& reference, int position, int wavelength_nm) const;
};

/// One record into the state. No record stops a job from opening: one whose body cannot be read, or cannot be
/// used, is left out with a remark.
void take_record(JobState& state, record::RecordView const& view);

/// Whether a withdrawal takes back the import that this record, a source file, begins.
bool is_withdrawn(JobState const& state, std::string_view station, std::int64_t sequence);

/// Everything from the records, in the order of their time. Errors: damaged (no settings that can be used),
/// and what reading the store gives.
Result<JobState> load_state(record::Store const& store);

} // namespace guidepin::job
