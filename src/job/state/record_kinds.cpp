// SPDX-License-Identifier: Apache-2.0
#include "job/state/record_kinds.hpp"

#include "job/entry/set_up_record.hpp"
#include "job/state/state.hpp"
#include "record/canonical_json.hpp"
#include "record/kind.hpp"
#include "record/visit_json.hpp"

#include <algorithm>
#include <array>
#include <numeric>

namespace guidepin::job {

namespace {

using record::RecordView;
namespace kind = record::kind;

// ---- Bodies that only go from text to entry and back ----

template <auto read, auto write>
Result<std::string> rewritten(std::string_view body)
{
    TRY_ASSIGN(auto const entry, read(body));
    return write(entry);
}

/// A station's key: the store itself writes and reads it.
Result<std::string> rewritten_key(std::string_view body)
{
    TRY_ASSIGN(record::JsonValue const json, record::parse_json(body));
    TRY_ASSIGN(std::string const text, json.text_of("public_key"));
    TRY_ASSIGN(record::PublicKey const key, record::PublicKey::from_hex(text));
    return record::station_key_body(key);
}

Result<std::string> rewritten_settings(std::string_view body)
{
    TRY_ASSIGN(Settings const settings, settings_from_json(body));
    return record::canonicalised(settings_to_json(settings));
}

Result<std::string> rewritten_schedule(std::string_view body)
{
    TRY_ASSIGN(std::vector<plant::LinkSpec> const links, links_of_schedule(body));
    TRY_ASSIGN(record::JsonValue const json, record::parse_json(body));
    SourceFile source;
    source.sha256 = json.text_or("source");
    return schedule_body(links, source);
}

/// Powers stay powers here: the state alone compares them with their reference.
Result<std::string> rewritten_test(std::string_view body)
{
    auto const keep = [](void const*, verdict::ReferenceId const&, int, int, double power_dbm) {
        return power_dbm;
    };
    verdict::ReadingColumns readings;
    TRY(add_link_tested(body, readings, +keep, nullptr));
    if (readings.size() == 0) return Error{Errc::damaged, "A link-tested record without a reading"};
    TRY_ASSIGN(record::JsonValue const json, record::parse_json(body));
    for (record::JsonValue const& group : *json.find("readings")->array())
        readings.is_power = readings.is_power || group.find("power_dbm") != nullptr;
    std::vector<std::uint32_t> rows(readings.size());
    std::iota(rows.begin(), rows.end(), 0U);
    return link_tested_body(readings, rows, json.text_or("source"));
}

// ---- From a record into the state ----

/// What the state does not need of a record: it is there to be read in the file.
Outcome take_nothing(JobState&, RecordView const&)
{
    return {};
}

template <class Entry>
void set_author(Entry& entry, RecordView const& view)
{
    entry.at = view.time;
    entry.person = std::string(view.operator_name);
}

template <class Entry>
void set_place(Entry& entry, RecordView const& view)
{
    entry.station = std::string(view.station);
    entry.sequence = view.sequence;
}

template <class List>
List& list_in(JobState& state, List JobState::*list)
{
    return state.*list;
}
template <class List>
List& list_in(JobState& state, List KitRecords::*list)
{
    return state.kit.*list;
}

/// Adds an entry, with the time and person of its record, to the end of one list of the state.
template <auto read, auto list>
Outcome append_entry(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(auto entry, read(view.body));
    set_author(entry, view);
    list_in(state, list).push_back(std::move(entry));
    return {};
}

/// Settings that cannot be used leave the earlier ones in force.
Outcome take_settings(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(Settings settings, settings_from_json(view.body));
    TRY_ASSIGN(facts::Tables tables, tables_of(settings));
    TRY_ASSIGN(state.rules, rule_set_of(settings, tables));
    state.settings = std::move(settings);
    state.tables = std::move(tables);
    state.gather_kit();
    state.has_settings = true;
    return {};
}

Outcome take_schedule(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(std::vector<plant::LinkSpec> links, links_of_schedule(view.body));
    state.add_links(std::move(links));
    return {};
}

Outcome take_reference(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(ReferenceEntry reference, reference_of(view.body));
    set_place(reference, view);
    reference.recorded = view.time;
    state.add_reference(std::move(reference));
    return {};
}

Outcome take_cord_check(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(CordCheckEntry check, cord_check_of(view.body));
    set_place(check, view);
    state.add_check(std::move(check));
    return {};
}

Outcome take_reference_event(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(ReferenceEvent event, reference_event_of(view.body));
    state.events.push_back(std::move(event));
    return {};
}

Outcome take_source_file(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(SourceFile file, source_file_of(view.body));
    set_place(file, view);
    file.recorded = view.time;
    file.person = std::string(view.operator_name);
    state.files.push_back(std::move(file));
    return {};
}

double loss_from_power(void const* context, verdict::ReferenceId const& reference, int position,
                       int wavelength_nm, double power_dbm)
{
    auto const& state = *static_cast<JobState const*>(context);
    return state.reference_power(reference, position, wavelength_nm) - power_dbm;
}

Outcome take_test(JobState& state, RecordView const& view)
{
    auto const before = static_cast<std::uint32_t>(state.readings.size());
    TRY(add_link_tested(view.body, state.readings, &loss_from_power, &state));
    auto const rows = static_cast<std::uint32_t>(state.readings.size()) - before;
    if (rows == 0) return {};
    state.tests.push_back({state.readings.links.text(state.readings.link[before]), std::string(view.station),
                           view.sequence, view.hash.hex(), view.time, before, rows});
    return {};
}

/// A photo stays in its record, which the note's hash names.
Outcome take_note(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(Note note, note_of(view.body));
    note.photo.clear();
    set_author(note, view);
    note.hash = view.hash.hex();
    state.notes.push_back(std::move(note));
    return {};
}

Outcome take_setup(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(ChosenSetup chosen, chosen_setup_of(view.body));
    set_author(chosen, view);
    chosen.hash = view.hash.hex();
    state.setups.push_back(std::move(chosen));
    return {};
}

Outcome take_operator(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(Person person, person_of(view.body));
    person.at = view.time;
    person.named_by = std::string(view.operator_name);
    state.add_person(std::move(person));
    return {};
}

Outcome take_kit_item(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(KitItem item, kit_item_of(view.body));
    set_author(item, view);
    state.add_kit_item(std::move(item));
    return {};
}

Outcome take_kit_limits(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(setup::RegisterLimits const limits, kit_limits_of(view.body));
    state.kit.limits.push_back({limits, view.time, std::string(view.operator_name)});
    return {};
}

/// A correction of something that this program does not know names no station.
Outcome take_correction(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(Withdrawal withdrawal, withdrawal_of(view.body));
    if (withdrawal.station.empty()) return {};
    set_author(withdrawal, view);
    state.withdrawals.push_back(std::move(withdrawal));
    return {};
}

Outcome take_handed_over(JobState& state, RecordView const& view)
{
    TRY_ASSIGN(HandOver given, hand_over_of(view.body));
    set_author(given, view);
    set_place(given, view);
    state.handed_over.push_back(std::move(given));
    return {};
}

// ---- The rows ----

// tools/make_record_kinds reads name and description of each row.
constexpr std::array kind_rows{
    RecordKind{.name = kind::acknowledgement,
               .description = "A person has seen a finding and says why nothing more is done about it.",
               .reach = Reach::aside,
               .take = &append_entry<&acknowledgement_of, &JobState::acknowledgements>,
               .rewritten = &rewritten<&acknowledgement_of, &acknowledgement_body>},
    RecordKind{.name = kind::cord_check,
               .description = "The cords were measured against each other or with a known cord between them.",
               .take = &take_cord_check,
               .rewritten = &rewritten<&cord_check_of, &cord_check_body>},
    RecordKind{.name = kind::correction,
               .description = "An import is withdrawn: which one, and why.",
               .take = &take_correction,
               .rewritten = &rewritten<&withdrawal_of, &withdrawal_body>},
    RecordKind{.name = kind::handed_over,
               .description = "A package was made and given to somebody: its files by name, size and hash.",
               .reach = Reach::aside,
               .take = &take_handed_over,
               .rewritten = &rewritten<&hand_over_of, &hand_over_body>,
               .left_out_at_the_end = true},
    RecordKind{.name = kind::inspection,
               .description = "An end face was looked at: what was seen, and by which edition it is judged.",
               .reach = Reach::aside,
               .take = &append_entry<&inspection_of, &KitRecords::inspections>,
               .rewritten = &rewritten<&inspection_of, &inspection_body>},
    RecordKind{.name = kind::job_opened,
               .description = "The job was opened: its id and title.",
               .take = &take_nothing,
               .rewritten = &rewritten<&job_opened_of, &job_opened_body>},
    RecordKind{.name = kind::kit_item,
               .description = "An instrument, cord or adapter of the kit, as it is from now on.",
               .take = &take_kit_item,
               .rewritten = &rewritten<&kit_item_of, &kit_item_body>},
    RecordKind{.name = kind::kit_limits,
               .description = "Limits and warnings of the kit's register, from now on.",
               .reach = Reach::aside,
               .take = &take_kit_limits,
               .rewritten = &rewritten<&kit_limits_of, &kit_limits_body>},
    RecordKind{.name = kind::kit_override,
               .description =
                   "A person uses an item of the kit although the register refuses it, and says why.",
               .take = &append_entry<&kit_override_of, &KitRecords::overrides>,
               .rewritten = &rewritten<&kit_override_of, &kit_override_body>},
    RecordKind{.name = kind::link_tested,
               .description = "One link was measured: all its readings in one record.",
               .reach = Reach::tests,
               .take = &take_test,
               .rewritten = &rewritten_test,
               .of_import = true},
    RecordKind{.name = kind::note,
               .description = "A person's remark or photo on a link, a reference or the job.",
               .reach = Reach::aside,
               .take = &take_note,
               .rewritten = &rewritten<&note_of, &note_body>},
    RecordKind{.name = kind::operator_named,
               .description = "A person who works on the job, and what they may do.",
               .reach = Reach::aside,
               .take = &take_operator,
               .rewritten = &rewritten<&person_of, &person_body>},
    RecordKind{.name = kind::pin_change,
               .description = "The pins of a plug were put in, taken out or counted.",
               .take = &append_entry<&pin_change_of, &KitRecords::pin_changes>,
               .rewritten = &rewritten<&pin_change_of, &pin_change_body>},
    RecordKind{
        .name = kind::reference,
        .description =
            "A reference was taken: the power per position and wavelength, cords, instruments, method.",
        .take = &take_reference,
        .rewritten = &rewritten<&reference_of, &reference_body>},
    RecordKind{
        .name = kind::reference_event,
        .description =
            "Something happened that affects a reference: a cord moved, an instrument was switched off.",
        .take = &take_reference_event,
        .rewritten = &rewritten<&reference_event_of, &reference_event_body>},
    RecordKind{.name = kind::reference_trusted,
               .description = "A person relies on a reference although the watch doubts it, and says why.",
               .take = &append_entry<&trust_decision_of, &JobState::trust_decisions>,
               .rewritten = &rewritten<&trust_decision_of, &trust_decision_body>},
    RecordKind{.name = kind::schedule,
               .description = "Links that were promised, as the schedule describes them.",
               .take = &take_schedule,
               .rewritten = &rewritten_schedule},
    RecordKind{.name = kind::setting,
               .description = "What the job promises and how it is measured, from now on.",
               .take = &take_settings,
               .rewritten = &rewritten_settings},
    RecordKind{.name = kind::setup,
               .description = "A set-up was chosen: cords, pins, adapters and steps.",
               .take = &take_setup,
               .rewritten = &rewritten<&setup_of, &setup_body>},
    RecordKind{.name = kind::source_file,
               .description = "A file was read in: its name, size and SHA-256.",
               .reach = Reach::tests,
               .take = &take_source_file,
               .rewritten = &rewritten<&source_file_of, &source_file_body>},
    RecordKind{.name = kind::station_key,
               .description = "The public key of the station; the first record of its chain.",
               .reach = Reach::aside,
               .take = &take_nothing,
               .rewritten = &rewritten_key},
    RecordKind{.name = kind::step_done,
               .description = "A step of a set-up was done.",
               .reach = Reach::aside,
               .take = &append_entry<&step_of, &JobState::steps_done>,
               .rewritten = &rewritten<&step_of, &step_body>},
};

constexpr bool rows_are_complete()
{
    bool complete = kind_rows.size() == record::kind_names.size();
    for (std::size_t i = 0; complete && i < kind_rows.size(); ++i)
        complete = kind_rows[i].name == record::kind_names[i] && kind_rows[i].take && kind_rows[i].rewritten;
    return complete;
}
static_assert(rows_are_complete(),
              "each name of record/kind.hpp has one row with both functions, in its order");

} // namespace

std::span<RecordKind const> record_kinds()
{
    return kind_rows;
}

RecordKind const* find_record_kind(std::string_view name)
{
    auto const at = std::find_if(kind_rows.begin(), kind_rows.end(),
                                 [&](RecordKind const& row) { return row.name == name; });
    return at == kind_rows.end() ? nullptr : &*at;
}

std::vector<std::string_view> kinds_left_out_at_the_end()
{
    std::vector<std::string_view> names;
    for (RecordKind const& row : kind_rows) {
        if (row.left_out_at_the_end) names.push_back(row.name);
    }
    return names;
}

} // namespace guidepin::job
