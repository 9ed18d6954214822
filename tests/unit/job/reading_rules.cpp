// SPDX-License-Identifier: Apache-2.0
// What a job says of readings before they come in, and taking the same file twice. Oracle: the rows of each
// case; rules in docs/formats/csv.md.
#include "job/groundwork/reading_rules.hpp"
#include "scratch_job.hpp"

namespace guidepin::job {
namespace reading_rules_test {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::SizeIs;

class ReadingRules : public ScratchJob
{
  protected:
    void SetUp() override
    {
        ScratchJob::SetUp();
        open_new(stated_kit);
        schedule("N-1,OM4,50,mpo-12,12,B,flat\n");
        reference(positions(1, 12));
        check(positions(1, 12));
    }
    std::string refusal(std::string const& rows)
    {
        auto const done = job_->import_readings("readings.csv", readings_file(rows), {}, {});
        EXPECT_FALSE(done.has_value());
        return done ? std::string{} : done.error().message;
    }
};

TEST_F(ReadingRules, ATimeInTheFutureIsABadRow)
{
    // Now is 12:00.
    EXPECT_THAT(refusal(reading_rows("N-1", {1, 2}, 850, 0.4, "12:05:01")),
                HasSubstr("line 2, taken_at: '2026-03-02T12:05:01Z': is later than now"));
    EXPECT_EQ(job_->state().readings.size(), 0u);
    EXPECT_EQ(readings(reading_rows("N-1", {1, 2}, 850, 0.4, "12:05:00")).rows, 2u);
}

TEST_F(ReadingRules, AReferenceOfTheFutureIsRefused)
{
    auto const done = job_->take_reference(
        "late.csv",
        "reference,position,wavelength_nm,power_dbm,taken_at\nR-9,1,850,-20,2026-03-02T13:00:00Z\n", {}, {});
    ASSERT_FALSE(done.has_value());
    EXPECT_THAT(done.error().message, HasSubstr("line 2, taken_at"));
}

TEST_F(ReadingRules, PositionsThatThePlugsDoNotHaveAreBadRows)
{
    std::string const thirteen = "N-1,a,13,1,850,0.4,2026-03-02T09:00:00Z,R-1\n"
                                 "N-1,a,2,14,850,0.4,2026-03-02T09:00:00Z,R-1\n";
    std::string const said = refusal(reading_rows("N-1", {1}) + thirteen);
    EXPECT_THAT(
        said, HasSubstr("line 3, position: '13': end A of the link is mpo-12, which has positions 1 to 12"));
    EXPECT_THAT(said, HasSubstr("line 4, far_position: '14'"));
    EXPECT_THAT(said, HasSubstr("2 of 3 rows"));
    FileOptions keep;
    keep.keep_good_rows = true;
    auto const done =
        job_->import_readings("readings.csv", readings_file(reading_rows("N-1", {1}) + thirteen), keep, {});
    ASSERT_TRUE(done.has_value()) << done.error().message;
    EXPECT_EQ(done->rows, 1u);
    EXPECT_EQ(done->bad_rows, 2u);
    // Of a link that is not in the schedule nobody knows the plug.
    EXPECT_EQ(readings("X-1,a,13,1,850,0.4,2026-03-02T09:00:00Z,R-1\n").rows, 1u);
}

TEST_F(ReadingRules, TheSameFileTwiceIsRefusedUntilSaidOrWithdrawn)
{
    std::string const file = readings_file(reading_rows("N-1", positions(1, 12)));
    ASSERT_TRUE(job_->import_readings("day-1.csv", file, {}, {}));
    auto const twice = job_->import_readings("day-1 copy.csv", file, {}, {});
    ASSERT_FALSE(twice.has_value());
    EXPECT_EQ(twice.error().code, Errc::conflict);
    EXPECT_THAT(twice.error().message, HasSubstr("as day-1.csv, brought in by Ines on 2026-03-02 at 12:00"));
    auto const preview = job_->preview_readings("day-1 copy.csv", file, {}, {});
    ASSERT_TRUE(preview.has_value());
    EXPECT_THAT(preview->already, HasSubstr("day-1.csv"));

    ReadingsOptions again;
    again.again = true;
    auto const anew = job_->import_readings("day-1 copy.csv", file, {}, again);
    ASSERT_TRUE(anew.has_value()) << anew.error().message;
    EXPECT_EQ(anew->retested, 1u);

    auto const files = job_->state().files;
    for (SourceFile const& each : files) {
        if (each.layout != "readings") continue;
        Withdrawal withdrawal;
        withdrawal.station = each.station;
        withdrawal.sequence = each.sequence;
        withdrawal.reason = "twice";
        ASSERT_TRUE(job_->withdraw_import(withdrawal));
    }
    auto const fresh = job_->import_readings("day-1.csv", file, {}, {});
    ASSERT_TRUE(fresh.has_value()) << fresh.error().message;
    EXPECT_EQ(fresh->new_links, 1u);
}

TEST_F(ReadingRules, TheSameMomentWithAnotherValueIsTold)
{
    readings(reading_rows("N-1", {1, 2, 3}));
    auto const other = readings(reading_rows("N-1", {1, 2}, 850, 0.5) + reading_rows("N-1", {3}));
    ASSERT_THAT(other.warnings, SizeIs(1));
    EXPECT_THAT(other.warnings[0], HasSubstr("2 readings contradict an earlier reading of the same moment"));
    EXPECT_THAT(other.warnings[0], HasSubstr("line 2: N-1 from A, position 1 at 850 nm, "
                                             "2026-03-02T09:00:00Z: 0.50 dB here, 0.40 dB before"));
    // Later is a retest and needs no word.
    EXPECT_THAT(readings(reading_rows("N-1", {1}, 850, 0.7, "09:30:00")).warnings, IsEmpty());
}

TEST_F(ReadingRules, WavelengthsThatJudgeNothingAreTold)
{
    auto const outcome = readings(reading_rows("N-1", positions(1, 12), 1310));
    ASSERT_THAT(outcome.warnings, SizeIs(1));
    EXPECT_THAT(outcome.warnings[0],
                HasSubstr("12 readings at 1310 nm of 1 link (N-1) are kept and judge nothing"));
}

TEST_F(ReadingRules, AHeaderAloneIsTold)
{
    EXPECT_THAT(readings("").warnings, ElementsAre(HasSubstr("holds no reading")));
}

} // namespace reading_rules_test
} // namespace guidepin::job
