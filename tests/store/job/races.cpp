// SPDX-License-Identifier: Apache-2.0
// Every kind of change against itself and against what may contradict it. See races.hpp for the oracle.
#include "races.hpp"

#include "job/kit/kit_register.hpp"
#include "job/plan/set_up_sheet.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include <fmt/format.h>

namespace guidepin::job::races {
namespace races_test {

using How = Done::How;

constexpr int often = 200; ///< rounds of the kinds that a job depends on most

std::size_t tests_of(JobState const& state, std::string_view link)
{
    return static_cast<std::size_t>(std::count_if(state.tests.begin(), state.tests.end(),
                                                  [&](TestEntry const& test) { return test.link == link; }));
}

std::size_t references_named(JobState const& state, std::string_view id)
{
    return static_cast<std::size_t>(
        std::count_if(state.references.begin(), state.references.end(),
                      [&](ReferenceEntry const& entry) { return entry.id == id; }));
}

/// One program did it, all others were refused with a conflict whose words hold `words`.
std::string one_did_it(std::vector<Done> const& answers, std::string_view words)
{
    if (count(answers, How::did) != 1)
        return fmt::format("{} programs did it instead of one", count(answers, How::did));
    for (Done const& answer : answers) {
        if (answer.how == How::did) continue;
        if (answer.how != How::refused || answer.code != Errc::conflict)
            return "the other one is not refused as a conflict";
        if (answer.words.find(words) == std::string::npos)
            return "the refusal does not say why: " + answer.words;
    }
    return {};
}

/// One program kept it, the others had nothing left to do.
std::string kept_once(std::vector<Done> const& answers, std::size_t there)
{
    if (count(answers, How::did) != 1 || count(answers, How::nothing) + 1 != answers.size())
        return "one program should have kept it, and the others nothing";
    return there == 1 ? std::string() : fmt::format("it is there {} times", there);
}

Act readings(std::string const& file, bool again = false)
{
    return act([=](Job& job) { return take_readings(job, file, again); });
}
Act check(std::string const& file)
{
    return act([=](Job& job) { return take_check(job, file); });
}
Act reference(std::string const& file)
{
    return act([=](Job& job) { return take_reference(job, file); });
}
Act schedule(std::string const& lines)
{
    return act([=](Job& job) {
        auto const taken = job.import_schedule("schedule.csv", schedule_file(lines), {});
        if (!taken) return refused(taken);
        return Done{How::did,
                    {},
                    fmt::format("{} added, {} replaced, {} unchanged", taken->added, taken->replaced,
                                taken->unchanged)};
    });
}
Act event(std::string const& what, std::string const& at)
{
    return act([=](Job& job) {
        ReferenceEvent event;
        event.event = what;
        event.reference = "R-1";
        event.at = *parse_instant("2026-03-02T" + at + ":00Z");
        return done(job.note_event(event));
    });
}
/// Takes back the first import of readings.
Act withdrawal()
{
    return act([](Job& job) {
        Withdrawal back;
        for (SourceFile const& file : job.state().files) {
            if (file.layout != "readings") continue;
            back.station = file.station;
            back.sequence = file.sequence;
            break;
        }
        back.reason = "the wrong hall";
        return done(job.withdraw_import(back));
    });
}
void with_readings(Job& job)
{
    ASSERT_EQ(take_readings(job, readings_file("N-1", "09:00", 0.40)).how, How::did);
}

// Readings.

TEST(Races, OfTheSameReadings)
{
    Race race{"same readings", {}, {}, {}};
    race.acts = {readings(readings_file("N-1", "09:00", 0.40)),
                 readings(readings_file("N-1", "09:00", 0.40))};
    race.judge = [](auto const& answers, JobState const& state) {
        auto const words = one_did_it(answers, "came in before");
        if (!words.empty()) return words;
        return tests_of(state, "N-1") == 1 ? std::string() : std::string("the file counts twice");
    };
    race.rounds = often;
    run(race);
}

TEST(Races, OfTheSameReadingsByThree)
{
    std::string const file = readings_file("N-1", "09:00", 0.40);
    Race race{"same readings by three", {}, {readings(file), readings(file), readings(file)}, {}};
    race.judge = [](auto const& answers, JobState const& state) {
        auto const words = one_did_it(answers, "came in before");
        if (!words.empty()) return words;
        return tests_of(state, "N-1") == 1 ? std::string() : std::string("the file counts more than once");
    };
    run(race);
}

TEST(Races, OfTheSameReadingsAgain)
{
    std::string const file = readings_file("N-1", "09:00", 0.40);
    Race race{"same readings, --again", {}, {readings(file, true), readings(file, true)}, {}};
    race.judge = [](auto const& answers, JobState const& state) -> std::string {
        return count(answers, How::did) == 2 && tests_of(state, "N-1") == 2 ? ""
                                                                            : "both were asked to take it";
    };
    run(race);
}

TEST(Races, OfReadingsOfOneLink)
{
    // A failing test and a passing retest: the later one counts, whoever brings it first.
    Race race{"readings of one link",
              {},
              {readings(readings_file("N-1", "09:00", 3.00)), readings(readings_file("N-1", "09:30", 0.40))},
              {}};
    race.rounds = often;
    run(race);
}

TEST(Races, OfReadingsOfTwoLinksAndOneThatIsNotScheduled)
{
    run({"readings of other links",
         {},
         {readings(readings_file("N-1", "09:00", 0.40)), readings(readings_file("N-2", "09:05", 0.45)),
          readings(readings_file("X-9", "09:10", 0.50))},
         {}});
}

TEST(Races, OfReadingsAndACordCheck)
{
    Race race{"readings, cord check", {}, {}, {}};
    race.prepare = [](Job& job) { ASSERT_EQ(take_reference(job, reference_file("R-2")).how, How::did); };
    race.acts = {readings(readings_file("N-1", "09:00", 0.40, "R-2")),
                 check(check_file("C-2", "R-2", "08:20"))};
    race.rounds = often;
    run(race);
}

TEST(Races, OfReadingsAndTheirReference)
{
    // Powers cannot come in before the reference they are compared with.
    Race race{"readings, reference", {}, {}, {}};
    race.acts = {readings(powers_file("N-1", "09:00", "R-2")), reference(reference_file("R-2"))};
    race.rounds = often;
    run(race);
}

TEST(Races, OfReadingsAndAnEvent)
{
    run({"readings, event",
         {},
         {readings(readings_file("N-1", "09:00", 0.40)), event("launch-cord-left-source", "08:30")},
         {}});
}

TEST(Races, OfReadingsCheckAndWithdrawal)
{
    Race race{"readings, cord check, withdrawal", {}, {}, {}};
    race.prepare = with_readings;
    race.acts = {readings(readings_file("N-2", "09:10", 0.40)), check(check_file("C-2", "R-1", "08:50")),
                 withdrawal()};
    run(race);
}

TEST(Races, OfWithdrawals)
{
    Race race{"withdrawals", with_readings, {withdrawal(), withdrawal()}, {}};
    race.judge = [](auto const& answers, JobState const& state) {
        auto const words = one_did_it(answers, "withdrawn already");
        if (!words.empty()) return words;
        return state.withdrawals.size() == 1 ? std::string() : std::string("it is withdrawn twice");
    };
    race.rounds = often;
    run(race);
}

TEST(Races, OfAWithdrawalAndTheSameReadings)
{
    // The file may come again once its import is withdrawn, and not before.
    Race race{"withdrawal, same readings", with_readings, {}, {}};
    race.acts = {withdrawal(), readings(readings_file("N-1", "09:00", 0.40))};
    race.judge = [](auto const& answers, JobState const& state) -> std::string {
        std::size_t const wanted = answers[1].how == How::did ? 1 : 0;
        return tests_of(state, "N-1") == wanted ? "" : "what counts is not what the answers say";
    };
    race.rounds = often;
    run(race);
}

TEST(Races, OfTypedReadingsWithOneKey)
{
    TypedReadings typed;
    typed.link = "N-1";
    typed.reference = "R-1";
    typed.key = "key-1";
    typed.taken = *parse_instant("2026-03-02T09:00:00Z");
    for (int p = 1; p <= 12; ++p) typed.rows.push_back({p, 13 - p, 0.4});
    Act const enter = act([=](Job& job) {
        auto const kept = job.enter_readings(typed);
        if (!kept) return refused(kept);
        return Done{kept->rows == 0 ? How::nothing : How::did, {}, fmt::format("{} rows", kept->rows)};
    });
    Race race{"typed readings, one key", {}, {enter, enter}, {}};
    race.judge = [](auto const& answers, JobState const& state) {
        return kept_once(answers, tests_of(state, "N-1"));
    };
    race.rounds = often;
    run(race);
}

// References and cord checks.

TEST(Races, OfTheSameReference)
{
    Race race{"same reference",
              {},
              {reference(reference_file("R-2", -20.0)), reference(reference_file("R-2", -21.0))},
              {}};
    race.judge = [](auto const& answers, JobState const& state) {
        auto const words = one_did_it(answers, "already");
        if (!words.empty()) return words;
        return references_named(state, "R-2") == 1 ? std::string()
                                                   : std::string("the reference is recorded twice");
    };
    race.rounds = often;
    run(race);
}

TEST(Races, OfTheSameReferenceByThree)
{
    Race race{"same reference by three", {}, {}, {}};
    for (double const power : {-20.0, -20.5, -21.0})
        race.acts.push_back(reference(reference_file("R-2", power)));
    race.judge = [](auto const& answers, JobState const& state) {
        auto const words = one_did_it(answers, "already");
        if (!words.empty()) return words;
        return references_named(state, "R-2") == 1 ? std::string()
                                                   : std::string("the reference is recorded twice");
    };
    run(race);
}

Act typed_reference(std::string const& key)
{
    return act([=](Job& job) {
        TypedReference typed;
        typed.key = key;
        typed.kit = {"S", "M", "L", "T", ""};
        typed.taken = *parse_instant("2026-03-02T09:00:00Z");
        for (int p = 1; p <= 12; ++p) typed.powers.push_back({850, p, -20.0});
        auto const kept = job.enter_reference(typed);
        if (!kept) return refused(kept);
        return Done{
            kept->ids.empty() ? How::nothing : How::did, {}, kept->ids.empty() ? "" : kept->ids.front()};
    });
}

TEST(Races, OfTypedReferencesThatNeedAName)
{
    Race race{
        "typed references, next free name", {}, {typed_reference("key-1"), typed_reference("key-2")}, {}};
    race.judge = [](auto const& answers, JobState const& state) -> std::string {
        if (count(answers, How::did) != 2) return "both can be kept, each under a name of its own";
        if (answers[0].words == answers[1].words) return "both were given the name " + answers[0].words;
        return references_named(state, "R-2") == 1 && references_named(state, "R-3") == 1
                   ? ""
                   : "the names are not R-2 and R-3";
    };
    race.rounds = often;
    run(race);
}

TEST(Races, OfTypedReferencesWithOneKey)
{
    Race race{"typed references, one key", {}, {typed_reference("key-1"), typed_reference("key-1")}, {}};
    race.judge = [](auto const& answers, JobState const& state) {
        return kept_once(answers, state.references.size() - 1);
    };
    run(race);
}

TEST(Races, OfCordChecks)
{
    run({"cord checks",
         {},
         {check(check_file("C-2", "R-1", "08:20")), check(check_file("C-3", "R-1", "08:30"))},
         {}});
}

Act typed_check(std::string const& key)
{
    return act([=](Job& job) {
        TypedCheck typed;
        typed.reference = "R-1";
        typed.key = key;
        typed.taken = *parse_instant("2026-03-02T09:00:00Z");
        for (int p = 1; p <= 12; ++p) typed.rows.push_back({850, p, p, 0.1});
        auto const kept = job.enter_cord_check(typed);
        if (!kept) return refused(kept);
        return Done{
            kept->ids.empty() ? How::nothing : How::did, {}, kept->ids.empty() ? "" : kept->ids.front()};
    });
}

TEST(Races, OfTypedChecksWithOneKey)
{
    Race race{"typed checks, one key", {}, {typed_check("key-1"), typed_check("key-1")}, {}};
    race.judge = [](auto const& answers, JobState const& state) {
        return kept_once(answers, state.checks.size() - 1);
    };
    run(race);
}

TEST(Races, OfTypedChecksThatNeedAName)
{
    Race race{"typed checks, next free name", {}, {typed_check("key-1"), typed_check("key-2")}, {}};
    race.judge = [](auto const& answers, JobState const&) -> std::string {
        return count(answers, How::did) == 2 && answers[0].words != answers[1].words
                   ? ""
                   : "each needs a name of its own";
    };
    run(race);
}

/// Readings lower than glass can lose: the watch doubts R-1.
void doubted(Job& job)
{
    ASSERT_EQ(take_readings(job, readings_file("N-1", "09:00", -0.90)).how, How::did);
    auto const assessment = job.assessment();
    ASSERT_TRUE(assessment.has_value());
    WatchedReference const* const watched = (*assessment)->watching->find("R-1", job.state());
    ASSERT_NE(watched, nullptr);
    ASSERT_FALSE(watched->doubts.empty());
}

Act trust(bool stands)
{
    return act([=](Job& job) {
        auto const relied = job.rely_on_reference("R-1", "a second meter agrees", stands);
        if (!relied) return refused(relied);
        return Done{How::did,
                    {},
                    fmt::format("{} doubts, {} held, then {}", relied->doubts.size(), relied->held_before,
                                relied->held_after)};
    });
}

TEST(Races, OfATrustDecisionAndReadings)
{
    run({"trust decision, readings",
         doubted,
         {trust(true), readings(readings_file("N-2", "09:10", -1.10))},
         {}});
}

TEST(Races, OfATrustDecisionTakenBackTwice)
{
    // The second has nothing left to take back.
    Race race{"trust decision taken back", {}, {trust(false), trust(false)}, {}};
    race.prepare = [](Job& job) {
        doubted(job);
        ASSERT_TRUE(job.rely_on_reference("R-1", "a second meter agrees", true).has_value());
    };
    race.judge = [](auto const& answers, JobState const&) -> std::string {
        return count(answers, How::did) == 1 && count(answers, How::refused) == 1
                   ? ""
                   : "one of them has nothing to take back";
    };
    run(race);
}

// Schedules.

TEST(Races, OfAScheduleAndReadings)
{
    // The link is unknown to one order, and has another length in the other.
    run({"schedule, readings",
         {},
         {schedule("N-1,OM4,80,mpo-12,12,B\nN-9,OM4,30,mpo-12,12,B\n"),
          readings(readings_file("N-9", "09:00", 0.40))},
         {}});
}

TEST(Races, OfSchedules)
{
    run({"schedules",
         {},
         {schedule("N-1,OM4,80,mpo-12,12,B\nN-9,OM4,30,mpo-12,12,B\n"), schedule("N-1,OM4,90,mpo-12,12,B\n")},
         {}});
}

TEST(Races, OfTheSameSchedule)
{
    run({"same schedule",
         {},
         {schedule("N-9,OM4,30,mpo-12,12,B\n"), schedule("N-9,OM4,30,mpo-12,12,B\n")},
         {}});
}

// Entries that no verdict depends on.

template <class Entries>
Act entry(Entries entries, std::function<Outcome(Job&, Actor const&)> work)
{
    // Of what is kept once no answer says whether it was this time; the number of entries under this name
    // does.
    return [=](Job& job, Actor const& actor) -> Deed {
        return [=, &job] {
            auto const kept = work(job, actor);
            if (!kept) return refused(kept);
            auto const fresh = job.refresh();
            if (!fresh) return refused(fresh);
            auto const& all = entries(job.state());
            bool const ours = std::any_of(all.begin(), all.end(),
                                          [&](auto const& one) { return one.person == actor.name; });
            return Done{ours ? How::did : How::nothing, {}, {}};
        };
    };
}

TEST(Races, OfNotesWithOneKey)
{
    Act const note = entry(
        [](JobState const& state) -> auto const& { return state.notes; },
        [](Job& job, Actor const&) {
            return job.add_note({"link", "N-1", "label is missing", "", "", "key-1", {}, "", ""});
        });
    Race race{"notes, one key", {}, {note, note}, {}};
    race.judge = [](auto const& answers, JobState const& state) {
        return kept_once(answers, state.notes.size());
    };
    race.rounds = often;
    run(race);
}

TEST(Races, OfNotes)
{
    auto const note = [](char const* key) {
        return entry(
            [](JobState const& state) -> auto const& { return state.notes; },
            [=](Job& job, Actor const&) {
                return job.add_note({"link", "N-1", "label is missing", "", "", key, {}, "", ""});
            });
    };
    Race race{"notes", {}, {note("key-1"), note("key-2"), note("key-3")}, {}};
    race.judge = [](auto const&, JobState const& state) {
        return state.notes.size() == 3 ? std::string() : "not three notes";
    };
    run(race);
}

TEST(Races, OfANoteAndReadings)
{
    Act const note = entry(
        [](JobState const& state) -> auto const& { return state.notes; },
        [](Job& job, Actor const&) {
            return job.add_note({"link", "N-1", "label is missing", "", "", "key-1", {}, "", ""});
        });
    run({"note, readings", {}, {note, readings(readings_file("N-1", "09:00", 0.40))}, {}});
}

TEST(Races, OfStepsWithOneKey)
{
    Act const step = entry(
        [](JobState const& state) -> auto const& { return state.steps_done; },
        [](Job& job, Actor const&) {
            return job.tick_step({"setup-1", "step-1", "key-1", {}, ""});
        });
    Race race{"steps, one key", {}, {step, step}, {}};
    race.judge = [](auto const& answers, JobState const& state) {
        return kept_once(answers, state.steps_done.size());
    };
    run(race);
}

TEST(Races, OfAcknowledgements)
{
    auto const seen = [](char const* reason, bool stands) {
        return act([=](Job& job) {
            Acknowledgement words;
            words.finding = "5c1d2e3f40516273";
            words.reason = reason;
            words.stands = stands;
            words.evidence.cause = "macrobend";
            words.evidence.links = {"N-1"};
            return done(job.acknowledge(words));
        });
    };
    run({"acknowledgements", {}, {seen("re-polished on Friday", true), seen("it is back", false)}, {}});
}

TEST(Races, OfPeopleNamed)
{
    auto const named = [](Role role) {
        return act([=](Job& job) { return done(job.name_person({"Lea", role, {}, ""})); });
    };
    run({"person named", {}, {named(Role::technician), named(Role::reviewer)}, {}});
}

Act handing_over(char const* manifest)
{
    return entry(
        [](JobState const& state) -> auto const& { return state.handed_over; },
        [=](Job& job, Actor const&) {
            HandOver given;
            given.manifest_sha256 = std::string(64, *manifest);
            given.made = *parse_instant("2026-03-02T12:00:00Z");
            given.files = {{"summary.pdf", 100, std::string(64, 'b')}};
            return job.hand_over(given);
        });
}

TEST(Races, OfTheSameHandOver)
{
    Race race{"same hand-over", {}, {handing_over("a"), handing_over("a")}, {}};
    race.judge = [](auto const& answers, JobState const& state) {
        return kept_once(answers, state.handed_over.size());
    };
    run(race);
}

TEST(Races, OfHandOvers)
{
    run({"hand-overs", {}, {handing_over("a"), handing_over("c")}, {}});
}

// The kit.

constexpr char const* kit_text = R"(
[[instrument]]
serial = "S"
role = "source"
pins = "pinned"
calibrated = 2025-11-10
calibration-due = 2026-11-10
[[instrument]]
serial = "M"
role = "meter"
pins = "pinned"
calibrated = 2024-11-10
calibration-due = 2025-11-10
[[cord]]
serial = "L"
category = "OM4"
pins-near = "unpinned"
pins-far = "unpinned"
[[cord]]
serial = "T"
category = "OM4"
pins-near = "unpinned"
pins-far = "unpinned"
pins-exchangeable = "far"
[[adapter]]
keys = "opposed"
count = 4
[[pin-tool]]
serial = "tool"
)";

Done bring_kit(Job& job, std::string const& text)
{
    auto const file = kit_from_file({"kit.toml", text}, job.state().tables);
    if (!file) return refused(file);
    auto const kept = job.register_kit(*file);
    if (!kept) return refused(kept);
    bool const any = kept->added + kept->replaced > 0;
    return {any ? How::did : How::nothing,
            {},
            fmt::format("{} added, {} replaced, {} unchanged", kept->added, kept->replaced, kept->unchanged)};
}
void with_kit(Job& job)
{
    ASSERT_EQ(bring_kit(job, kit_text).how, How::did);
}

TEST(Races, OfTheSameKit)
{
    Act const kit = act([](Job& job) { return bring_kit(job, kit_text); });
    Race race{"same kit", {}, {kit, kit}, {}};
    race.judge = [](auto const& answers, JobState const& state) {
        std::set<std::string> serials;
        for (KitItem const& item : state.kit.items) serials.insert(item.serial);
        if (serials.size() != state.kit.items.size()) return std::string("an item is registered twice");
        return kept_once(answers, 1);
    };
    race.rounds = often;
    run(race);
}

TEST(Races, OfPinChanges)
{
    // What comes out is what the change before it put in.
    auto const pins = [](plant::Pins to, char const* key) {
        return act([=](Job& job) {
            PinsChanged change;
            change.item = "T";
            change.end = 1;
            change.to = to;
            change.pins_counted = 2;
            change.key = key;
            return done(job.change_pins(change));
        });
    };
    Race race{
        "pin changes", with_kit, {pins(plant::Pins::pinned, "k-1"), pins(plant::Pins::unpinned, "k-2")}, {}};
    race.one_chain = true;
    race.judge = [](auto const&, JobState const& state) -> std::string {
        plant::Pins now = plant::Pins::unpinned;
        for (PinsChanged const& change : state.kit.pin_changes) {
            if (change.from != now) return "a change takes out what was not in";
            now = change.to;
        }
        return {};
    };
    run(race);
}

TEST(Races, OfPinChangesWithOneKey)
{
    Act const pins = entry(
        [](JobState const& state) -> auto const& { return state.kit.pin_changes; },
        [](Job& job, Actor const&) {
            PinsChanged change;
            change.item = "T";
            change.pins_counted = 2;
            change.key = "key-1";
            return job.change_pins(change);
        });
    Race race{"pin changes, one key", with_kit, {pins, pins}, {}};
    race.judge = [](auto const& answers, JobState const& state) {
        return kept_once(answers, state.kit.pin_changes.size());
    };
    run(race);
}

TEST(Races, OfItemsThatLeave)
{
    Act const leaves = act([](Job& job) { return done(job.remove_item("T", "lost")); });
    Race race{"items that leave", with_kit, {leaves, leaves}, {}};
    race.judge = [](auto const& answers, JobState const&) { return one_did_it(answers, "already"); };
    run(race);
}

TEST(Races, OfLimitsAndNewPlugs)
{
    // Each writes the whole item: the later one has to keep what the earlier one said.
    Race race{"limit, new plugs", with_kit, {}, {}};
    race.acts = {act([](Job& job) { return done(job.limit_item("T", 500, 20)); }),
                 act([](Job& job) { return done(job.renew_item("T", "new plugs")); })};
    race.one_chain = true;
    race.judge = [](auto const&, JobState const& state) -> std::string {
        return state.kit.items.back().matings_limit == 500 ? "" : "the limit is lost";
    };
    run(race);
}

TEST(Races, OfLimitsOfTheKit)
{
    auto const limits = [](int matings) {
        return act([=](Job& job) {
            setup::RegisterLimits words;
            words.matings = matings;
            return done(job.limit_kit(words));
        });
    };
    run({"limits of the kit", with_kit, {limits(500), limits(1)}, {}});
}

TEST(Races, OfDecisions)
{
    // The meter is out of calibration: somebody uses it all the same, and the other brings readings.
    Act const decides = entry(
        [](JobState const& state) -> auto const& { return state.kit.overrides; },
        [](Job& job, Actor const&) { return job.override_item("M", "bench check on file", "key-1"); });
    Race race{"decisions on an item",
              with_kit,
              {decides, decides, readings(readings_file("N-1", "09:00", 0.40))},
              {}};
    race.judge = [](auto const&, JobState const& state) {
        return state.kit.overrides.size() == 1 ? std::string()
                                               : std::string("the decision is not there once");
    };
    run(race);
}

TEST(Races, OfInspections)
{
    Act const looks = entry(
        [](JobState const& state) -> auto const& { return state.kit.inspections; },
        [](Job& job, Actor const&) {
            FaceInspected seen;
            seen.seen.item = "T";
            seen.seen.end = 1;
            seen.key = "key-1";
            return job.inspect_face(seen);
        });
    Race race{"inspections, one key", with_kit, {looks, looks}, {}};
    race.judge = [](auto const& answers, JobState const& state) {
        return kept_once(answers, state.kit.inspections.size());
    };
    run(race);
}

/// The first set-up for the job, worked out before the start.
Act set_up()
{
    return [](Job& job, Actor const&) -> Deed {
        auto const all = job_setups(job.state(), {});
        std::string body = "no set-up";
        if (all && !all->groups.empty()) {
            auto const sheet = setup_body(sheet_of(all->groups[0].setup, &all->groups[0]));
            if (sheet) body = *sheet;
        }
        return [&job, body] {
            auto const chosen = job.choose_setup(body);
            return chosen ? Done{} : refused(chosen);
        };
    };
}

TEST(Races, OfASetUpAndACordCheck)
{
    // A check is judged by the set-up that was chosen when it was taken.
    Race race{"set-up, cord check", with_kit, {set_up(), check(check_file("C-2", "R-1", "12:01"))}, {}};
    race.judge = [](auto const& answers, JobState const& state) {
        return count(answers, How::did) == 2 && state.setups.size() == 1 ? std::string()
                                                                         : std::string("both can be done");
    };
    run(race);
}

TEST(Races, OfSetUps)
{
    Race race{"set-ups", with_kit, {set_up(), set_up()}, {}};
    race.judge = [](auto const&, JobState const& state) {
        return state.setups.size() == 2 ? std::string() : std::string("both can be done");
    };
    run(race);
}

// What takes long beside what changes.

TEST(Races, OfARebuildAndReadings)
{
    Act const rebuild = act([](Job& job) {
        auto const same = job.rebuild();
        if (!same) return refused(same);
        // Another program's change may come first, so only the end is known, not what it was before.
        return Done{How::looked, {}, {}};
    });
    Race race{
        "rebuild, readings", with_readings, {rebuild, readings(readings_file("N-2", "09:10", 0.40))}, {}};
    race.rounds = often;
    run(race);
}

TEST(Races, OfRebuildsAndAWithdrawal)
{
    Act const rebuild = act([](Job& job) {
        auto const same = job.rebuild();
        return same ? Done{How::looked, {}, {}} : refused(same);
    });
    run({"rebuilds, withdrawal", with_readings, {rebuild, rebuild, withdrawal()}, {}});
}

} // namespace races_test
} // namespace guidepin::job::races
