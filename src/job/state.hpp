// SPDX-License-Identifier: Apache-2.0
// All that a job's records say, put together in memory: the input of every judgement.
#pragma once

#include "facts/tables.hpp"
#include "job/acknowledgement.hpp"
#include "job/bodies.hpp"
#include "job/entries.hpp"
#include "job/kit_bodies.hpp"
#include "job/manifest.hpp"
#include "job/settings.hpp"
#include "record/store.hpp"

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

struct SignOff
{
    std::string name, role;
    Instant at;
};

struct JobState
{
    Settings settings;
    facts::Tables tables; ///< built in, with the job's own rule set
    facts::RuleSet rules;
    std::vector<plant::LinkSpec>
        links; ///< scheduled, in order of first appearance; a later schedule replaces
    std::unordered_map<std::string, std::size_t> link_index;
    std::vector<ReferenceEntry> references;                          ///< in the order of their records
    std::map<std::string, std::size_t, std::less<>> reference_index; ///< the latest record of an id
    std::vector<CordCheckEntry> checks;
    std::vector<ReferenceEvent> events;
    std::vector<SourceFile> files;
    std::vector<Note> notes; ///< photos stay in their records: Note::photo is empty here
    std::vector<StepDone> steps_done;
    std::vector<ChosenSetup> setups; ///< in the order of their records
    std::vector<Person> people;      ///< the latest word on each name
    std::vector<Withdrawal> withdrawals;
    KitRecords kit;
    std::vector<Instrument> instruments; ///< of the job sheet, each as registered since, then the others
    std::vector<Cord> cords;             ///< likewise; items that left the kit stay known
    std::vector<TrustDecision> trust_decisions;    ///< in the order of their records
    std::vector<Acknowledgement> acknowledgements; ///< in order of time; the latest on a finding counts
    std::vector<HandOver> handed_over;             ///< in order of time
    /// Index i of readings.links is links[i] for scheduled ones; unscheduled ones come after.
    verdict::ReadingColumns readings;
    std::vector<TestEntry> tests;

    std::size_t scheduled() const { return links.size(); }
    void add_links(std::vector<plant::LinkSpec> more);
    void add_reference(ReferenceEntry reference);
    void add_person(Person person);
    void add_kit_item(KitItem item);
    void gather_kit(); ///< instruments and cords anew from settings and records
    Instrument const* instrument(std::string_view role, std::string_view id) const;
    Cord const* cord(std::string_view id) const;
    bool has_file(std::string_view name) const;
    /// Power at `position` of a reference in dBm, mean of its readings; NaN when not known.
    double reference_power(std::string_view reference, int position, int wavelength_nm) const;
};

/// One record of any kind but link-tested, into the state.
Outcome take_record(JobState& state, record::RecordView const& view, bool& settings_seen);

/// One link-tested record, that no withdrawal takes back, into the state.
Outcome take_test(JobState& state, record::RecordView const& view);

/// Everything from the records, in the order of their time.
Result<JobState> load_state(record::Store const& store);

} // namespace guidepin::job
