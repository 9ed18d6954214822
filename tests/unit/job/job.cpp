// SPDX-License-Identifier: Apache-2.0
// The stated behaviours of docs/methods/retests.md, against real job files. Losses are far from any limit
// (0.40 dB passes, 3.00 dB fails a 50 m OM4 link without inner connections: TIA-568.3-E allows two end
// connections and the fibre).
#include "job/open/job.hpp"
#include "job/groundwork/trust.hpp"
#include "record/derived_query.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <functional>

#include <fmt/format.h>

#include "scratch_test.hpp"

namespace guidepin::job {
namespace job_test {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

std::string const schedule_header = "link,category,length_m,family,fibres,trunk_type\r\n";
std::string const readings_header =
    "link,launch_end,position,far_position,wavelength_nm,attenuation_db,taken_at,reference\r\n";

struct Rows
{
    std::string link = "N-1";
    char end = 'a';
    std::string at = "09:00";
    double loss = 0.4;
    std::string reference = "R-1";
    int first = 1, last = 12;
};

/// Readings of a type B link: position p comes out at 13 - p.
std::string rows(Rows const& r)
{
    std::string text;
    for (int p = r.first; p <= r.last; ++p) {
        text += fmt::format("{},{},{},{},850,{:.2f},2026-03-02T{}:00Z,{}\r\n", r.link, r.end, p, 13 - p,
                            r.loss, r.at, r.reference);
    }
    return text;
}

class JobFile : public support::ScratchTest
{
  protected:
    JobFile()
        : ScratchTest("2026-03-02T10:00:00Z")
    {
    }
    void SetUp() override
    {
        auto const settings = settings_from_sheet({"sheet", R"([rules]
wavelengths-multimode = [850]
require-length = false # the rows below are about other things
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
type = "A"
[[cord]]
id = "TA"
role = "tail"
type = "A"
)"});
        ASSERT_TRUE(settings.has_value()) << settings.error().message;
        auto const created = Job::create(path(), *settings, actor_);
        ASSERT_TRUE(created.has_value()) << created.error().message;
        reopen();
    }

    void reopen()
    {
        job_.reset();
        auto opened = Job::open(path(), actor_, true);
        ASSERT_TRUE(opened.has_value()) << opened.error().message;
        job_.emplace(std::move(opened).value());
    }
    ScheduleOutcome schedule(std::string const& text)
    {
        auto const outcome = job_->import_schedule("schedule.csv", schedule_header + text, {});
        EXPECT_TRUE(outcome.has_value()) << (outcome ? "" : outcome.error().message);
        return outcome ? *outcome : ScheduleOutcome{};
    }
    void reference(std::string const& id = "R-1", std::string const& hour = "08",
                   std::string const& launch = "L", std::string const& tail = "T")
    {
        std::string powers = "reference,position,wavelength_nm,power_dbm,taken_at\r\n";
        // Two plugs in an opposed-key adapter: each position meets its own number.
        std::string check = "check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\r\n";
        for (int p = 1; p <= 12; ++p) {
            powers += fmt::format("{},{},850,{:.2f},2026-03-02T{}:00:00Z\r\n", id, p, -20.0 - 0.01 * p, hour);
            check += fmt::format("C-{},{},{},{},850,0.10,2026-03-02T{}:10:00Z\r\n", id, id, p, p, hour);
        }
        ReferenceOptions how;
        how.kit = {.source = "S", .meter = "M", .launch = launch, .tail = tail};
        auto const taken = job_->take_reference("reference.csv", powers, {}, how);
        ASSERT_TRUE(taken.has_value()) << taken.error().message;
        auto const checked = job_->take_cord_check("check.csv", check, {}, "", false);
        ASSERT_TRUE(checked.has_value()) << checked.error().message;
        // What follows tells only of readings when the reference and its check hold.
        auto const standing = job_->assessment();
        ASSERT_TRUE(standing.has_value());
        for (Trust const& trust : reference_trust(job_->state(), **standing)) {
            for (TrustReason const& reason : trust.reasons)
                EXPECT_FALSE(reason.refuses) << trust.id << ": " << reason.text;
        }
        for (Trust const& trust : check_trust(job_->state(), **standing)) {
            for (TrustReason const& reason : trust.reasons)
                EXPECT_FALSE(reason.refuses) << trust.id << ": " << reason.text;
        }
    }
    ReadingsOutcome readings(std::string const& text, ReadingsOptions const& how = {})
    {
        auto const outcome = job_->import_readings("readings.csv", readings_header + text, {}, how);
        EXPECT_TRUE(outcome.has_value()) << (outcome ? "" : outcome.error().message);
        return outcome ? *outcome : ReadingsOutcome{};
    }
    record::DerivedLink link(std::string const& id)
    {
        auto const rows = job_->rows();
        auto const* const found = rows ? record::find_link(**rows, id) : nullptr;
        EXPECT_NE(found, nullptr) << id;
        return found ? *found : record::DerivedLink{};
    }
    std::vector<bool> tests_that_count(std::string const& id)
    {
        std::vector<bool> counts;
        for (auto const& test : record::tests_of(**job_->rows(), id)) counts.push_back(test.counts);
        return counts;
    }
    std::string derived() { return job_->store().derived_digest().value(); }

    std::optional<Job> job_;
};

std::string const one_link = "N-1,OM4,50,mpo-12,12,B\r\n";

TEST_F(JobFile, a_retest_stands_in_the_first_tests_stead_and_both_are_kept)
{
    schedule(one_link);
    reference();
    auto const first = readings(rows({.loss = 3.0}));
    EXPECT_EQ(first.new_links, 1u);
    EXPECT_EQ(link("N-1").state, "fail");
    auto const again = readings(rows({.at = "09:30"}));
    EXPECT_EQ(again.retested, 1u);
    EXPECT_EQ(again.new_links, 0u);
    EXPECT_EQ(link("N-1").state, "pass");
    EXPECT_EQ(link("N-1").tests, 2);
    EXPECT_EQ(link("N-1").readings, 12);
    EXPECT_THAT(tests_that_count("N-1"), ElementsAre(false, true));
}

TEST_F(JobFile, what_was_measured_earlier_does_not_win_by_coming_later)
{
    schedule(one_link);
    reference();
    readings(rows({.at = "09:30", .loss = 3.0}));
    readings(rows({.at = "09:00"}));
    EXPECT_EQ(link("N-1").state, "fail");
}

TEST_F(JobFile, a_partial_retest_replaces_its_own_positions_only)
{
    schedule(one_link);
    reference();
    readings(rows({.loss = 3.0}));
    readings(rows({.at = "09:30", .first = 1, .last = 11}));
    EXPECT_EQ(link("N-1").state, "fail");
    EXPECT_EQ(link("N-1").failed_fibres, 1);
    EXPECT_EQ(link("N-1").worst_position, 12);
    EXPECT_THAT(tests_that_count("N-1"), ElementsAre(true, true));
    readings(rows({.at = "09:40", .first = 12, .last = 12}));
    EXPECT_EQ(link("N-1").state, "pass");
    EXPECT_THAT(tests_that_count("N-1"), ElementsAre(false, true, true));
}

TEST_F(JobFile, launch_ends_do_not_replace_each_other)
{
    schedule(one_link);
    reference();
    readings(rows({.loss = 3.0}));
    readings(rows({.end = 'b', .at = "09:30"}));
    EXPECT_EQ(link("N-1").state, "fail");
    EXPECT_EQ(link("N-1").readings, 24);
}

TEST_F(JobFile, a_link_measured_before_it_is_scheduled_is_open_then_judged)
{
    schedule("N-0,OM4,50,mpo-12,12,B\r\n");
    reference();
    auto const outcome = readings(rows({}));
    EXPECT_THAT(outcome.unknown_links, ElementsAre("N-1"));
    EXPECT_EQ(link("N-1").state, "open");
    EXPECT_FALSE(link("N-1").scheduled);
    EXPECT_THAT(link("N-1").reason, HasSubstr("not in the schedule"));
    EXPECT_EQ(link("N-0").state, "open");
    schedule(one_link);
    EXPECT_EQ(link("N-1").state, "pass");
    EXPECT_TRUE(link("N-1").scheduled);
    EXPECT_EQ(link("N-0").state, "open");
}

TEST_F(JobFile, a_schedule_brought_again_changes_nothing)
{
    EXPECT_EQ(schedule(one_link).added, 1u);
    auto const again = schedule(one_link);
    EXPECT_EQ(again.unchanged, 1u);
    EXPECT_EQ(again.replaced, 0u);
    EXPECT_EQ(schedule("N-1,OM4,60,mpo-12,12,B\r\n").replaced, 1u);
}

TEST_F(JobFile, a_position_that_the_link_does_not_have_is_kept_and_has_no_say)
{
    schedule("N-1,OM4,50,mpo-12,1-11,B\r\n");
    reference();
    readings(rows({.last = 11}) + "N-1,a,12,,850,3.00,2026-03-02T09:00:00Z,R-1\r\n");
    EXPECT_EQ(link("N-1").state, "pass");
    EXPECT_EQ(link("N-1").readings, 11);
    auto const assessment = job_->assessment();
    ASSERT_TRUE(assessment.has_value());
    EXPECT_TRUE((*assessment)->verdicts.links[0].findings & verdict::some_not_planned);
}

TEST_F(JobFile, rows_said_twice_are_kept_once_and_told)
{
    schedule(one_link);
    reference();
    auto const outcome = readings(rows({}) + rows({.first = 3, .last = 4}));
    EXPECT_EQ(outcome.repeated_rows, 2u);
    EXPECT_EQ(outcome.rows, 12u);
    ASSERT_FALSE(outcome.warnings.empty());
    EXPECT_THAT(outcome.warnings.front(), HasSubstr("kept once"));
}

TEST_F(JobFile, readings_older_than_their_reference_are_held)
{
    schedule(one_link);
    reference();
    auto const outcome = readings(rows({.at = "07:00"}));
    EXPECT_EQ(outcome.older_than_reference, 12u);
    EXPECT_EQ(outcome.held, 12u);
    EXPECT_EQ(link("N-1").state, "held");
    EXPECT_FALSE(link("N-1").reason.empty());
}

TEST_F(JobFile, readings_that_name_no_reference_use_the_only_one_and_are_held_when_there_are_two)
{
    schedule(one_link + "N-2,OM4,50,mpo-12,12,B\r\n");
    reference();
    readings(rows({.reference = ""}));
    EXPECT_EQ(link("N-1").state, "pass");
    EXPECT_EQ(link("N-1").reference, "R-1");
    reference("R-2", "08");
    auto const outcome = readings(rows({.link = "N-2", .reference = ""}));
    EXPECT_EQ(outcome.held, 12u);
    EXPECT_EQ(outcome.older_than_reference, 0u);
    EXPECT_EQ(link("N-2").state, "held");
}

TEST_F(JobFile, powers_become_losses_and_are_refused_without_their_reference)
{
    std::string const header =
        "link,launch_end,position,far_position,wavelength_nm,power_dbm,taken_at,reference\r\n";
    std::string named = header, unnamed = header;
    for (int p = 1; p <= 12; ++p) {
        // The reference of position p is -20 - 0.01 p dBm; half a dB less arrives.
        named +=
            fmt::format("N-1,a,{},{},850,{:.2f},2026-03-02T09:00:00Z,R-1\r\n", p, 13 - p, -20.5 - 0.01 * p);
        unnamed +=
            fmt::format("N-1,a,{},{},850,{:.2f},2026-03-02T09:00:00Z,\r\n", p, 13 - p, -20.5 - 0.01 * p);
    }
    schedule(one_link);
    auto const early = job_->import_readings("powers.csv", named, {}, {});
    ASSERT_FALSE(early.has_value());
    EXPECT_THAT(early.error().message, HasSubstr("no reference \"R-1\""));
    auto const nameless = job_->import_readings("powers.csv", unnamed, {}, {});
    ASSERT_FALSE(nameless.has_value());
    EXPECT_THAT(nameless.error().message, HasSubstr("line 2: a power without a reference"));
    reference();
    auto const kept = job_->import_readings("powers.csv", named, {}, {});
    ASSERT_TRUE(kept.has_value()) << kept.error().message;
    EXPECT_EQ(link("N-1").state, "pass");
    EXPECT_NEAR(link("N-1").worst_attenuation_db.value_or(0), 0.5, 1e-9); // sums of hundredths in binary
    auto const before = derived();
    reopen();
    ASSERT_TRUE(job_->rebuild().has_value());
    EXPECT_EQ(derived(), before);
}

TEST_F(JobFile, rebuilding_gives_the_same_bytes)
{
    schedule(one_link);
    reference();
    readings(rows({.loss = 3.0}) + rows({.link = "X-9"}));
    readings(rows({.at = "09:30", .first = 2, .last = 5}) +
             "N-1,b,1,12,850,0.3,,R-1\r\nN-1,b,2,11,850,0.3,2026-03-02T11:00:00+01:00,R-1\r\n");
    auto const before = derived();
    auto const same = job_->rebuild();
    ASSERT_TRUE(same.has_value());
    EXPECT_TRUE(*same);
    reopen();
    auto const anew = job_->rebuild();
    ASSERT_TRUE(anew.has_value());
    EXPECT_TRUE(*anew);
    EXPECT_EQ(derived(), before);
}

TEST_F(JobFile, a_file_with_a_bad_row_leaves_the_job_as_it_was)
{
    schedule(one_link);
    reference();
    auto const records = job_->store().count().value();
    auto const before = derived();
    auto const refused = job_->import_readings(
        "readings.csv", readings_header + rows({}) + "N-1,a,99,1,850,0.4,,R-1\r\n", {}, {});
    ASSERT_FALSE(refused.has_value());
    EXPECT_THAT(refused.error().message, HasSubstr("line 14"));
    EXPECT_EQ(job_->store().count().value(), records);
    EXPECT_EQ(derived(), before);
    auto const schedule_refused = job_->import_schedule(
        "schedule.csv", schedule_header + "N-2,OM4,50,mpo-12,12,B\r\nN-3,OM9,50,mpo-12,12,B\r\n", {});
    ASSERT_FALSE(schedule_refused.has_value());
    EXPECT_EQ(job_->store().count().value(), records);
    reopen();
    EXPECT_EQ(job_->state().scheduled(), 1u);
    EXPECT_EQ(job_->state().readings.size(), 0u);
    FileOptions keep_good;
    keep_good.keep_good_rows = true;
    auto const kept = job_->import_readings(
        "readings.csv", readings_header + rows({}) + "N-1,a,99,1,850,0.4,,R-1\r\n", keep_good, {});
    ASSERT_TRUE(kept.has_value());
    EXPECT_EQ(kept->bad_rows, 1u);
    EXPECT_EQ(link("N-1").state, "pass");
}

TEST_F(JobFile, instrument_positions_lose_their_cords)
{
    // An aligned-key port turns the row round, and so does a type B cord (TIA-568.3-E: key up to key up, 1 at
    // 12): both together leave the numbers as they are. A type A cord does not, so that its port's 1 is the
    // cabling's 12.
    schedule(one_link + "N-2,OM4,50,mpo-12,12,B\r\n");
    reference();
    reference("R-2", "08", "LA", "TA");
    ReadingsOptions how;
    how.instrument_positions = true;
    readings(rows({.first = 2}) + "N-1,a,1,12,850,3.00,2026-03-02T09:00:00Z,R-1\r\n", how);
    readings(rows({.link = "N-2", .reference = "R-2", .first = 2}) +
                 "N-2,a,1,12,850,3.00,2026-03-02T09:00:00Z,R-2\r\n",
             how);
    EXPECT_EQ(link("N-1").state, "fail");
    EXPECT_EQ(link("N-1").worst_position, 1);
    EXPECT_EQ(link("N-2").state, "fail");
    EXPECT_EQ(link("N-2").worst_position, 12);
    // With one type A cord alone the far numbers would not fit: the map holds only when both ends are taken
    // out.
    auto const assessment = job_->assessment();
    ASSERT_TRUE(assessment.has_value());
    EXPECT_EQ((*assessment)->verdicts.links[0].polarity, verdict::State::pass);
    EXPECT_EQ((*assessment)->verdicts.links[1].polarity, verdict::State::pass);
    schedule("N-3,OM4,50,mpo-12,12,B\r\n");
    reference("R-3", "08", "LA", "T");
    readings(rows({.link = "N-3", .reference = "R-3"}), how);
    EXPECT_EQ(link("N-3").state, "fail");
}

// Tier 1 of TIA-568.3-E (2022) is loss, length and polarity: without a length the link is not proven.
TEST_F(JobFile, a_link_without_a_length_stays_open_unless_the_job_says_otherwise)
{
    schedule(one_link);
    reference();
    readings(rows({}));
    EXPECT_EQ(link("N-1").state, "pass");
    JobState state = job_->state();
    state.settings.require_length = true;
    auto const strict = assess(state);
    ASSERT_TRUE(strict.has_value());
    EXPECT_EQ(strict->verdicts.links[0].state, verdict::State::open);
    EXPECT_EQ(strict->verdicts.links[0].loss, verdict::State::pass);
    EXPECT_TRUE(Settings{}.require_length);
    EXPECT_TRUE(Settings{}.require_polarity);
}

TEST_F(JobFile, a_schedule_that_comes_later_gives_measured_links_their_numbers)
{
    reference();
    readings(rows({.link = "N-9"}) + rows({.link = "N-8", .loss = 3.0}));
    schedule(one_link + "N-8,OM4,50,mpo-12,12,B\r\nN-9,OM4,50,mpo-12,12,B\r\n");
    EXPECT_EQ(link("N-8").state, "fail");
    EXPECT_EQ(link("N-9").state, "pass");
    EXPECT_EQ(link("N-1").state, "open");
    EXPECT_TRUE(job_->rebuild().value());
}

TEST(Overrides, TheJobsOwnValueDecides)
{
    Settings settings;
    settings.overrides_text = R"(format = "guidepin-facts"
kind = "overrides"
[sources]
house = { document = "House rules", edition = "issue 2" }
[[fact]]
id = "readiness.drift-check"
value = 0.2
unit = "dB"
source = "house"
basis = "common-practice"
)";
    auto const tables = tables_of(settings);
    ASSERT_TRUE(tables.has_value()) << tables.error().message;
    EXPECT_EQ(tables->fact("readiness.drift-check")->value, 0.2);
    EXPECT_EQ(facts::built_in_tables().fact("readiness.drift-check")->value, 0.1);
    settings.overrides_text += "[[fact]]\nid = \"readiness.no-such\"\nvalue = 1\nunit = \"dB\"\nsource = "
                               "\"house\"\nbasis = \"memory\"\n";
    EXPECT_FALSE(tables_of(settings).has_value());
}

} // namespace job_test
} // namespace guidepin::job
