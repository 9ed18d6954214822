// SPDX-License-Identifier: Apache-2.0
// Notes, people, steps, typed readings, withdrawals, and the sentence of the day, against real job files.
// Oracles: round trips; the state read from the records alone; rates worked by hand in each case.
#include "job/entry/entries.hpp"
#include "job/open/job.hpp"
#include "job/today/today.hpp"
#include "record/derived_query.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <filesystem>

#include <fmt/format.h>

#include "scratch_test.hpp"

namespace guidepin::job {
namespace entries_test {

using ::testing::HasSubstr;

std::int64_t at(char const* text)
{
    return parse_instant(text)->ms;
}

std::string readings(std::string const& link, std::string const& time, double loss = 0.4)
{
    std::string text =
        "link,launch_end,position,far_position,wavelength_nm,attenuation_db,taken_at,reference\n";
    for (int p = 1; p <= 12; ++p)
        text += fmt::format("{},a,{},{},850,{:.2f},2026-03-02T{}:00Z,R-1\n", link, p, 13 - p, loss, time);
    return text;
}

class Entries : public support::ScratchTest
{
  protected:
    Entries()
        : ScratchTest("2026-03-02T09:30:00Z")
    {
    }
    void SetUp() override
    {
        auto const settings = settings_from_sheet({"sheet", R"([rules]
wavelengths-multimode = [850]
require-length = false
[[instrument]]
id = "S"
role = "source"
calibration-due = 2026-11-10
[[instrument]]
id = "M"
role = "meter"
calibration-due = 2026-11-10
[[cord]]
id = "L"
role = "launch"
[[cord]]
id = "T"
role = "tail"
[[cord]]
id = "LA"
role = "launch"
face = "angled"
[[cord]]
id = "TA"
role = "tail"
face = "angled"
)"});
        ASSERT_TRUE(settings.has_value()) << settings.error().message;
        ASSERT_TRUE(Job::create(path(), *settings, actor_).has_value());
        reopen();
    }
    void reopen()
    {
        job_.reset();
        auto opened = Job::open(path(), actor_, true);
        ASSERT_TRUE(opened.has_value()) << opened.error().message;
        job_.emplace(std::move(opened).value());
    }
    void schedule()
    {
        auto const kept =
            job_->import_schedule("schedule.csv",
                                  "link,zone,category,length_m,family,fibres,trunk_type\n"
                                  "N-1,North,OM4,50,mpo-12,12,B\nN-2,North,OM4,50,mpo-12,12,B\n",
                                  {});
        ASSERT_TRUE(kept.has_value()) << kept.error().message;
    }
    void reference(bool with_check = true)
    {
        std::string powers = "reference,position,wavelength_nm,power_dbm,taken_at\n";
        std::string check = "check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\n";
        for (int p = 1; p <= 12; ++p) {
            powers += fmt::format("R-1,{},850,-20.0,2026-03-02T08:00:00Z\n", p);
            check += fmt::format("C-1,R-1,{},{},850,0.10,2026-03-02T08:10:00Z\n", p, p);
        }
        ReferenceOptions how;
        how.kit = {.source = "S", .meter = "M", .launch = "L", .tail = "T"};
        ASSERT_TRUE(job_->take_reference("reference.csv", powers, {}, how).has_value());
        if (!with_check) return;
        ASSERT_TRUE(job_->take_cord_check("check.csv", check, {}, "", false).has_value());
    }
    void bring(std::string const& link, std::string const& time, double loss = 0.4)
    {
        auto const kept =
            job_->import_readings(fmt::format("{}-{}.csv", link, time), readings(link, time, loss), {}, {});
        ASSERT_TRUE(kept.has_value()) << kept.error().message;
    }
    std::string state_of(std::string const& link)
    {
        auto const* const row = record::find_link(**job_->rows(), link);
        return row ? row->state : "none";
    }
    Today today(char const* now)
    {
        auto const seen = today_of(*job_, Instant{at(now), 0});
        EXPECT_TRUE(seen.has_value()) << (seen ? "" : seen.error().message);
        return seen ? *seen : Today{};
    }

    std::optional<Job> job_;
};

RC_GTEST_PROP(EntryBodies, NoteComesBack, ())
{
    Note note;
    note.subject = "link";
    note.name = *rc::gen::container<std::string>(rc::gen::inRange(' ', '~'));
    note.text = "x" + *rc::gen::container<std::string>(rc::gen::inRange(' ', '~'));
    auto const body = note_body(note);
    RC_ASSERT(body.has_value());
    auto const back = note_of(*body);
    RC_ASSERT(back.has_value());
    RC_ASSERT(back->name == note.name && back->text == note.text && back->subject == note.subject);
}

TEST(EntryBodies, OthersComeBack)
{
    auto const person = person_of(*person_body({"Ines", Role::lead, {}, {}}));
    EXPECT_EQ(person->name, "Ines");
    EXPECT_EQ(person->role, Role::lead);
    auto const step = step_of(*step_body({"set-1", "reference.mate", "k", {}, {}}));
    EXPECT_EQ(step->setup + step->step + step->key, "set-1reference.matek");
    auto const withdrawal = withdrawal_of(*withdrawal_body({"st", 7, "wrong hall", {}, {}}));
    EXPECT_EQ(withdrawal->sequence, 7);
    EXPECT_EQ(withdrawal->reason, "wrong hall");
}

TEST(EntryBodies, EmptyOnesAreRefused)
{
    EXPECT_FALSE(note_body({}).has_value());
    EXPECT_FALSE(person_body({}).has_value());
    EXPECT_FALSE(withdrawal_body({"st", 7, "  ", {}, {}}).has_value());
    Note large;
    large.text = "photo";
    large.photo.assign(largest_photo * 2, 'A');
    EXPECT_FALSE(note_body(large).has_value());
}

TEST_F(Entries, ANoteIsKeptOnceAndLeavesVerdictsAlone)
{
    schedule();
    std::string const before = *job_->store().derived_digest();
    Note note;
    note.subject = "link";
    note.name = "N-1";
    note.text = "adapter loose";
    note.key = "abc";
    ASSERT_TRUE(job_->add_note(note).has_value());
    ASSERT_TRUE(job_->add_note(note).has_value());
    EXPECT_EQ(*job_->store().count("note"), 1);
    EXPECT_EQ(before, *job_->store().derived_digest());
    note.key = std::string(65, 'a');
    EXPECT_EQ(job_->add_note(note).error().code, Errc::usage);
    EXPECT_EQ(job_->tick_step(StepDone{"setup", "step", note.key, {}, {}}).error().code, Errc::usage);
    reopen();
    ASSERT_EQ(job_->state().notes.size(), 1U);
    EXPECT_EQ(job_->state().notes[0].person, "Ines");
    EXPECT_TRUE(*job_->rebuild()) << "derived rows were as a rebuild makes them";
}

TEST_F(Entries, TypedReadingsGoTheWayOfImportedOnesAndAreKeptOnce)
{
    schedule();
    reference();
    TypedReadings typed;
    typed.link = "N-1";
    typed.reference = "R-1";
    typed.person = "Tomasz";
    typed.key = "0a1b";
    typed.taken = Instant{at("2026-03-02T09:00:00Z"), 0};
    for (int p = 1; p <= 12; ++p) typed.rows.push_back({p, 13 - p, 0.4});
    ASSERT_TRUE(job_->enter_readings(typed).has_value());
    EXPECT_EQ(state_of("N-1"), "pass");
    auto const again = job_->enter_readings(typed);
    ASSERT_TRUE(again.has_value());
    EXPECT_EQ(again->rows, 0U);
    reopen();
    EXPECT_EQ(job_->enter_readings(typed)->rows, 0U) << "the key outlives the program";
    EXPECT_EQ(*job_->store().count("link-tested"), 1);
    EXPECT_EQ(record::find_link(**job_->rows(), "N-1")->operator_name, "Tomasz");
}

TEST_F(Entries, AWithdrawnImportNoLongerCountsAndMayComeAgain)
{
    schedule();
    reference();
    bring("N-1", "09:00");
    bring("N-2", "09:05");
    SourceFile const file = job_->state().files[job_->state().files.size() - 2];
    ASSERT_EQ(file.name, "N-1-09:00.csv");
    Withdrawal withdrawal{file.station, file.sequence, "measured at the wrong panel", {}, {}};
    ASSERT_TRUE(job_->withdraw_import(withdrawal).has_value());
    EXPECT_EQ(state_of("N-1"), "open");
    EXPECT_EQ(state_of("N-2"), "pass") << "the other import stays";
    EXPECT_EQ(*job_->store().count("link-tested"), 2) << "nothing is deleted";
    auto const twice = job_->withdraw_import(withdrawal);
    ASSERT_FALSE(twice.has_value());
    EXPECT_EQ(twice.error().code, Errc::conflict);
    reopen();
    EXPECT_EQ(state_of("N-1"), "open");
    bring("N-1", "09:00");
    EXPECT_EQ(state_of("N-1"), "pass") << "the same file may come in again";
    EXPECT_TRUE(*job_->rebuild());
    auto const schedule_file = job_->state().files.front();
    EXPECT_EQ(
        job_->withdraw_import({schedule_file.station, schedule_file.sequence, "x", {}, {}}).error().code,
        Errc::refused);
}

TEST_F(Entries, APreviewChangesNothingAndSaysWhatWouldComeIn)
{
    schedule();
    reference();
    bring("N-1", "09:00");
    auto const records = *job_->store().count();
    std::string text = readings("N-1", "09:10") + "N-2,a,1,12,850,0.4,2026-03-02T09:10:00Z,R-1\n" +
                       "N-9,a,1,12,850,0.4,2026-03-02T09:10:00Z,R-1\nN-2,a,99,1,850,0.4,,R-1\n";
    auto const preview = job_->preview_readings("day.csv", text, {}, {});
    ASSERT_TRUE(preview.has_value()) << preview.error().message;
    EXPECT_EQ(preview->rows, 14U);
    EXPECT_EQ(preview->new_links, 2U);
    EXPECT_EQ(preview->retested, 1U);
    EXPECT_THAT(preview->unknown_links, ::testing::ElementsAre("N-9"));
    ASSERT_EQ(preview->bad_rows, 1U);
    EXPECT_EQ(preview->bad[0].line, 16U);
    EXPECT_EQ(*job_->store().count(), records);
}

TEST_F(Entries, AnotherProgramsRecordsAreTakenIn)
{
    schedule();
    reference();
    EXPECT_FALSE(*job_->refresh());
    {
        auto other = Job::open(path(), actor_, true);
        ASSERT_TRUE(other.has_value());
        ASSERT_TRUE(other->import_readings("x.csv", readings("N-1", "09:00"), {}, {}).has_value());
    }
    ASSERT_TRUE(job_->assessment().has_value());
    auto const generation = job_->generation();
    EXPECT_TRUE(*job_->refresh());
    EXPECT_EQ(job_->state().tests.size(), 1U);
    EXPECT_EQ(job_->generation(), generation) << "a test goes beside what is known";
    EXPECT_FALSE(*job_->refresh());
    auto const as_read_anew = [&] {
        auto anew = Job::open(path(), actor_, false);
        ASSERT_TRUE(anew.has_value());
        auto const here = derive(job_->state(), **job_->assessment());
        auto const there = derive(anew->state(), **anew->assessment());
        EXPECT_EQ(here.links, there.links);
        EXPECT_EQ(here.tests, there.tests);
        EXPECT_EQ(here.progress, there.progress);
        EXPECT_EQ(job_->version(), anew->version());
        EXPECT_EQ(job_->state().tests.back().hash, anew->state().tests.back().hash);
        EXPECT_EQ(job_->state().files.size(), anew->state().files.size());
    };
    as_read_anew();
    // What every verdict may rest on is read anew, and so is what may come before what is known.
    {
        auto other = Job::open(path(), actor_, true);
        ReferenceEvent event;
        event.event = "power-cycle";
        event.at = Instant{at("2026-03-02T08:50:00Z"), 0};
        ASSERT_TRUE(other->note_event(event).has_value());
    }
    EXPECT_TRUE(*job_->refresh());
    EXPECT_NE(job_->generation(), generation);
    EXPECT_EQ(state_of("N-1"), "held");
    as_read_anew();
    // From now on this one's own entries and another's take turns.
    bring("N-2", "09:10");
    {
        auto other = Job::open(path(), actor_, true);
        ASSERT_TRUE(other->import_readings("y.csv", readings("N-2", "09:15", 0.5), {}, {}).has_value());
    }
    EXPECT_TRUE(*job_->refresh());
    as_read_anew();
    bring("N-1", "09:20");
    as_read_anew();
    EXPECT_TRUE(*job_->rebuild()) << "what stands in the file is what the records give";
}

TEST_F(Entries, TheSentenceFollowsTheDay)
{
    EXPECT_EQ(today("2026-03-02T07:00:00Z").next.deed, Deed::bring_in_schedule);
    schedule();
    EXPECT_EQ(today("2026-03-02T07:30:00Z").next.deed, Deed::take_reference);
    reference(false);
    auto const unchecked = today("2026-03-02T08:05:00Z");
    EXPECT_EQ(unchecked.next.deed, Deed::check_cords);
    EXPECT_EQ(unchecked.next.subject, "R-1");
}

TEST_F(Entries, TheSentenceNamesTheNextLink)
{
    schedule();
    reference();
    auto const first = today("2026-03-02T08:30:00Z");
    EXPECT_EQ(first.next.deed, Deed::measure_open);
    EXPECT_EQ(first.next.subject, "N-1");
    bring("N-1", "09:00", 3.0);
    bring("N-2", "09:20");
    auto const failing = today("2026-03-02T09:30:00Z");
    EXPECT_EQ(failing.next.deed, Deed::settle_failure);
    EXPECT_EQ(failing.next.subject, "N-1");
    EXPECT_EQ(failing.links.fail, 1);
    EXPECT_EQ(failing.links.pass, 1);
    // Two tests twenty minutes apart: one pause in a third of an hour.
    ASSERT_EQ(failing.days.size(), 1U);
    ASSERT_TRUE(failing.days[0].per_hour.has_value());
    EXPECT_NEAR(*failing.days[0].per_hour, 3.0, 1e-9);
    // Two links on one day, one left: half a day.
    EXPECT_NEAR(*failing.days_left, 0.5, 1e-12);
    EXPECT_THAT(failing.finish, HasSubstr("1 day"));
    bring("N-1", "09:30");
    EXPECT_EQ(today("2026-03-02T09:45:00Z").next.deed, Deed::hand_over);
}

TEST_F(Entries, AReferenceThatIsTooOldIsAskedForAnew)
{
    schedule();
    reference();
    auto const late = today("2026-03-02T21:00:00Z"); // 13 h after it was taken; the sheet's habit is 12 h
    EXPECT_EQ(late.next.deed, Deed::take_reference);
    ASSERT_EQ(late.references.size(), 1U);
    EXPECT_EQ(late.references[0].condition, ReferenceCondition::too_old);
    auto const early = today("2026-03-02T09:00:00Z");
    EXPECT_EQ(early.references[0].condition, ReferenceCondition::in_force);
    EXPECT_NEAR(*early.references[0].minutes_left, 11 * 60, 1e-9);
}

TEST_F(Entries, TheReferenceThatIsAskedForIsOneForWhatIsLeft)
{
    schedule();
    auto const more = job_->import_schedule("more.csv",
                                            "link,zone,category,length_m,family,fibres,trunk_type,face\n"
                                            "W-1,West,OS2,50,mpo-12,12,B,angled\n"
                                            "W-2,West,OS2,50,mpo-12,12,B,angled\n",
                                            {});
    ASSERT_TRUE(more.has_value()) << more.error().message;
    reference();
    bring("N-1", "08:50");
    EXPECT_EQ(today("2026-03-02T09:00:00Z").next.subject, "N-2") << "what R-1 suits comes first";
    bring("N-2", "09:10");
    // R-1 is in force and suits nothing that is left.
    auto const none = today("2026-03-02T09:30:00Z").next;
    EXPECT_EQ(none.deed, Deed::take_reference);
    EXPECT_EQ(none.subject, "");
    EXPECT_THAT(none.sentence, HasSubstr("2 links wait for it, and none of those there are suits"));

    std::string powers = "reference,position,wavelength_nm,power_dbm,taken_at\n";
    for (int p = 1; p <= 12; ++p)
        for (int const nm : {1310, 1550})
            powers += fmt::format("R-2,{},{},-5.0,2026-03-02T08:20:00Z\n", p, nm);
    ReferenceOptions how;
    how.kit = {.source = "S", .meter = "M", .launch = "LA", .tail = "TA"};
    ASSERT_TRUE(job_->take_reference("angled.csv", powers, {}, how).has_value());
    auto const unchecked = today("2026-03-02T09:30:00Z").next;
    EXPECT_EQ(unchecked.deed, Deed::check_cords);
    EXPECT_EQ(unchecked.subject, "R-2");
    // The next day both are too old: the one for the links that are left is named, though R-1 is listed too.
    auto const late = today("2026-03-03T09:00:00Z").next;
    EXPECT_EQ(late.deed, Deed::take_reference);
    EXPECT_EQ(late.subject, "R-2");
    EXPECT_THAT(late.sentence, HasSubstr("as R-2 was taken"));
}

} // namespace entries_test
} // namespace guidepin::job
