// SPDX-License-Identifier: Apache-2.0
// References that the watch doubts, among the findings. Oracle: simulated sites whose truth is known.
#include "job/findings/doubt_findings.hpp"

#include "job/doubt/watch.hpp"
#include "job/findings/findings.hpp"
#include "simulated_job.hpp"

#include <algorithm>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace guidepin::job {
namespace doubt_findings_test {

using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::SizeIs;

struct Moved
{
    simulate::Site site;
    JobState state;
    Assessment assessment;
    std::string reference;

    Moved()
    {
        for (std::uint64_t seed = 5;; ++seed) {
            simulate::Design design;
            design.seed = seed;
            design.links = 240;
            design.faults = simulate::parse_wishes("reference-drift:1@0.25").value();
            site = simulate::simulate(design).value();
            if (site.truths.at(0).detail == "at once") break;
        }
        state = support::job_of(site);
        reference = site.references[static_cast<std::size_t>(site.truths[0].reference)].id;
        assessment = assess(state).value();
    }
    WatchedReference const& watched() const { return *assessment.watching->find(reference, state); }
    std::vector<cause::Finding> of_reference(std::vector<cause::Finding> const& all) const
    {
        std::vector<cause::Finding> found;
        std::copy_if(all.begin(), all.end(), std::back_inserter(found),
                     [&](cause::Finding const& f) { return f.reference == watched().name; });
        return found;
    }
};

TEST(DoubtFindings, a_drift_that_both_see_is_one_finding)
{
    Moved const moved;
    auto const all = findings_of(moved.state, moved.assessment);
    ASSERT_TRUE(all);
    std::vector<cause::Finding> findings;
    for (JobFinding const& entry : *all) findings.push_back(entry.finding);
    auto const found = moved.of_reference(findings);
    ASSERT_THAT(found, SizeIs(1));
    EXPECT_EQ(found[0].cause, cause::Cause::reference_drift);
    // One start and one size: the explanation tells the watch's.
    Doubt const& told = moved.watched().doubts.front();
    EXPECT_THAT(found[0].evidence, HasSubstr("under " + moved.reference));
    EXPECT_EQ(found[0].size_db, told.size_db);
    EXPECT_EQ(found[0].size_u_db, told.size_u_db);
    EXPECT_EQ(found[0].links.front(), moved.watched().tests[told.change.first_after].link);
    EXPECT_THAT(found[0].action, HasSubstr("again first"));
    EXPECT_GT(found[0].probability, 0.9);
    EXPECT_EQ(all->front().finding.id, found[0].id) << "what makes readings worthless comes first";
    EXPECT_STREQ(urgency_of(moved.assessment, all->front()), "must settle");
    // Without the explanation the same fault has the same id: an acknowledgement stays with it.
    std::vector<cause::Finding> alone;
    ASSERT_TRUE(add_doubts(moved.state, moved.assessment, alone));
    alone = moved.of_reference(alone);
    ASSERT_THAT(alone, SizeIs(1));
    EXPECT_EQ(alone[0].id, found[0].id);
    EXPECT_EQ(alone[0].cause, cause::Cause::reference_drift);
    EXPECT_NEAR(*alone[0].size_db, 0.25, 0.05);
    EXPECT_GT(alone[0].probability, 0.5);
    EXPECT_LT(alone[0].probability, 1);
    Doubt const& doubt = moved.watched().doubts.front();
    ASSERT_FALSE(alone[0].links.empty());
    EXPECT_EQ(alone[0].links.front(), moved.watched().tests[doubt.change.first_after].link);
    EXPECT_EQ(alone[0].links.size(), moved.watched().tests.size() - doubt.change.first_after);
    EXPECT_EQ(alone[0].since_ms, moved.watched().tests[doubt.change.first_after].at_ms);
}

TEST(DoubtFindings, what_a_decision_relies_on_is_no_doubt_of_the_watch)
{
    Moved moved;
    TrustDecision word;
    word.reference = moved.reference;
    word.reason = "a second meter agrees";
    word.person = "Test Lead";
    for (Doubt const& doubt : moved.watched().doubts)
        word.covers.push_back({doubt.kind, doubt.position, doubt.size_db});
    moved.state.trust_decisions.push_back(word);
    moved.assessment = assess(moved.state).value();
    std::vector<cause::Finding> alone;
    ASSERT_TRUE(add_doubts(moved.state, moved.assessment, alone));
    EXPECT_THAT(moved.of_reference(alone), IsEmpty());
    // What the explanation found of it stays, and tells who relies on it.
    auto const all = findings_of(moved.state, moved.assessment);
    ASSERT_TRUE(all);
    auto const drift = std::find_if(all->begin(), all->end(), [&](JobFinding const& entry) {
        return entry.finding.reference == moved.watched().name;
    });
    ASSERT_NE(drift, all->end());
    EXPECT_THAT(drift->finding.action, HasSubstr("Relied on by Test Lead"));
}

TEST(DoubtFindings, what_retests_cleared_is_no_finding)
{
    Moved const moved;
    for (WatchedReference& reference : moved.assessment.watching->references)
        for (Doubt& doubt : reference.doubts) doubt.held.clear();
    std::vector<cause::Finding> alone;
    ASSERT_TRUE(add_doubts(moved.state, moved.assessment, alone));
    EXPECT_THAT(alone, IsEmpty());
}

TEST(DoubtFindings, a_tail_cords_position_is_told_once)
{
    // Seeds that told positions of one fault at both ends, before the links' maps were asked.
    for (std::uint64_t const seed : {8002U, 8005U, 8007U, 8015U, 8019U, 8027U}) {
        simulate::Design design;
        design.seed = seed;
        design.links = 200;
        design.faults = simulate::parse_wishes("reference-fault,test-cord-position").value();
        simulate::Site const site = simulate::simulate(design).value();
        JobState const state = support::job_of(site);
        Assessment const assessment = assess(state).value();
        auto const all = findings_of(state, assessment);
        ASSERT_TRUE(all);
        auto const of_references = std::count_if(all->begin(), all->end(), [](JobFinding const& entry) {
            return entry.finding.reference != cause::none;
        });
        EXPECT_EQ(of_references, 2) << "seed " << seed;
    }
}

TEST(DoubtFindings, a_reference_half_a_decibel_too_low_is_not_called_healthy)
{
    // Seeds of sites with few references of a kind, which were passed over.
    for (std::uint64_t const seed : {8003U, 8017U}) {
        simulate::Design design;
        design.seed = seed;
        design.links = 200;
        design.faults = simulate::parse_wishes("reference-fault,test-cord-position").value();
        simulate::Site const site = simulate::simulate(design).value();
        JobState const state = support::job_of(site);
        Assessment const assessment = assess(state).value();
        auto const truth =
            std::find_if(site.truths.begin(), site.truths.end(), [](simulate::Truth const& one) {
                return one.fault == simulate::Fault::reference_fault;
            });
        ASSERT_NE(truth, site.truths.end());
        WatchedReference const* const watched =
            assessment.watching->find(site.references[static_cast<std::size_t>(truth->reference)].id, state);
        ASSERT_TRUE(watched);
        auto const level = std::find_if(watched->doubts.begin(), watched->doubts.end(),
                                        [](Doubt const& doubt) { return doubt.level.has_value(); });
        ASSERT_NE(level, watched->doubts.end()) << "seed " << seed;
        EXPECT_NEAR(level->size_db, truth->size_db, 0.1);
        EXPECT_EQ(level->held.size(), watched->tests.size());
    }
}

TEST(DoubtFindings, readings_lower_than_glass_are_a_fault_of_the_reference_at_that_position)
{
    simulate::Design design;
    design.seed = 2020;
    design.links = 120;
    JobState state = support::job_of(simulate::simulate(design).value());
    std::uint32_t const name = state.readings.references.find(state.references[1].id);
    for (std::size_t row = 0; row < state.readings.size(); ++row)
        if (state.readings.reference[row] == name && state.readings.position[row] == 3)
            state.readings.value[row] -= 0.6;
    Assessment const assessment = assess(state).value();
    std::vector<cause::Finding> alone;
    ASSERT_TRUE(add_doubts(state, assessment, alone));
    ASSERT_THAT(alone, SizeIs(1));
    EXPECT_EQ(alone[0].cause, cause::Cause::reference_fault);
    EXPECT_EQ(alone[0].positions, std::vector<int>{3});
    EXPECT_LT(*alone[0].size_db, 0);
    auto const all = findings_of(state, assessment);
    ASSERT_TRUE(all);
    auto const of_it = std::count_if(
        all->begin(), all->end(), [&](JobFinding const& entry) { return entry.finding.reference == name; });
    EXPECT_EQ(of_it, 1);
}

} // namespace doubt_findings_test
} // namespace guidepin::job
