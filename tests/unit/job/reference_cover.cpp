// SPDX-License-Identifier: Apache-2.0
// What a reference and its cord check have to cover, and which readings are held where they do not. Oracle:
// the positions of each case counted by hand; rules in docs/methods/reference.md.
#include "scratch_job.hpp"

namespace guidepin::job {
namespace reference_cover_test {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;
using ::testing::Pair;
using ::testing::UnorderedElementsAre;

using ReferenceCovers = ScratchJob;

TEST_F(ReferenceCovers, OneOfTwelvePositionsIsRefused)
{
    open_new(stated_kit);
    schedule("N-1,OM4,50,mpo-12,12,B,flat\n");
    reference({1});
    EXPECT_EQ(reference_now().state, "refused");
    EXPECT_THAT(texts(reference_now()), HasSubstr("No power at 850 nm for 11 of 12 positions: 2-12."));
}

TEST_F(ReferenceCovers, EightPositionsAreEnoughForTrunksOfEight)
{
    open_new(stated_kit);
    schedule("S-1,OM4,50,mpo-12,8-outer,B,flat\n");
    reference(outer_eight());
    check(outer_eight());
    EXPECT_THAT(ids(reference_now()), IsEmpty());
    EXPECT_THAT(ids(check_now()), IsEmpty());
    readings(reading_rows("S-1", outer_eight()));
    EXPECT_THAT(holds(), UnorderedElementsAre(Pair("none", 8)));
    EXPECT_EQ(assessment().verdicts.links[0].state, verdict::State::pass);
}

TEST_F(ReferenceCovers, TwelvePositionsAreNoRemarkForTrunksOfEight)
{
    open_new(stated_kit);
    schedule("S-1,OM4,50,mpo-12,8-outer,B,flat\n");
    reference(positions(1, 12));
    EXPECT_THAT(ids(reference_now()), IsEmpty());
}

TEST_F(ReferenceCovers, LinksItDoesNotCoverAreARemarkAndHeldWhereItLacks)
{
    open_new(stated_kit);
    schedule("S-1,OM4,50,mpo-12,8-outer,B,flat\nN-1,OM4,50,mpo-12,12,B,flat\n");
    reference(outer_eight());
    check(outer_eight());
    EXPECT_EQ(reference_now().state, "accepted with remarks");
    EXPECT_THAT(texts(reference_now()),
                HasSubstr("No power for positions 5-8 of 1 link of the schedule (N-1)"));
    readings(reading_rows("N-1", positions(1, 12)));
    EXPECT_THAT(holds(), UnorderedElementsAre(Pair("none", 8), Pair("position-not-referenced", 4)));
    EXPECT_THAT(first_hold_text(), HasSubstr("holds no power for position 5 at 850 nm"));
    EXPECT_EQ(assessment().verdicts.links[1].state, verdict::State::held);
}

TEST_F(ReferenceCovers, PowersWithoutAReferencePowerAreHeldAsWell)
{
    open_new(stated_kit);
    schedule("S-1,OM4,50,mpo-12,8-outer,B,flat\nN-1,OM4,50,mpo-12,12,B,flat\n");
    reference(outer_eight());
    check(outer_eight());
    readings(reading_rows("N-1", positions(1, 12), 850, -20.4), "power_dbm");
    EXPECT_THAT(holds(), UnorderedElementsAre(Pair("none", 8), Pair("position-not-referenced", 4)));
}

TEST_F(ReferenceCovers, WithoutASchedulePositionsOfTheCordAreARemark)
{
    open_new(stated_kit);
    reference(positions(1, 4));
    EXPECT_EQ(reference_now().state, "accepted with remarks");
    EXPECT_THAT(texts(reference_now()), HasSubstr("No power for positions 5-12 of launch cord L"));
}

TEST_F(ReferenceCovers, ACheckOfFewerPositionsHoldsTheOthers)
{
    open_new(stated_kit);
    schedule("S-1,OM4,50,mpo-12,8-outer,B,flat\nN-1,OM4,50,mpo-12,12,B,flat\n");
    reference(positions(1, 12));
    check(outer_eight());
    EXPECT_EQ(check_now().state, "accepted with remarks");
    readings(reading_rows("N-1", positions(1, 12)));
    EXPECT_THAT(holds(), UnorderedElementsAre(Pair("none", 8), Pair("position-not-checked", 4)));
    EXPECT_THAT(first_hold_text(), HasSubstr("covers position 5 at 850 nm"));
    // A second check of the others releases them.
    check(positions(1, 12), {850}, "C-2");
    EXPECT_THAT(holds(), UnorderedElementsAre(Pair("none", 12)));
}

TEST_F(ReferenceCovers, ACheckThatCoversNoLinkIsRefused)
{
    open_new(stated_kit);
    schedule("N-1,OM4,50,mpo-12,12,B,flat\n");
    reference(positions(1, 12));
    check({1, 2});
    EXPECT_EQ(check_now().state, "refused");
    EXPECT_THAT(texts(check_now()), HasSubstr("no reading in positions 3-12"));
    readings(reading_rows("N-1", positions(1, 12)));
    EXPECT_THAT(holds(), UnorderedElementsAre(Pair("check-failed", 12)));
}

TEST_F(ReferenceCovers, AnotherWavelengthIsAMismatch)
{
    open_new(stated_kit);
    schedule("N-1,OM4,50,mpo-12,12,B,flat\nW-1,OS2,50,mpo-12,12,B,angled\n");
    reference(positions(1, 12));
    check(positions(1, 12));
    readings(reading_rows("W-1", positions(1, 12), 1310));
    EXPECT_THAT(holds(), UnorderedElementsAre(Pair("reference-mismatch", 12)));
    EXPECT_EQ(assessment().verdicts.links[1].state, verdict::State::held);
}

TEST_F(ReferenceCovers, AnotherPlugIsAMismatchAndToldFirst)
{
    open_new(stated_kit);
    schedule("N-1,OM4,50,mpo-12,12,B,flat\nK-1,OM4,50,mpo-16,16,B,flat\n");
    reference(positions(1, 12)); // and no check: the mismatch weighs more than its absence
    readings(reading_rows("K-1", positions(1, 12)));
    EXPECT_THAT(holds(), UnorderedElementsAre(Pair("reference-mismatch", 12)));
    EXPECT_THAT(first_hold_text(), HasSubstr("launch cord L has mpo-12 plugs, end A of the link is mpo-16"));
}

TEST_F(ReferenceCovers, AFaceThatNobodyStatedHoldsNothing)
{
    std::string kit = stated_kit;
    for (std::size_t at; (at = kit.find("face = \"flat\"\n")) != std::string::npos;) kit.erase(at, 14);
    for (bool const stated : {true, false}) {
        open_new(stated ? stated_kit : kit);
        schedule("N-1,OM4,50,mpo-12,12,B,angled\n");
        reference(positions(1, 12));
        check(positions(1, 12));
        readings(reading_rows("N-1", positions(1, 12)));
        EXPECT_THAT(holds(), UnorderedElementsAre(Pair(stated ? "reference-mismatch" : "none", 12)));
    }
}

TEST_F(ReferenceCovers, AlignedAdaptersAreToldAndAccepted)
{
    open_new(stated_kit);
    schedule("N-1,OM4,50,mpo-12,12,B,flat\n");
    reference(positions(1, 12));
    check(positions(1, 12), {850}, "C-1", true);
    EXPECT_THAT(ids(check_now()), Contains("cord-check.aligned-adapter"));
    EXPECT_EQ(check_now().state, "accepted with remarks");
}

TEST_F(ReferenceCovers, AdaptersThatNeitherKeyExplainsAreRefused)
{
    open_new(stated_kit);
    schedule("N-1,OM4,50,mpo-12,12,B,flat\n");
    reference(positions(1, 12));
    std::string text = "check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\n";
    for (int p = 1; p <= 12; ++p)
        text += fmt::format("C-1,R-1,{},{},850,0.1,2026-03-02T08:10:00Z\n", p, p == 3 ? 4 : p == 4 ? 3 : p);
    ASSERT_TRUE(job_->take_cord_check("check.csv", text, {}, "", false));
    EXPECT_EQ(check_now().state, "refused");
    EXPECT_THAT(ids(check_now()), Not(Contains("cord-check.aligned-adapter")));
}

} // namespace reference_cover_test
} // namespace guidepin::job
