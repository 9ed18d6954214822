// SPDX-License-Identifier: Apache-2.0
// When the evidence of an acknowledged finding counts as changed. Oracles: cases by the rule's words; round
// trips.
#include "job/findings/findings.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::job {
namespace findings_test {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

Evidence sample()
{
    Evidence evidence;
    evidence.cause = "dirty-or-damaged-end-face";
    evidence.links = {"N-07"};
    evidence.positions = {5};
    evidence.size_db = 0.90;
    evidence.size_u_db = 0.03;
    evidence.likelihood = 2;
    return evidence;
}

TEST(Acknowledgement, TheSameEvidenceAsksNothing)
{
    EXPECT_THAT(changes_of(sample(), sample()), IsEmpty());
    Evidence other = sample();
    other.links = {"N-08", "N-07"};
    Evidence order = other;
    std::swap(order.links[0], order.links[1]);
    EXPECT_THAT(changes_of(other, order), IsEmpty());
}

TEST(Acknowledgement, EachChangeOfTheEvidenceIsTold)
{
    Evidence now = sample();
    now.links.push_back("N-08");
    EXPECT_THAT(changes_of(sample(), now), ElementsAre(HasSubstr("now names N-08")));
    EXPECT_THAT(changes_of(now, sample()), ElementsAre(HasSubstr("no longer names N-08")));
    now = sample();
    now.positions = {5, 6};
    EXPECT_THAT(changes_of(sample(), now), ElementsAre("positions were 5 and are 5, 6"));
    now = sample();
    now.cause = "broken-fibre";
    EXPECT_THAT(changes_of(sample(), now), ElementsAre(HasSubstr("broken-fibre")));
    now = sample();
    now.size_db.reset();
    EXPECT_THAT(changes_of(sample(), now), ElementsAre(HasSubstr("no size any more")));
}

TEST(Acknowledgement, ASizeMovesBeyondItsUncertainty)
{
    // u of the difference of two sizes of 0.03 dB is 0.03 * sqrt 2 = 0.0424 dB; twice that is 0.0849 dB.
    Evidence now = sample();
    now.size_db = 0.98;
    EXPECT_THAT(changes_of(sample(), now), IsEmpty());
    now.size_db = 0.99;
    EXPECT_THAT(changes_of(sample(), now), ElementsAre("its size was 0.90 dB and is 0.99 dB"));
    now.size_db = 0.81;
    EXPECT_THAT(changes_of(sample(), now), ElementsAre("its size was 0.90 dB and is 0.81 dB"));
    now.size_db = 0.82;
    EXPECT_THAT(changes_of(sample(), now), IsEmpty());
}

TEST(Acknowledgement, OnlyAHigherProbabilityAsksAgain)
{
    Evidence seen = sample(), now = sample();
    seen.likelihood = Evidence::class_of(0.7);
    now.likelihood = Evidence::class_of(0.93);
    EXPECT_THAT(changes_of(seen, now), ElementsAre("its probability was 50 to 90 % and is 90 % or more"));
    EXPECT_THAT(changes_of(now, seen), IsEmpty());
    EXPECT_EQ(Evidence::class_of(0.4999), 0);
    EXPECT_EQ(Evidence::class_of(0.5), 1);
    EXPECT_EQ(Evidence::class_of(0.9), 2);
}

TEST(Acknowledgement, WantsAReason)
{
    Acknowledgement acknowledged;
    acknowledged.finding = "0123456789abcdef";
    acknowledged.reason = " \n";
    EXPECT_FALSE(acknowledgement_body(acknowledged));
    acknowledged.reason = std::string(longest_reason + 1, 'x');
    EXPECT_FALSE(acknowledgement_body(acknowledged));
}

RC_GTEST_PROP(Acknowledgements, ComeBack, ())
{
    Acknowledgement acknowledged;
    acknowledged.finding = "0123456789abcdef";
    acknowledged.reason = "x" + *rc::gen::container<std::string>(rc::gen::inRange(' ', '~'));
    acknowledged.reason.resize(std::min(acknowledged.reason.size(), longest_reason));
    acknowledged.stands = *rc::gen::arbitrary<bool>();
    acknowledged.evidence = sample();
    acknowledged.evidence.likelihood = *rc::gen::inRange(0, 3);
    acknowledged.evidence.links =
        *rc::gen::container<std::vector<std::string>>(rc::gen::element<std::string>("A", "B", "C"));
    acknowledged.evidence.positions = *rc::gen::container<std::vector<int>>(rc::gen::inRange(1, 33));
    acknowledged.evidence.size_db = *rc::gen::inRange(-9000, 9000) / 1000.0;
    auto const body = acknowledgement_body(acknowledged);
    RC_ASSERT(body.has_value());
    auto const back = acknowledgement_of(*body);
    RC_ASSERT(back.has_value());
    RC_ASSERT(back->reason == acknowledged.reason && back->stands == acknowledged.stands);
    RC_ASSERT(back->finding == acknowledged.finding);
    RC_ASSERT(back->evidence.links == acknowledged.evidence.links);
    RC_ASSERT(back->evidence.positions == acknowledged.evidence.positions);
    // What was kept and read back is the same evidence.
    RC_ASSERT(changes_of(back->evidence, acknowledged.evidence).empty());
}

TEST(FindingNamed, ByItsIdOrItsFirstDigits)
{
    std::vector<JobFinding> findings(2);
    findings[0].finding.id = "abcd000000000000";
    findings[1].finding.id = "abcd111111111111";
    EXPECT_EQ(finding_named(findings, "abcd1").value(), &findings[1]);
    EXPECT_EQ(finding_named(findings, "abcd000000000000").value(), &findings[0]);
    EXPECT_EQ(finding_named(findings, "abcd").error().code, Errc::conflict);
    EXPECT_EQ(finding_named(findings, "abc").error().code, Errc::usage);
    EXPECT_EQ(finding_named(findings, "ffff").error().code, Errc::not_found);
}

} // namespace findings_test
} // namespace guidepin::job
