// SPDX-License-Identifier: Apache-2.0
// Predictions as people ask for them. Oracles: worked values of sums on grade B (scipy 1.10, tolerance half a
// unit of the last printed place); the limit of loss::limit_value; the simulation within four standard
// errors; monotony as a property. Planning answers: tests/oracle/job/planning.cpp.
#include "job/assess/predict.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

namespace guidepin::job {
namespace predict_test {

using ::testing::HasSubstr;

PlannedLink link_of(char const* category, int inner, int fibres = 12)
{
    PlannedLink link;
    link.category = facts::built_in_tables().category(category).value();
    link.wavelength = Nanometres{link.category->kind == facts::FibreKind::multimode ? 850 : 1310};
    link.inner = inner;
    link.fibres = fibres;
    return link;
}

PredictWish wish_of(double limit_db = 0)
{
    PredictWish wish;
    wish.rules = facts::built_in_tables().rule_set("tia-568.3-e").value();
    if (limit_db > 0) wish.limit = Decibel{limit_db};
    return wish;
}

TEST(Predict, FourConnectionsOfGradeB)
{
    // Mean .480, sd .1160; above .75 dB: .01909; of 12-fibre links .2065 have a fibre above; 95 % of them
    // stay within .840.
    auto const found = predict_link(link_of("OS2", 2), wish_of(0.75));
    ASSERT_TRUE(found.has_value()) << found.error().message;
    EXPECT_EQ(found->route, "closed form");
    EXPECT_NEAR(found->mean_db, .480, 5e-4);
    EXPECT_NEAR(found->sd_db, .1160, 5e-5);
    EXPECT_NEAR(1 - found->chance_fibre, .01909, 5.1e-6);
    EXPECT_NEAR(1 - found->chance_link, .2065, 1e-4);
    EXPECT_NEAR(found->worst_quantiles_db[1], .840, 5e-4);
    EXPECT_NEAR(found->fibre_quantiles_db[1], .685, 5.1e-4);
}

TEST(Predict, TheLimitIsThatOfTheRuleSetUnlessGiven)
{
    PlannedLink link = link_of("OM4", 1);
    link.length = Metres{100};
    link.splices = 1;
    link.method = setup::ReferenceMethod::two_cord;
    PredictWish const wish = wish_of();
    auto const found = predict_link(link, wish);
    ASSERT_TRUE(found.has_value()) << found.error().message;
    loss::LimitQuestion const question{.rules = wish.rules,
                                       .category = link.category,
                                       .wavelength = link.wavelength,
                                       .length = link.length,
                                       .ends = 2,
                                       .method = link.method,
                                       .cords = link.cords,
                                       .inner = 1,
                                       .splices = 1};
    EXPECT_EQ(found->limit.value(), loss::limit_value(question).value().value());
    // Mean: 0.8 of 3 dB/km over 100 m, 3 connections Bm of .3, a splice of half of .3, less a joint of half
    // of .1.
    EXPECT_NEAR(found->mean_db, .24 + 3 * .3 + .15 - .05, 1e-6);
    EXPECT_NEAR(found->fibre_db, .24, 1e-12);
    EXPECT_EQ(found->populations.size(), 4U);
    EXPECT_TRUE(found->populations[3].in_reference);
    EXPECT_EQ(predict_link(link, wish_of(1.25))->limit.value(), 1.25);
}

TEST(Predict, TheSimulationAgreesWithinItsError)
{
    PlannedLink link = link_of("OS2", 2);
    link.splices = 2;
    link.length = Metres{400};
    PredictWish wish = wish_of(0.85);
    wish.draws = 100'000;
    wish.seed = 20260302;
    auto const found = predict_link(link, wish);
    ASSERT_TRUE(found.has_value() && found->drawn);
    double const draws = 1e5;
    EXPECT_NEAR(found->drawn->mean_db, found->mean_db, 4 * found->sd_db / std::sqrt(draws));
    EXPECT_NEAR(found->drawn->chance_fibre, found->chance_fibre, 4 * found->drawn->chance_fibre_u);
    EXPECT_GT(found->drawn->chance_fibre_u, 0);
    auto const again = predict_link(link, wish);
    EXPECT_EQ(again->drawn->quantiles_db, found->drawn->quantiles_db) << "same seed, same numbers";
    wish.seed = 7;
    EXPECT_NE(predict_link(link, wish)->drawn->quantiles_db, found->drawn->quantiles_db);
}

RC_GTEST_PROP(Predict, MoreOfAnythingIsLessLikelyToPass, ())
{
    PlannedLink link = link_of("OS2", *rc::gen::inRange(0, 6), *rc::gen::inRange(1, 24));
    link.length = Metres{static_cast<double>(*rc::gen::inRange(0, 2000))};
    link.splices = *rc::gen::inRange(0, 3);
    PredictWish const wish = wish_of(*rc::gen::inRange(2, 30) / 10.0);
    double const before = predict_link(link, wish)->chance_link;
    switch (*rc::gen::inRange(0, 4)) {
    case 0:
        ++link.inner;
        break;
    case 1:
        link.length = link.length + Metres{100};
        break;
    case 2:
        ++link.splices;
        break;
    default:
        ++link.fibres;
        break;
    }
    // Cells of the grid move a probability by some 1e-5.
    RC_ASSERT(predict_link(link, wish)->chance_link <= before + 3e-5);
}

TEST(Predict, AnAnswerIsTheLastThatHolds)
{
    PlannedLink link = link_of("OS2", 0);
    PredictWish const wish = wish_of(2);
    auto const answer = connections_within(link, wish, Decibel{2}, 0.95);
    ASSERT_TRUE(answer.has_value() && answer->any);
    EXPECT_GE(answer->yield, 0.95);
    EXPECT_LT(answer->yield_beyond, 0.95);
    link.inner = answer->connections;
    EXPECT_NEAR(predict_link(link, wish)->chance_link, answer->yield, 1e-12);
    auto const none = connections_within(link, wish, Decibel{0.05}, 0.95);
    ASSERT_TRUE(none.has_value());
    EXPECT_FALSE(none->any);
    auto const endless = length_within(
        link_of("OS2", 0),
        [] {
            PredictWish free = wish_of(50);
            free.fibre_db_per_km = 0;
            return free;
        }(),
        Decibel{50}, 0.95);
    ASSERT_TRUE(endless.has_value());
    EXPECT_TRUE(endless->at_the_end);
    EXPECT_FALSE(connections_within(link, wish, Decibel{2}, 1.0).has_value());
}

TEST(Predict, WhatDoesNotHoldIsNamed)
{
    PredictWish wish = wish_of(1);
    wish.grade = "Bm";
    auto const wrong = predict_link(link_of("OS2", 1), wish);
    ASSERT_FALSE(wrong.has_value());
    EXPECT_THAT(wrong.error().message, HasSubstr("there are A, B, C, D"));
    wish = wish_of(1);
    wish.splice = GivenPopulation{0.1, 0.9};
    PlannedLink link = link_of("OS2", 1);
    link.splices = 1;
    EXPECT_FALSE(predict_link(link, wish).has_value()) << "no gamma has these two";
    link.wavelength = Nanometres{850};
    EXPECT_THAT(predict_link(link, wish_of()).error().message, HasSubstr("OS2 at 850 nm"));
    link = link_of("OS2", 1, 0);
    EXPECT_FALSE(predict_link(link, wish_of()).has_value());
}

} // namespace predict_test
} // namespace guidepin::job
