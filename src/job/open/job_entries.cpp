// SPDX-License-Identifier: Apache-2.0
// What people add besides measuring, and looking at a file before it is brought in.
#include "intake/readings.hpp"
#include "job/groundwork/reading_rules.hpp"
#include "job/open/inside.hpp"

#include <algorithm>
#include <set>

namespace guidepin::job {

namespace {

constexpr std::size_t samples = 8;

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
    SourceFile const source = source_file(name, bytes, "readings");
    if (SourceFile const* const before = import_with(inside.state, source.layout, source.sha256))
        preview.already = import_text(*before, inside.state.settings);
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

Outcome Job::withdraw_import(Withdrawal const& withdrawal)
{
    return inside_->change([&](Adding& adding) -> Outcome {
        std::vector<SourceFile> const& files = inside_->state.files;
        auto const file = std::find_if(files.begin(), files.end(), [&](SourceFile const& each) {
            return each.station == withdrawal.station && each.sequence == withdrawal.sequence;
        });
        if (file == files.end())
            return Error{Errc::not_found,
                         fmt::format("The job has no import {}:{}", withdrawal.station, withdrawal.sequence)};
        if (file->layout != "readings")
            return Error{Errc::refused,
                         fmt::format("{} holds a {}; only readings are withdrawn. A schedule is "
                                     "replaced by a new one, a reference is voided by an event",
                                     file->name, file->layout)};
        if (!file->withdrawn.empty())
            return Error{Errc::conflict,
                         fmt::format("{} is withdrawn already: {}", file->name, file->withdrawn)};
        TRY_ASSIGN(std::string body, withdrawal_body(withdrawal));
        return adding.add(kind::correction, std::move(body));
    });
}

namespace {

/// How many readings under this reference the watch holds.
std::size_t held_readings(JobState const& state, Assessment const& assessment,
                          verdict::ReferenceId const& reference)
{
    std::uint32_t const name = state.readings.references.find(reference);
    std::size_t count = 0;
    for (std::size_t row = 0; row < state.readings.size(); ++row) {
        if (state.readings.reference[row] == name &&
            assessment.hold[row] == static_cast<std::uint8_t>(verdict::HoldKind::reference_doubted))
            ++count;
    }
    return count;
}

/// What the decision covers, or why there is nothing to decide.
Outcome cover_doubts(JobState const& state, Assessment const& assessment, TrustDecision& decision,
                     TrustOutcome& outcome)
{
    WatchedReference const* const watched = assessment.watching->find(decision.reference, state);
    if (decision.stands) {
        for (std::size_t i = 0; watched && i < watched->doubts.size(); ++i) {
            Doubt const& doubt = watched->doubts[i];
            if (!doubt.material) continue;
            outcome.doubts.push_back(doubt.id);
            decision.covers.push_back({doubt.kind, doubt.position, doubt.size});
        }
        if (!decision.covers.empty()) return {};
        return Error{
            Errc::refused,
            fmt::format("The watch does not doubt reference {}. If a cord check, an event or its age "
                        "holds its readings, take a new reference",
                        decision.reference)};
    }
    bool stood = false;
    for (TrustDecision const& earlier : state.trust_decisions) {
        if (earlier.reference == decision.reference) stood = earlier.stands;
    }
    if (stood) return {};
    return Error{Errc::refused,
                 fmt::format("Nobody has decided to rely on reference {}: there is nothing to take back",
                             decision.reference)};
}

} // namespace

Result<TrustOutcome> Job::rely_on_reference(verdict::ReferenceId const& reference, std::string const& reason,
                                            bool stands)
{
    Inside& inside = *inside_;
    TrustOutcome outcome;
    auto const changed = inside.change([&](Adding& adding) -> Outcome {
        if (!inside.state.reference_index.contains(reference))
            return Error{Errc::not_found, fmt::format("The job has no reference \"{}\"", reference)};
        TRY(inside.judge());
        outcome.held_before = held_readings(inside.state, *inside.assessment, reference);
        TrustDecision decision;
        decision.reference = reference;
        decision.reason = reason;
        decision.stands = stands;
        TRY(cover_doubts(inside.state, *inside.assessment, decision, outcome));
        TRY_ASSIGN(std::string body, trust_decision_body(decision));
        return adding.add(kind::reference_trusted, std::move(body));
    });
    TRY(changed);
    outcome.held_after = held_readings(inside.state, *inside.assessment, reference);
    return outcome;
}

Outcome Job::add_note(Note const& note)
{
    return inside_->change([&](Adding& adding) -> Outcome {
        TRY_ASSIGN(bool const kept, kept_before(inside_->state.notes, note.key));
        if (kept) return {};
        TRY_ASSIGN(std::string body, note_body(note));
        return adding.add(kind::note, std::move(body));
    });
}

Outcome Job::tick_step(StepDone const& step)
{
    return inside_->change([&](Adding& adding) -> Outcome {
        TRY_ASSIGN(bool const kept, kept_before(inside_->state.steps_done, step.key));
        if (kept) return {};
        TRY_ASSIGN(std::string body, step_body(step));
        return adding.add(kind::step_done, std::move(body));
    });
}

Result<std::string> Job::choose_setup(std::string body)
{
    TRY(chosen_setup_of(body));
    std::int64_t sequence = 0;
    auto const changed = inside_->change([&](Adding& adding) -> Outcome {
        TRY(adding.add(kind::setup, std::move(body)));
        TRY(adding.flush());
        sequence = adding.last();
        return {};
    });
    TRY(changed);
    TRY_ASSIGN(auto const record, inside_->store->find(inside_->store->station(), sequence));
    if (!record) return Error{Errc::internal, "A record that was just kept is not there"};
    return record->hash.hex();
}

Outcome Job::name_person(Person const& person)
{
    return inside_->change([&](Adding& adding) -> Outcome {
        TRY_ASSIGN(std::string body, person_body(person));
        return adding.add(kind::operator_named, std::move(body));
    });
}

Outcome Job::acknowledge(Acknowledgement const& acknowledged)
{
    return inside_->change([&](Adding& adding) -> Outcome {
        TRY_ASSIGN(std::string body, acknowledgement_body(acknowledged));
        return adding.add(kind::acknowledgement, std::move(body));
    });
}

Outcome Job::hand_over(HandOver const& given)
{
    return inside_->change([&](Adding& adding) -> Outcome {
        for (HandOver const& before : inside_->state.handed_over) {
            if (before.manifest_sha256 == given.manifest_sha256) return {};
        }
        TRY_ASSIGN(std::string body, hand_over_body(given));
        return adding.add(kind::handed_over, std::move(body));
    });
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

} // namespace guidepin::job
