// SPDX-License-Identifier: Apache-2.0
// Each reason for not supporting an application, and what must hold for any channel.
#include "verdict/applications.hpp"
#include "plant/presets.hpp"

#include <gmock/gmock.h>

namespace guidepin::verdict {
namespace applications_test {

facts::Tables const& tables()
{
    return facts::built_in_tables();
}

/// A flat OM4 trunk of a type between panels, 50 m, 1 dB everywhere, cords not included.
Channel trunk(char const* type = "B", char const* family = "mpo-12")
{
    Channel channel;
    channel.category = tables().category("OM4").value();
    channel.length = Metres{50};
    channel.family = plant::parse_family(family).value();
    channel.occupied = plant::all_positions(channel.family);
    channel.map = plant::cable_map(type, channel.family).value();
    for (int p = 1; p <= channel.family.positions(); ++p) channel.losses.push_back({p, 850, 1.0, 0.05});
    return channel;
}

ApplicationSupport ask(Channel const& channel, char const* name = "100GBASE-SR4")
{
    return application_support(*tables().application(name).value(), channel, tables());
}

SupportCheck const* check(ApplicationSupport const& answer, std::string const& topic)
{
    for (SupportCheck const& one : answer.checks) {
        if (one.topic == topic) return &one;
    }
    return nullptr;
}

TEST(Applications, OnlyUsedPositionsCount)
{
    Channel channel = trunk();
    channel.losses[5].db = 9; // position 6 carries no lane
    auto const answer = ask(channel);
    EXPECT_EQ(answer.support, Support::supported) << answer.reason;
    EXPECT_THAT(answer.positions, testing::ElementsAre(1, 2, 3, 4, 9, 10, 11, 12));
    channel.losses[3].db = 9;
    EXPECT_EQ(ask(channel).support, Support::not_supported);
    EXPECT_EQ(ask(channel).worst_position, 4);
}

TEST(Applications, PermanentLinksSayThatCordsComeOnTop)
{
    Channel channel = trunk();
    EXPECT_THAT(ask(channel).conditions, testing::Contains(testing::HasSubstr("come on top")));
    channel.added_by_cords = Decibel{0.95};
    auto const answer = ask(channel);
    EXPECT_EQ(answer.support, Support::not_supported);
    EXPECT_NEAR(answer.loss_margin_db, 1.9 - 1.95, 1e-12);
    channel.cords_included = true;
    EXPECT_EQ(ask(channel).support, Support::supported);
}

// In a job in feet with a decimal comma the sentences were in metres with a point.
TEST(Applications, SentencesAreInTheUnitsOfTheJob)
{
    Channel channel = trunk();
    channel.length = Metres{164};
    EXPECT_THAT(check(ask(channel), "length")->text, testing::HasSubstr("164 m is 64 m more than 100 m"));
    channel.writing = {',', true};
    // 164 m, 64 m and 100 m over 0.3048 m, to a tenth of a foot.
    EXPECT_THAT(check(ask(channel), "length")->text,
                testing::HasSubstr("538,1 ft is 210 ft more than 328,1 ft"));
    channel = trunk();
    channel.writing = {',', true};
    EXPECT_THAT(check(ask(channel), "loss")->text, testing::HasSubstr("1,00 dB"));
}

TEST(Applications, PolarityThroughCords)
{
    // A and B trunks are both made right by cords; pair flips cannot be for parallel ports.
    EXPECT_EQ(check(ask(trunk("A")), "polarity")->mark, Mark::pass);
    EXPECT_EQ(check(ask(trunk("B")), "polarity")->mark, Mark::pass);
    Channel channel = trunk("A");
    channel.cords_included = true; // port to port: Tx on Tx
    EXPECT_EQ(ask(channel).support, Support::not_supported);
    channel.map.reset();
    EXPECT_EQ(ask(channel).support, Support::cannot_be_said);
}

TEST(Applications, PermutedLanesAreForEthernetOnly)
{
    Channel channel = trunk("B");
    channel.cords_included = true;
    plant::PositionMap map;
    for (int p = 1; p <= 12; ++p) {
        int const q = p == 1 ? 2 : p == 2 ? 1 : p == 11 ? 12 : p == 12 ? 11 : p; // 1-2 and 11-12 exchanged
        map.connect(p, 13 - q);
    }
    channel.map = map;
    EXPECT_EQ(ask(channel, "100GBASE-SR4").support, Support::supported);
    auto const fibre_channel = ask(channel, "F128P");
    EXPECT_EQ(fibre_channel.support, Support::not_supported);
    EXPECT_EQ(check(fibre_channel, "polarity")->mark, Mark::fail);
}

TEST(Applications, WhatCannotBeSaid)
{
    Channel channel = trunk();
    channel.losses.pop_back(); // position 12
    auto answer = ask(channel);
    EXPECT_EQ(answer.support, Support::cannot_be_said);
    EXPECT_EQ(answer.reason, "Position 12 was not measured at 850 nm.");
    channel = trunk();
    for (FibreLoss& loss : channel.losses) loss.wavelength_nm = 1300;
    EXPECT_EQ(ask(channel).reason, "The loss was not measured at 850 nm.");
    channel = trunk();
    channel.losses.pop_back();
    channel.losses[0].db = 5; // beyond already: that is sure
    EXPECT_EQ(ask(channel).support, Support::not_supported);
}

TEST(Applications, FibresThatAreNotThere)
{
    Channel channel = trunk();
    channel.occupied.reset(10);
    auto const answer = ask(channel);
    EXPECT_EQ(answer.support, Support::not_supported);
    EXPECT_EQ(check(answer, "positions")->text,
              "100GBASE-SR4 uses 8 fibres; this link has none at position 11.");
    channel = trunk();
    channel.category = tables().category("OS2").value();
    EXPECT_EQ(ask(channel).reason, "100GBASE-SR4 has no row for OS2.");
}

TEST(Applications, MinimumLoss)
{
    Channel channel;
    channel.category = tables().category("OS2").value();
    channel.length = Metres{8000};
    channel.family = plant::parse_family("duplex-2").value();
    channel.occupied = plant::all_positions(channel.family);
    channel.map = plant::duplex_cord_map("A-to-B", 2).value();
    channel.cords_included = true;
    channel.reflectances_db = std::vector<double>{-40};
    channel.losses = {{1, 1550, 4.8, 0}, {2, 1550, 5.4, 0}};
    auto const answer = ask(channel, "10GBASE-ER");
    EXPECT_EQ(answer.support, Support::not_supported);
    EXPECT_EQ(check(answer, "minimum-loss")->text, "4.80 dB is less than the 5.00 dB that the receiver "
                                                   "needs: put in an attenuator of at least 0.20 dB.");
    channel.losses[0].db = 5.2;
    EXPECT_EQ(ask(channel, "10GBASE-ER").support, Support::supported);
}

TEST(Applications, DuplexPairsAreNamed)
{
    Channel channel = trunk();
    channel.family = plant::parse_family("duplex-12").value();
    plant::PositionMap map;
    for (int p = 1; p <= 12; ++p) map.connect(p, p % 2 ? p + 1 : p - 1);
    channel.map = map;
    channel.losses[6].db = 5; // pair 4
    auto const answer = ask(channel, "25GBASE-SR");
    EXPECT_EQ(answer.support, Support::not_supported);
    EXPECT_THAT(answer.pairs_supported, testing::ElementsAre(1, 2, 3, 5, 6));
    EXPECT_THAT(answer.pairs_other, testing::ElementsAre(4));
    // Uncrossed pairs need another cord at one end; a pair whose fibres part cannot be helped.
    channel.losses[6].db = 1;
    channel.map = plant::PositionMap::identity(channel.occupied);
    auto const straight = ask(channel, "25GBASE-SR");
    EXPECT_EQ(straight.support, Support::supported);
    EXPECT_THAT(straight.conditions, testing::Contains(testing::HasSubstr("A-to-A")));
    channel.cords_included = true;
    EXPECT_EQ(ask(channel, "25GBASE-SR").support, Support::not_supported);
}

TEST(Applications, FaceOfTheInterface)
{
    Channel channel = trunk();
    channel.face = plant::Face::angled;
    EXPECT_EQ(ask(channel, "100GBASE-SR4").support, Support::cannot_be_said);
    EXPECT_EQ(ask(channel, "400GBASE-SR4").support, Support::supported);
}

TEST(Applications, AngledMayStandForReflectance)
{
    Channel channel = trunk();
    channel.category = tables().category("OS2").value();
    channel.face = plant::Face::angled;
    for (FibreLoss& loss : channel.losses) loss.wavelength_nm = 1310;
    EXPECT_EQ(ask(channel, "400GBASE-DR4").support, Support::cannot_be_said);
    channel.angled_meets_reflectance = true;
    auto const answer = ask(channel, "400GBASE-DR4");
    EXPECT_EQ(answer.support, Support::supported);
    EXPECT_THAT(answer.conditions, testing::Contains(testing::HasSubstr("taken as below -55 dB")));
}

TEST(Applications, DisabledOnesOnlyWhereAskedFor)
{
    auto const usual = application_support(trunk(), tables());
    auto const all = application_support(trunk(), tables(), true);
    EXPECT_LT(usual.size(), all.size());
    EXPECT_EQ(all.size(), tables().applications.size());
    for (auto const& answer : usual) EXPECT_TRUE(answer.application->enabled);
    for (auto const& answer : all) EXPECT_FALSE(answer.reason.empty()) << answer.application->name;
}

TEST(Applications, TheListSaysWhatEachSaysByItself)
{
    for (char const* const type : {"A", "B", "C"}) {
        Channel const channel = trunk(type);
        for (auto const& answer : application_support(channel, tables(), true)) {
            auto const alone = application_support(*answer.application, channel, tables());
            EXPECT_EQ(answer.support, alone.support) << answer.application->name;
            EXPECT_EQ(answer.reason, alone.reason) << answer.application->name;
            EXPECT_EQ(answer.positions, alone.positions) << answer.application->name;
        }
    }
}

TEST(Applications, PositionsOfAnApplication)
{
    auto const family = plant::parse_family("mpo-12").value();
    auto const& sr4 = *tables().application("100GBASE-SR4").value();
    EXPECT_EQ(plant::occupancy_text(application_positions(sr4, family, tables())), "1-4,9-12");
    EXPECT_TRUE(application_positions(sr4, plant::parse_family("mpo-16").value(), tables()).none());
}

RC_GTEST_PROP(ApplicationsProperty, MoreLossOrLengthNeverHelps, ())
{
    char const* const family = *rc::gen::element("mpo-12", "mpo-16", "mpo-24");
    Channel channel = trunk(family == std::string_view{"mpo-24"} ? "I-B" : "B", family);
    channel.category = tables().category(*rc::gen::element("OM3", "OM4", "OM5")).value();
    for (FibreLoss& loss : channel.losses) loss.db = *rc::gen::inRange(0, 300) / 100.0;
    channel.length = Metres{*rc::gen::inRange(1, 200) * 1.0};
    auto const before = application_support(channel, tables(), true);
    for (FibreLoss& loss : channel.losses) loss.db += *rc::gen::inRange(0, 30) / 100.0;
    channel.length += Metres{*rc::gen::inRange(0, 40) * 1.0};
    auto const after = application_support(channel, tables(), true);
    for (std::size_t i = 0; i < before.size(); ++i) {
        if (after[i].application->minimum_loss) continue;
        RC_ASSERT(after[i].support != Support::supported || before[i].support == Support::supported);
        RC_ASSERT(before[i].support != Support::not_supported || after[i].support == Support::not_supported);
    }
}

RC_GTEST_PROP(ApplicationsProperty, AHigherCategoryNeverSupportsLess, ())
{
    Channel channel = trunk();
    for (FibreLoss& loss : channel.losses) loss.db = *rc::gen::inRange(0, 300) / 100.0;
    channel.length = Metres{*rc::gen::inRange(1, 200) * 1.0};
    auto const support = [&](char const* category) {
        channel.category = tables().category(category).value();
        return application_support(channel, tables());
    };
    auto const om3 = support("OM3");
    auto const om4 = support("OM4");
    auto const om5 = support("OM5");
    for (std::size_t i = 0; i < om3.size(); ++i) {
        RC_ASSERT(om3[i].support != Support::supported || om4[i].support == Support::supported);
        RC_ASSERT(om4[i].support != Support::supported || om5[i].support == Support::supported);
    }
}

} // namespace applications_test
} // namespace guidepin::verdict
