// SPDX-License-Identifier: Apache-2.0
// The register of the kit: what the job sheet and the records say of each instrument, cord, adapter and pin
// tool, how often its ends were mated and their pins changed, and whether it is fit to be used. Counting
// rule: docs/methods/setup.md#register. Verified by: tests/unit/job/kit_register.cpp (counts worked by hand
// for each method, gates, overrides and what ends them).
#pragma once

#include "job/sheet/kit_file.hpp"
#include "job/state/state.hpp"

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace guidepin::job {

/// What the latest inspection of one end says.
struct FaceStanding
{
    Instant at;
    std::string person;
    bool pass = false;
    std::string type, edition;
    std::vector<std::string> breaches; ///< "position 3, zone A: 1 scratches of any size, 0 allowed"
    std::string note;                  ///< of the verdict: loose debris, zones without criteria
    bool outdated = false;             ///< pins were changed since: look again
};

struct EndStanding
{
    int end = 0;
    std::optional<plant::Pins> pins; ///< as they are now; none for what has no pins
    bool exchangeable = false;
    int matings = 0, pin_changes = 0;
    std::optional<int> pins_counted; ///< by the latest pin change
    std::optional<FaceStanding> face;
};

struct KitStanding
{
    KitItem item;            ///< the latest word; pins of its ends as they came
    bool registered = false; ///< by a record; else known from the job sheet alone
    std::vector<EndStanding> ends;
    int matings = 0, pin_changes = 0; ///< of the end with more
    std::optional<int> matings_limit, pin_changes_limit;
    int references = 0, links = 0; ///< in which it was used; links counted once each
    setup::Fitness fitness = setup::Fitness::fit;
    std::vector<setup::FitnessFinding> findings;
    std::vector<KitOverride> overrides; ///< in force
};

struct KitRegister
{
    std::vector<KitStanding> items; ///< in the order in which they came; removed ones last
    setup::RegisterLimits limits;
    setup::Day today;

    KitStanding const* find(std::string_view serial) const;
    int count(setup::Fitness fitness) const; ///< of items that are still in the kit
};
KitRegister kit_register(JobState const& state, setup::Day today);

/// Matings of one end of one item, by serial and end, as the records tell them.
using EndCounts = std::map<std::pair<std::string, int>, int, std::less<>>;
EndCounts count_matings(JobState const& state);

/// May this kit be used for a reference on that day? One mating of each end is counted for the reference
/// itself. `decisions` count beside those of the records.
/// Errors: refused, naming each item, why, and the way out.
Outcome may_be_used(JobState const& state, TestKit const& kit, setup::Day today,
                    std::vector<KitOverride> const& decisions = {});

/// What stands against one item of a kit: each refusal with its way out, and what is refused but used by a
/// person's decision ("LS-1: out of calibration for 3 days. Used by decision of Ines: …").
struct ItemRuling
{
    std::vector<std::string> refused, overridden;
};
/// By serial; an item against which nothing stands is not in it.
using KitRulings = std::map<std::string, ItemRuling, std::less<>>;

/// Which items of this kit a set-up may not use on that day, with one mating of each end counted as for a
/// reference. An item that the job knows is judged by its records; the calibration of an instrument that is
/// not registered by the kit's own date, where it gives one. `state` null: without a job, by the kit's own
/// dates alone.
KitRulings kit_rulings(KitFile const& kit, JobState const* state, setup::Day today);

/// The kit without what the rulings refuse.
KitFile without_refused(KitFile kit, KitRulings const& rulings);

/// What a person's decision would cover now: `about` filled in. Errors: not_found (no such item),
/// invalid_input (nothing is refused of it, or no reason).
Result<KitOverride> override_now(JobState const& state, std::string const& serial, std::string const& reason,
                                 setup::Day today);

/// What the register says of the items of a plan of the job's set-up and of the two instruments, with the
/// matings of one run of the plan counted: every finding of an item that is not simply fit.
std::vector<setup::FitnessFinding> plan_fitness(JobState const& state, setup::Question const& question,
                                                setup::Plan const& plan, std::string const& source,
                                                std::string const& meter, setup::Day today);

/// A calibration of an instrument, as far as it is told.
struct Calibration
{
    std::optional<setup::Day> made, due;
    bool made_later = false; ///< none was made by the day that was asked about; this is the first after it
};

/// What holds of an instrument's calibration for a use on that day: the most recent one that had been made
/// by then. None: no such instrument.
std::optional<Calibration> calibration_for(JobState const& state, std::string_view serial, setup::Day on);

/// Until when it held, for a use on that day; the day before where it was made only later.
std::optional<setup::Day> calibrated_until(JobState const& state, std::string_view serial, setup::Day on);

/// Who decided by then to use the instrument without calibration, and why: "Ines: …"; empty: nobody.
std::string calibration_override(JobState const& state, std::string_view serial, Instant by);

/// The kit as it is now, for the set-up: registered items that are still in it, pins as last changed.
KitFile kit_now(JobState const& state);

/// An item as the job knew it at that moment: its latest word until then (else its first), with the pins of a
/// cord as last changed until then. None: the job does not know it.
std::optional<KitItem> item_at(JobState const& state, std::string_view serial, Instant at);

/// Serials of items in the kit that may serve so: "source", "meter", "launch", "tail", "substitution" (or
/// known cord).
std::vector<std::string> usable_as(JobState const& state, std::string_view role);

/// Items for the records, one each.
std::vector<KitItem> items_of(KitFile const& file);

/// Editions and types of end face that the tables hold, "2 (2015)" and "multimode-pc", for whoever chooses.
std::vector<std::pair<std::string, std::string>> end_face_choices(facts::Tables const& tables);
/// The edition to judge arrays by where none is named: the latest one with criteria for them.
std::string usual_edition(facts::Tables const& tables, std::string_view type);
/// The row of the table for an item's end: "multimode-pc", from its fibre and face.
std::string usual_face_type(KitItem const& item, int end);

} // namespace guidepin::job
