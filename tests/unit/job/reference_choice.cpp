// SPDX-License-Identifier: Apache-2.0
// Which reference suits a link. Oracle: the simulator, which shares no code with it, measured each link under
// a reference that suits it, and says of what plug and glass every reference is.
#include "job/reference_choice.hpp"

#include "simulated_job.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

namespace guidepin::job {
namespace {

using ::testing::HasSubstr;

simulate::Site site()
{
    simulate::Design design;
    design.seed = 2050;
    design.links = 300;
    return simulate::simulate(design).value();
}

TEST(ReferenceChoice, SuitsWhatItsPlugAndGlassAreOf)
{
    auto const simulated = site();
    JobState const state = support::job_of(simulated);
    std::size_t suited = 0;
    for (plant::LinkSpec const& link : state.links) {
        bool const multimode = link.category.starts_with("OM");
        for (std::size_t i = 0; i < state.references.size(); ++i) {
            simulate::Reference const& reference = simulated.references[i];
            bool const right = (reference.kind == facts::FibreKind::multimode) == multimode &&
                               reference.family == link.family.name();
            EXPECT_EQ(!why_unsuited(state, state.references[i], link), right)
                << link.id << " under " << reference.id;
            suited += right ? 1 : 0;
        }
    }
    EXPECT_GT(suited, 300U);
}

TEST(ReferenceChoice, SaysWhyNot)
{
    JobState state = support::job_of(site());
    plant::LinkSpec link = state.links.front();
    link.category = "OS2";
    link.family = plant::parse_family("mpo-12").value();
    link.face = plant::Face::angled;
    ReferenceEntry reference;
    reference.id = "R-X";
    reference.wavelength_nm = {850, 1300};
    EXPECT_THAT(why_unsuited(state, reference, link).value_or(""), HasSubstr("no power at 1310 nm"));
    reference.wavelength_nm = {1310, 1550};
    EXPECT_FALSE(why_unsuited(state, reference, link)) << "of cords that are not known nothing is said";
    Cord cord;
    cord.id = "L-X";
    cord.family = "mpo-16";
    state.cords.push_back(cord);
    reference.kit.launch = "L-X";
    EXPECT_THAT(why_unsuited(state, reference, link).value_or(""), HasSubstr("mpo-16"));
    state.cords.back().family = "mpo-12";
    EXPECT_THAT(why_unsuited(state, reference, link).value_or(""), HasSubstr("flat"));
    state.cords.back().face = plant::Face::angled;
    EXPECT_FALSE(why_unsuited(state, reference, link));
    // Single plugs are met through a fan-out, whose other end is an array.
    link.family = plant::parse_family("duplex-12").value();
    EXPECT_FALSE(why_unsuited(state, reference, link));
    link.family = plant::parse_family("duplex-24").value();
    EXPECT_THAT(why_unsuited(state, reference, link).value_or(""), HasSubstr("12 positions"));
}

TEST(ReferenceChoice, InForceFirstThenWhatLinksLikeItWereMeasuredUnder)
{
    JobState const state = [] {
        JobState made = support::job_of(site());
        for (std::uint32_t row = 0; row < made.readings.size(); ++row) {
            if (row > 0 && made.readings.link[row] == made.readings.link[row - 1]) continue;
            made.tests.push_back({made.readings.links.text(made.readings.link[row]),
                                  "S",
                                  static_cast<std::int64_t>(made.tests.size() + 1),
                                  {},
                                  {},
                                  row,
                                  1});
        }
        return made;
    }();
    Assessment const assessment = assess(state).value();
    for (std::size_t link = 0; link < state.scheduled(); link += 17) {
        // At the time of its own test its own reference is in force.
        std::uint32_t const row = state.tests[assessment.last_test[link]].first_row;
        std::string const& own = state.readings.references.text(state.readings.reference[row]);
        auto const offers =
            references_for(state, assessment, state.links[link], {state.readings.taken_ms[row], 0});
        ASSERT_FALSE(offers.empty());
        EXPECT_EQ(offers.front().now.condition, ReferenceCondition::in_force);
        EXPECT_TRUE(std::any_of(offers.begin(), offers.end(), [&](auto const& offer) {
            return offer.id == own && offer.now.condition == ReferenceCondition::in_force;
        })) << own;
        for (std::size_t i = 1; i < offers.size(); ++i) {
            bool const before = offers[i - 1].now.condition == ReferenceCondition::in_force;
            bool const here = offers[i].now.condition == ReferenceCondition::in_force;
            EXPECT_TRUE(before || !here) << offers[i].id;
            if (before == here && (offers[i - 1].like_it > 0) == (offers[i].like_it > 0)) {
                EXPECT_GE(offers[i - 1].now.taken.ms, offers[i].now.taken.ms);
            }
        }
    }
}

} // namespace
} // namespace guidepin::job
