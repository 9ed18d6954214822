// SPDX-License-Identifier: Apache-2.0
// What a person does with a job, once, for command line and web alike. Each change is one transaction: all of
// it is kept, or nothing. Verified by: tests/unit/job/job.cpp, tests/cli (transcripts), tests/store/record
// (kill -9).
#pragma once

#include "base/clock.hpp"
#include "intake/column_map.hpp"
#include "intake/file.hpp"
#include "job/assess/assess.hpp"
#include "job/open/typed.hpp"
#include "job/sheet/kit_file.hpp"
#include "job/sheet/progress.hpp"
#include "job/state/state.hpp"
#include "record/check.hpp"
#include "record/store.hpp"

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::job {

/// Who acts, when, with which key.
struct Actor
{
    std::string name;     ///< operator, as the records will say
    std::string key_path; ///< the station's secret key; made on first use
    Clock const* clock = nullptr;
    std::int16_t offset_minutes = 0;
    std::string program = "0.1.0";
    int threads = 2;
    ProgressSink progress = nullptr; ///< called now and then during long work
    void* progress_context = nullptr;
};

struct FileOptions
{
    char separator = 0;
    char decimal = 0;
    bool keep_good_rows = false;
    std::string column_map_name, column_map_text; ///< for any layout but our own
};

struct ScheduleOutcome
{
    std::size_t added = 0, replaced = 0, unchanged = 0;
    std::vector<std::string> warnings;
};

struct ReferenceOptions
{
    TestKit kit;
    std::optional<setup::ReferenceMethod> method; ///< none: the job's
    bool instrument_positions = false;            ///< powers numbered as the meter's port shows them
    /// Items that a person uses although the register refuses them, and why: item, reason.
    std::vector<std::pair<std::string, std::string>> overrides = {};
};

struct KitOutcome
{
    std::size_t added = 0, replaced = 0, unchanged = 0;
};

struct ReferenceOutcome
{
    std::vector<verdict::ReferenceId> ids;
};

struct CheckOutcome
{
    std::vector<verdict::CheckId> ids;
};

struct ReadingsOptions
{
    verdict::ReferenceId reference; ///< for rows that name none
    std::string operator_name;      ///< for rows that name none
    bool instrument_positions =
        false;          ///< positions as the instrument shows them; the reference's cords are taken out
    bool again = false; ///< import the file although it was imported before
};

struct ReadingsOutcome
{
    std::size_t rows = 0, links = 0;
    std::size_t new_links = 0, retested = 0; ///< links with a first, or a further test
    std::vector<std::string> unknown_links;  ///< measured, not scheduled: kept, open
    std::size_t repeated_rows = 0, bad_rows = 0;
    std::size_t held = 0;                 ///< rows held, whatever doubts their reference
    std::size_t older_than_reference = 0; ///< of these, taken before their reference
    std::vector<std::string> warnings;
};

/// What an import of a file of readings would add, for a person to confirm.
struct ReadingsPreview
{
    std::size_t rows = 0, links = 0, new_links = 0, retested = 0;
    std::vector<std::string> unknown_links; ///< not in the schedule
    std::size_t repeated_rows = 0;
    std::vector<intake::Problem> bad; ///< rows that do not hold, the first of them
    std::size_t bad_rows = 0;
    std::vector<std::string> unused_columns;
    bool wants_reference = false; ///< powers without a reference to compare them with
    std::string already;          ///< when the same file came in before; empty: it did not
    std::vector<std::string> warnings;
    struct Sample
    {
        std::string link, end, value, taken, reference;
        int position = 0, wavelength_nm = 0;
    };
    std::vector<Sample> first; ///< the first rows as they were understood
};

struct TrustOutcome
{
    std::vector<std::string> doubts;             ///< ids of those that are covered
    std::size_t held_before = 0, held_after = 0; ///< readings under it that the watch holds
};

class Job
{
  public:
    /// Creates a job file with its settings. Errors: conflict (exists), environment.
    static Outcome create(std::string const& path, Settings const& settings, Actor const& actor);
    static Result<Job> open(std::string const& path, Actor const& actor, bool writing);

    Job(Job&&) noexcept;
    Job& operator=(Job&&) noexcept;
    ~Job();

    Result<ScheduleOutcome> import_schedule(std::string const& name, std::string_view bytes,
                                            FileOptions const& options);
    Result<ReferenceOutcome> take_reference(std::string const& name, std::string_view bytes,
                                            FileOptions const& options, ReferenceOptions const& how);
    Result<CheckOutcome> take_cord_check(std::string const& name, std::string_view bytes,
                                         FileOptions const& options, verdict::ReferenceId const& reference,
                                         bool instrument_positions);
    Result<ReadingsOutcome> import_readings(std::string const& name, std::string_view bytes,
                                            FileOptions const& options, ReadingsOptions const& how);
    Outcome note_event(ReferenceEvent const& event);

    Result<ReadingsPreview> preview_readings(std::string const& name, std::string_view bytes,
                                             FileOptions const& options, ReadingsOptions const& how) const;
    /// Adds typed readings. Does nothing if their key exists already; rows is then 0.
    Result<ReadingsOutcome> enter_readings(TypedReadings const& readings);
    /// Adds typed powers; returns no ids if their key exists already.
    Result<ReferenceOutcome> enter_reference(TypedReference reference);
    Result<CheckOutcome> enter_cord_check(TypedCheck const& check);
    /// Withdraws an import of readings by a record. Errors: not_found, conflict (withdrawn already), refused
    /// (the import is no readings).
    Outcome withdraw_import(Withdrawal const& withdrawal);
    /// Does nothing if a note with this key exists already.
    Outcome add_note(Note const& note);
    /// Records that a person relies on `reference` despite all present doubts of the watch; or, with
    /// `stands` false, that an earlier decision no longer counts. Errors: not_found (no such reference),
    /// refused (nothing doubts it, or there is no decision to take back), invalid_input (no reason).
    Result<TrustOutcome> rely_on_reference(verdict::ReferenceId const& reference, std::string const& reason,
                                           bool stands);
    Outcome tick_step(StepDone const& step);
    /// Records the set-up that will be used; returns the hash of its record, which names it.
    Result<std::string> choose_setup(std::string body);
    Outcome name_person(Person const& person);

    // The kit; bodies and rules: job/entry/kit_bodies.hpp, job/kit/kit_register.hpp. An entry whose key
    // exists already changes nothing.
    /// Adds the items of the file, and its limits if it names any. Errors: invalid_input.
    Result<KitOutcome> register_kit(KitFile const& file);
    /// Takes the item out of the kit. Errors: not_found, conflict (left already), invalid_input (no reason).
    Outcome remove_item(std::string const& serial, std::string const& reason);
    /// Its ends are new: matings are counted from 0 again, and both ends need an inspection. Errors:
    /// not_found, invalid_input (no reason).
    Outcome renew_item(std::string const& serial, std::string const& reason);
    /// Gives the item limits of its own; none: those of the register. Errors: not_found, invalid_input.
    Outcome limit_item(std::string const& serial, std::optional<int> matings, std::optional<int> pin_changes);
    /// Records changed pins; fills in `change.from`. Errors: not_found, refused (no cord, not made for it).
    Outcome change_pins(PinsChanged change);
    /// Records an inspection; fills in type and edition if they are empty. Errors: not_found, refused,
    /// invalid_input.
    Outcome inspect_face(FaceInspected inspection);
    Outcome limit_kit(setup::RegisterLimits const& limits);
    /// Records the decision to use the item although it is refused. Errors: not_found, invalid_input (fit, or
    /// no reason).
    Outcome override_item(std::string const& serial, std::string const& reason, std::string const& key = {});

    /// Acknowledges a finding, or takes that back. Errors: invalid_input (no reason).
    Outcome acknowledge(Acknowledgement const& acknowledged);
    /// Records that a package was handed over. Does nothing for the same manifest a second time.
    Outcome hand_over(HandOver const& given);
    /// Signs with this station's key. Errors: refused if the job was opened only for reading.
    Result<Seal> seal(std::string_view statement) const;
    /// Returns the photo of a note, by the hash of its record: type and bytes in base64.
    Result<Note> note_with_photo(std::string const& hash) const;

    /// Sets who acts from now on, for the records.
    void act_as(std::string name);
    /// Looks whether another program added records, and if so takes them in: tests, and what no verdict
    /// depends on, after what is known; anything else by reading everything again. True when there were any.
    /// Also compares the derived rows in the file with rows() when another program wrote to it, and writes
    /// them again where they differ. Errors: environment when the file was removed, moved or replaced.
    Result<bool> refresh();
    /// Changes whenever everything was read again. While it is the same, state().tests only grows at its
    /// end.
    std::uint64_t generation() const;
    /// Returns the digest of all chains as this object knows them.
    std::string const& version() const;
    /// Returns what a user of this file must know about its condition when it was opened; usually empty.
    std::string caution() const;

    JobState const& state() const;
    /// Returns the verdicts of everything, computed from the records on the first call.
    Result<Assessment const*> assessment();
    record::Store const& store() const;
    /// Returns the derived rows, computed from the records. Pages and commands show only these; the rows in
    /// the file are for other programs.
    Result<record::DerivedTables const*> rows();

    /// Recomputes the derived tables of the file from the records; returns whether they were the same
    /// before.
    Result<bool> rebuild();

  private:
    Job();
    struct Inside;
    /// Changes an item of the kit: `alter` gets it as it is at that moment.
    Outcome alter_item(std::string const& serial, std::function<Outcome(KitItem&)> const& alter);
    Result<KitItem> known_item(std::string const& serial) const;
    std::unique_ptr<Inside> inside_;
};

} // namespace guidepin::job
