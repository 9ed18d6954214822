// SPDX-License-Identifier: Apache-2.0
// Which reference suits a link. Oracle: the simulator, which shares no code with it, measured each link under
// a reference that suits it, and says of what plug and glass every reference is.
#include "job/assess/reference_choice.hpp"

#include "simulated_job.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

namespace guidepin::job {
namespace reference_choice_test {

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
    Assessment const assessment = assess(state).value();
    std::size_t suited = 0;
    for (std::size_t i = 0; i < state.scheduled(); ++i) {
        plant::LinkSpec const& link = state.links[i];
        bool const multimode = link.category.starts_with("OM");
        for (std::size_t r = 0; r < state.references.size(); ++r) {
            simulate::Reference const& reference = simulated.references[r];
            bool const right = (reference.kind == facts::FibreKind::multimode) == multimode &&
                               reference.family == link.family.name();
            EXPECT_EQ(!why_unsuited(state, assessment, state.references[r], i), right)
                << link.id << " under " << reference.id;
            suited += right ? 1 : 0;
        }
    }
    EXPECT_GT(suited, 300U);
}

TEST(ReferenceChoice, SaysWhyNot)
{
    JobState state = support::job_of(site());
    Assessment const assessment = assess(state).value();
    std::size_t angled = 0;
    while (state.links[angled].family.name() != "mpo-12" || state.links[angled].face != plant::Face::angled)
        ++angled;
    ReferenceEntry reference;
    reference.id = "R-X";
    auto const why = [&] { return why_unsuited(state, assessment, reference, angled).value_or(""); };
    auto const powers = [&](std::vector<std::uint16_t> const& wavelengths) {
        reference.position.clear();
        reference.wavelength_nm.clear();
        for (std::uint16_t const nm : wavelengths) {
            reference.position.push_back(1);
            reference.wavelength_nm.push_back(nm);
        }
    };
    powers({850, 1300});
    EXPECT_THAT(why(), HasSubstr("no power at 1310 nm"));
    powers({1310, 1550});
    EXPECT_EQ(why(), "") << "of cords that are not known nothing is said";
    Cord cord;
    cord.id = "L-X";
    cord.family = "mpo-16";
    cord.face = plant::Face::angled;
    cord.ends_stated = true;
    state.cords.push_back(cord);
    reference.kit.launch = "L-X";
    EXPECT_THAT(why(), HasSubstr("mpo-16"));
    state.cords.back().family = "mpo-12";
    EXPECT_EQ(why(), "");
    state.cords.back().face = plant::Face::flat;
    EXPECT_THAT(why(), HasSubstr("flat"));
    state.cords.back().ends_stated = false;
    EXPECT_EQ(why(), "") << "what nobody stated speaks against nothing";
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
        auto const offers = references_for(state, assessment, link, {state.readings.taken_ms[row], 0});
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

} // namespace reference_choice_test
} // namespace guidepin::job
