// SPDX-License-Identifier: Apache-2.0
// What people add besides measuring, and looking at a file before it is brought in.
#include "intake/readings.hpp"
#include "job/inside.hpp"
#include "job/reading_rules.hpp"

#include <algorithm>
#include <set>

namespace guidepin::job {

namespace {

constexpr std::size_t samples = 8;

/// "typed-KEY.csv": the name under which typed readings stand among the imports.
std::string typed_name(std::string const& key)
{
    return fmt::format("typed-{}.csv", key);
}

ReadingsPreview::Sample sample_of(verdict::ReadingColumns const& readings, std::size_t row)
{
    ReadingsPreview::Sample sample;
    sample.link = readings.links.text(readings.link[row]);
    sample.end = readings.launch_end[row] == verdict::LaunchEnd::a ? "A" : "B";
    sample.position = readings.position[row];
    sample.wavelength_nm = readings.wavelength_nm[row];
    sample.value = fmt::format("{} {}", fixed_text(readings.value[row], 2), readings.is_power ? "dBm" : "dB");
    if (readings.taken_ms[row] != verdict::ReadingColumns::no_time)
        sample.taken = instant_text({readings.taken_ms[row], readings.offset_minutes[row]});
    if (readings.reference[row] != verdict::Dictionary::missing)
        sample.reference = readings.references.text(readings.reference[row]);
    return sample;
}

} // namespace

Result<ReadingsPreview> Job::preview_readings(std::string const& name, std::string_view bytes,
                                              FileOptions const& options, ReadingsOptions const& how) const
{
    Inside const& inside = *inside_;
    intake::ColumnMap map;
    TRY_ASSIGN(intake::ReadOptions read, inside.read_options(name, options, map));
    read.keep_good_rows = true; // to show what would come in beside what would not
    TRY_ASSIGN(auto file, intake::read_readings(bytes, read));
    verdict::ReadingColumns& readings = file.content;
    // Positions as the instrument shows them are only known on the cabling once the cords are taken out.
    if (!how.instrument_positions)
        take_out_bad_rows(inside.state, now_of(inside.actor), read.listed_at_most, readings, file.bad);
    ReadingsPreview preview;
    SourceFile const source = Inside::source_of(name, bytes, "readings");
    if (SourceFile const* const before = import_with(inside.state, source.layout, source.sha256))
        preview.already = import_text(*before);
    preview.warnings = reading_warnings(inside.state, readings);
    preview.rows = readings.size();
    preview.links = readings.links.size();
    preview.repeated_rows = file.repeated.count;
    preview.bad = file.bad.listed;
    preview.bad_rows = file.bad.rows;
    preview.unused_columns = file.unused_columns;
    std::set<std::string> tested;
    for (TestEntry const& test : inside.state.tests) tested.insert(test.link);
    for (std::uint32_t i = 0; i < readings.links.size(); ++i) {
        std::string const& link = readings.links.text(i);
        if (!inside.state.link_index.contains(link)) preview.unknown_links.push_back(link);
        ++(tested.contains(link) ? preview.retested : preview.new_links);
    }
    for (std::size_t row = 0; row < readings.size(); ++row) {
        if (row < samples) preview.first.push_back(sample_of(readings, row));
        if (readings.is_power && readings.reference[row] == verdict::Dictionary::missing &&
            how.reference.empty() && inside.state.references.size() != 1)
            preview.wants_reference = true;
    }
    return preview;
}

Result<ReadingsOutcome> Job::enter_readings(TypedReadings const& readings)
{
    if (readings.key.empty())
        return Error{Errc::usage, "Typed readings carry a key, so that they are kept once"};
    if (readings.rows.empty()) return Error{Errc::invalid_input, "No reading was typed: fill in a position"};
    if (inside_->state.has_file(typed_name(readings.key))) return ReadingsOutcome{};
    FileOptions options;
    options.separator = ',';
    options.decimal = '.';
    ReadingsOptions how;
    how.reference = readings.reference;
    how.operator_name = readings.person;
    how.again = true; // the key tells what was sent twice; the same values typed anew are another test
    Instant const now = now_of(inside_->actor);
    Instant taken = readings.taken.value_or(now);
    // A device whose clock is ahead: what is entered was measured by now.
    taken.ms = std::min(taken.ms, now.ms);
    taken.offset_minutes = inside_->state.settings.zone_offset_minutes;
    return import_readings(typed_name(readings.key), typed_csv(readings, taken), options, how);
}

Outcome Job::withdraw_import(Withdrawal const& withdrawal)
{
    Inside& inside = *inside_;
    auto const file = std::find_if(inside.state.files.begin(), inside.state.files.end(), [&](auto const& f) {
        return f.station == withdrawal.station && f.sequence == withdrawal.sequence;
    });
    if (file == inside.state.files.end())
        return Error{Errc::not_found,
                     fmt::format("The job has no import {}:{}", withdrawal.station, withdrawal.sequence)};
    if (file->layout != "readings")
        return Error{Errc::refused, fmt::format("{} holds a {}; only readings are withdrawn. A schedule is "
                                                "replaced by a new one, a reference is voided by an event",
                                                file->name, file->layout)};
    if (!file->withdrawn.empty())
        return Error{Errc::conflict, fmt::format("{} is withdrawn already: {}", file->name, file->withdrawn)};
    TRY_ASSIGN(std::string body, withdrawal_body(withdrawal));
    TRY_ASSIGN(auto const write, inside.store->begin_write());
    TRY(write->append(std::vector{inside.draft(kind::correction, std::move(body))}));
    TRY(write->commit());
    // What follows from fewer records is computed anew, as on opening.
    TRY(inside.reload());
    TRY(rebuild());
    return {};
}

Result<TrustOutcome> Job::rely_on_reference(std::string const& reference, std::string const& reason,
                                            bool stands)
{
    Inside& inside = *inside_;
    auto const known = inside.state.reference_index.find(reference);
    if (known == inside.state.reference_index.end())
        return Error{Errc::not_found, fmt::format("The job has no reference \"{}\"", reference)};
    auto const held = [&]() -> Result<std::size_t> {
        TRY_ASSIGN(Assessment const* const assessment, this->assessment());
        std::uint32_t const name = inside.state.readings.references.find(reference);
        std::size_t count = 0;
        for (std::size_t row = 0; row < inside.state.readings.size(); ++row) {
            if (inside.state.readings.reference[row] == name &&
                assessment->hold[row] == static_cast<std::uint8_t>(verdict::HoldKind::reference_doubted))
                ++count;
        }
        return count;
    };
    TrustOutcome outcome;
    TRY_ASSIGN(outcome.held_before, held());
    TrustDecision decision;
    decision.reference = reference;
    decision.reason = reason;
    decision.stands = stands;
    WatchedReference const* const watched = inside.assessment->watching->find(reference, inside.state);
    if (stands) {
        for (std::size_t i = 0; watched && i < watched->doubts.size(); ++i) {
            Doubt const& doubt = watched->doubts[i];
            if (!doubt.material) continue;
            outcome.doubts.push_back(doubt.id);
            decision.covers.push_back({doubt.kind, doubt.position, doubt.size_db});
        }
        if (decision.covers.empty())
            return Error{
                Errc::refused,
                fmt::format("The watch does not doubt reference {}; what a cord check, an event or its "
                            "age holds is settled by a new reference, not by a word",
                            reference)};
    } else {
        bool stood = false;
        for (TrustDecision const& earlier : inside.state.trust_decisions) {
            if (earlier.reference == reference) stood = earlier.stands;
        }
        if (!stood)
            return Error{Errc::refused,
                         fmt::format("Nobody's word on reference {} stands: there is none to take "
                                     "back",
                                     reference)};
    }
    TRY_ASSIGN(std::string body, trust_decision_body(decision));
    TRY_ASSIGN(auto const write, inside.store->begin_write());
    TRY(write->append(std::vector{inside.draft(kind::reference_trusted, std::move(body))}));
    TRY(write->commit());
    TRY(inside.reload());
    TRY(rebuild());
    TRY_ASSIGN(outcome.held_after, held());
    return outcome;
}

/// One record that no verdict depends on: derived rows stay as they are, only what they are based on moves.
Outcome Job::keep_aside(record::Draft const& draft)
{
    Inside& inside = *inside_;
    TRY_ASSIGN(auto const write, inside.store->begin_write());
    TRY_ASSIGN(record::Appended const added, write->append(std::span(&draft, 1)));
    TRY_ASSIGN(std::string const basis, write->chains_digest());
    TRY_ASSIGN(std::string const before, inside.store->derived_basis());
    // Rows that were behind already stay behind: the next opening makes them anew.
    if (before == inside.version) TRY(write->upsert_derived({}, basis));
    TRY(write->commit());
    TRY_ASSIGN(auto const record, inside.store->find(added.station, added.last));
    if (!record) return Error{Errc::internal, "A record that was just kept is not there"};
    bool settings_seen = true;
    TRY(take_record(inside.state, record->view(), settings_seen));
    if (before == inside.version) {
        inside.version = basis;
        TRY_ASSIGN(inside.ends, inside.store->latest_heads());
    }
    if (before == inside.written_basis) inside.written_basis = basis;
    return {};
}

Outcome Job::add_note(Note const& note)
{
    Inside& inside = *inside_;
    for (Note const& kept : inside.state.notes) {
        if (!note.key.empty() && kept.key == note.key) return {};
    }
    TRY_ASSIGN(std::string body, note_body(note));
    return keep_aside(inside.draft(kind::note, std::move(body)));
}

Outcome Job::tick_step(StepDone const& step)
{
    Inside& inside = *inside_;
    for (StepDone const& kept : inside.state.steps_done) {
        if (!step.key.empty() && kept.key == step.key) return {};
    }
    TRY_ASSIGN(std::string body, step_body(step));
    return keep_aside(inside.draft(kind::step_done, std::move(body)));
}

Result<std::string> Job::choose_setup(std::string body)
{
    Inside& inside = *inside_;
    TRY(chosen_setup_of(body));
    TRY(keep_aside(inside.draft(kind::setup, std::move(body))));
    // A cord check is judged by what was planned when it was taken: one of a clock that is ahead, too.
    ChosenSetup const chosen = inside.state.setups.back();
    if (std::any_of(inside.state.checks.begin(), inside.state.checks.end(),
                    [&](CordCheckEntry const& check) { return !(check.taken() < chosen.at); }))
        TRY(rebuild());
    return chosen.hash;
}

Outcome Job::name_person(Person const& person)
{
    Inside& inside = *inside_;
    TRY_ASSIGN(std::string body, person_body(person));
    return keep_aside(inside.draft(kind::operator_named, std::move(body)));
}

Outcome Job::acknowledge(Acknowledgement const& acknowledged)
{
    TRY_ASSIGN(std::string body, acknowledgement_body(acknowledged));
    return keep_aside(inside_->draft(kind::acknowledgement, std::move(body)));
}

Outcome Job::hand_over(HandOver const& given)
{
    for (HandOver const& before : inside_->state.handed_over) {
        if (before.manifest_sha256 == given.manifest_sha256) return {};
    }
    TRY_ASSIGN(std::string body, hand_over_body(given));
    return keep_aside(inside_->draft(kind::handed_over, std::move(body)));
}

Result<Seal> Job::seal(std::string_view statement) const
{
    if (!inside_->key)
        return Error{Errc::refused, fmt::format("{} was opened for reading alone: nothing can be signed",
                                                inside_->store->name())};
    return Seal{inside_->key->station(), inside_->key->public_key(), inside_->key->sign(statement)};
}

Result<Note> Job::note_with_photo(std::string const& hash) const
{
    for (Note const& note : inside_->state.notes) {
        if (note.hash != hash || note.photo_type.empty()) continue;
        auto const digest = record::Digest::from_hex(hash);
        if (!digest) break;
        TRY_ASSIGN(auto const found, inside_->store->find(*digest));
        if (found) return note_of(found->body);
    }
    return Error{Errc::not_found, "The job has no such photo"};
}

void Job::act_as(std::string name)
{
    inside_->actor.name = std::move(name);
}

namespace {

/// Kinds that can be taken in beside what is known: no verdict changes by them but through its tests.
bool goes_beside(std::string_view record_kind)
{
    static constexpr std::string_view kinds[] = {
        kind::link_tested,     kind::source_file, kind::note,       kind::step_done,   kind::operator_named,
        kind::acknowledgement, kind::inspection,  kind::kit_limits, kind::handed_over, kind::station_key};
    return std::find(std::begin(kinds), std::end(kinds), record_kind) != std::end(kinds);
}

/// The records after `ends` into the state; false when that would not be what reading all anew gives.
Result<bool> take_news(record::Store const& store, std::vector<record::Head> const& ends,
                       std::vector<record::Head> const& now, JobState& state)
{
    record::RecordQuery fresh;
    std::size_t stations = 0;
    std::int64_t newest = std::numeric_limits<std::int64_t>::min();
    for (TestEntry const& test : state.tests) newest = std::max(newest, test.recorded.ms);
    for (record::Head const& head : now) {
        auto const known = std::find_if(ends.begin(), ends.end(),
                                        [&](record::Head const& end) { return end.station == head.station; });
        std::int64_t const last = known == ends.end() ? 0 : known->sequence;
        if (last == head.sequence) continue;
        // Records of several stations would have to be put in order: all anew is simpler.
        if (++stations > 1 || last > head.sequence) return false;
        fresh.station = head.station;
        fresh.from_sequence = last + 1;
    }
    fresh.order = record::RecordQuery::Order::chain;
    bool beside = stations == 1;
    if (beside) {
        TRY(store.visit(fresh, [&](record::RecordView const& view) -> Outcome {
            // Reading all anew goes by time.
            beside = beside && goes_beside(view.kind) && view.time.ms >= newest;
            newest = std::max(newest, view.time.ms);
            return {};
        }));
    }
    if (!beside) return false;
    bool settings_seen = true;
    TRY(store.visit(fresh, [&](record::RecordView const& view) -> Outcome {
        return view.kind == kind::link_tested ? take_test(state, view)
                                              : take_record(state, view, settings_seen);
    }));
    return true;
}

} // namespace

Result<bool> Job::refresh()
{
    Inside& inside = *inside_;
    TRY_ASSIGN(auto now, inside.store->latest_heads());
    std::string const version = record::chains_digest(now);
    if (version == inside.version) return false;
    bool beside = record::chains_digest(inside.ends) == inside.version;
    if (beside) {
        auto const taken = take_news(*inside.store, inside.ends, now, inside.state);
        beside = taken && *taken;
    }
    if (!beside) {
        TRY(inside.reload());
        return true;
    }
    inside.version = version;
    inside.ends = std::move(now);
    return true;
}

std::uint64_t Job::generation() const
{
    return inside_->generation;
}

std::string const& Job::version() const
{
    return inside_->version;
}

} // namespace guidepin::job
