// SPDX-License-Identifier: Apache-2.0
// Oracles: eight channels worked by hand from the published rows of IEEE 802.3 (clauses 52, 86, 95, 112, 121,
// 124, 138, 140, 150, 167), FC-PI-5 and FC-PI-6. Limits seen in public material or, where the tables say so,
// from memory. The arithmetic is exact to the digits given; margins to 1e-9.
#include "verdict/applications.hpp"
#include "plant/presets.hpp"

#include <algorithm>

#include <gmock/gmock.h>

namespace guidepin::verdict {
namespace applications_test {

facts::Tables const& tables()
{
    return facts::built_in_tables();
}

Channel channel(char const* category, double metres, double db, char const* family, plant::Face face,
                int wavelength)
{
    Channel channel;
    channel.category = tables().category(category).value();
    channel.length = Metres{metres};
    channel.family = plant::parse_family(family).value();
    channel.face = face;
    channel.occupied = plant::all_positions(channel.family);
    channel.cords_included = true;
    plant::PositionMap map;
    int const n = channel.family.positions();
    for (int p = 1; p <= n; ++p) {
        bool const duplex = channel.family.key == plant::Family::Key::duplex;
        map.connect(p, duplex ? (p % 2 ? p + 1 : p - 1) : n + 1 - p);
        // The worst used fibre has the figure of the example, the others less.
        channel.losses.push_back({p, wavelength, p == 1 ? db : db - 0.1, 0});
    }
    channel.map = map;
    return channel;
}

ApplicationSupport ask(Channel const& channel, char const* name)
{
    return application_support(*tables().application(name).value(), channel, tables());
}

void expect(ApplicationSupport const& answer, Support support, double metres, double db)
{
    EXPECT_EQ(answer.support, support) << answer.application->name << ": " << answer.reason;
    EXPECT_NEAR(answer.length_margin_m, metres, 1e-9) << answer.application->name;
    EXPECT_NEAR(answer.loss_margin_db, db, 1e-9) << answer.application->name;
}

SupportCheck const* failed(ApplicationSupport const& answer, std::string const& topic)
{
    for (SupportCheck const& check : answer.checks) {
        if (check.topic == topic && check.mark != Mark::pass) return &check;
    }
    return nullptr;
}

TEST(ApplicationsOracle, W1_Om4Mpo12Flat)
{
    Channel const c = channel("OM4", 85, 1.62, "mpo-12", plant::Face::flat, 850);
    expect(ask(c, "100GBASE-SR4"), Support::supported, 15, 0.28);
    auto const sr4 = ask(c, "40GBASE-SR4");
    expect(sr4, Support::supported, 15, 0.28);
    EXPECT_EQ(sr4.row, "OM3"); // the OM4 row fails by 0.12 dB
    auto const angled = ask(c, "400GBASE-SR4");
    expect(angled, Support::cannot_be_said, 15, 0.18);
    ASSERT_NE(failed(angled, "face"), nullptr);
    EXPECT_EQ(failed(angled, "loss"), nullptr);
    EXPECT_EQ(failed(angled, "length"), nullptr);
}

TEST(ApplicationsOracle, W2_Om3)
{
    Channel const c = channel("OM3", 92, 1.40, "mpo-12", plant::Face::flat, 850);
    expect(ask(c, "40GBASE-SR4"), Support::supported, 8, 0.50);
    auto const sr4 = ask(c, "100GBASE-SR4");
    expect(sr4, Support::not_supported, -22, 0.40);
    EXPECT_NE(failed(sr4, "length"), nullptr);
    EXPECT_EQ(failed(sr4, "loss"), nullptr);
    auto const vr4 = ask(c, "400GBASE-VR4");
    EXPECT_EQ(vr4.support, Support::not_supported);
    EXPECT_NEAR(vr4.length_margin_m, -62, 1e-9);
}

TEST(ApplicationsOracle, W3_NoRowMeetsBoth)
{
    Channel const c = channel("OM4", 140, 1.62, "mpo-12", plant::Face::flat, 850);
    auto const sr4 = ask(c, "40GBASE-SR4");
    EXPECT_EQ(sr4.support, Support::not_supported);
    // OM4: loss fails by 0.12 dB; OM3: 40 m too long.
    std::vector<std::string> texts;
    for (auto const& check : sr4.checks) {
        if (check.mark == Mark::fail) texts.push_back(check.text);
    }
    EXPECT_THAT(texts, testing::Contains("OM4 row: 1.62 dB at position 1 is 0.12 dB more than 1.50 dB."));
    EXPECT_THAT(texts, testing::Contains("OM3 row: 140 m is 40 m more than 100 m."));
    auto const sr = ask(c, "10GBASE-SR");
    expect(sr, Support::supported, 260, 1.28);
    EXPECT_THAT(sr.conditions, testing::Contains(testing::HasSubstr("one pair")));
}

TEST(ApplicationsOracle, W4_Os2Angled)
{
    Channel c = channel("OS2", 480, 2.91, "mpo-12", plant::Face::angled, 1310);
    c.reflectances_db = std::vector<double>{-58, -60, -61, -58};
    expect(ask(c, "400GBASE-DR4"), Support::supported, 20, 0.09);
    expect(ask(c, "400GBASE-DR4-2"), Support::supported, 1520, 1.09);
    auto const dr8 = ask(c, "800GBASE-DR8");
    EXPECT_EQ(dr8.support, Support::not_supported);
    EXPECT_NE(failed(dr8, "connector"), nullptr);
    // One reflectance above -55 dB: the cells of the tables are not known. Above -35 dB: fails outright.
    c.reflectances_db->push_back(-50);
    EXPECT_EQ(ask(c, "400GBASE-DR4").support, Support::cannot_be_said);
    c.reflectances_db->push_back(-34);
    EXPECT_EQ(ask(c, "400GBASE-DR4").support, Support::not_supported);
    c.reflectances_db.reset();
    auto const unmeasured = ask(c, "400GBASE-DR4");
    EXPECT_EQ(unmeasured.support, Support::cannot_be_said);
    EXPECT_NE(failed(unmeasured, "reflectance"), nullptr);
}

TEST(ApplicationsOracle, W5_ReflectancesByCount)
{
    Channel c = channel("OS2", 1850, 3.62, "duplex-2", plant::Face::flat, 1310);
    c.reflectances_db = std::vector<double>{-36, -40, -45, -50, -54, -52};
    auto const fr1 = ask(c, "100GBASE-FR1");
    expect(fr1, Support::not_supported, 150, 0.38);
    EXPECT_NE(failed(fr1, "reflectance"), nullptr);
    expect(ask(c, "100GBASE-LR1"), Support::supported, 8150, 2.68);
    auto const dr = ask(c, "100GBASE-DR");
    EXPECT_EQ(dr.support, Support::not_supported);
    EXPECT_NEAR(dr.length_margin_m, -1350, 1e-9);
    c.reflectances_db->front() = -39;
    expect(ask(c, "100GBASE-FR1"), Support::supported, 150, 0.38);
}

TEST(ApplicationsOracle, W6_Mpo16)
{
    Channel const c = channel("OM4", 62, 1.55, "mpo-16", plant::Face::angled, 850);
    expect(ask(c, "800GBASE-SR8"), Support::supported, 38, 0.25);
    expect(ask(c, "800GBASE-VR8"), Support::not_supported, -12, 0.15);
    expect(ask(c, "400GBASE-SR8"), Support::supported, 38, 0.35);
}

TEST(ApplicationsOracle, W7_Om5)
{
    Channel c = channel("OM5", 130, 1.88, "mpo-12", plant::Face::flat, 850);
    expect(ask(c, "400GBASE-SR4.2"), Support::supported, 20, 0.12);
    auto const sr4 = ask(c, "200GBASE-SR4");
    EXPECT_EQ(sr4.support, Support::not_supported);
    EXPECT_NE(failed(sr4, "length"), nullptr);
    EXPECT_EQ(ask(c, "40GBASE-SR4").support, Support::not_supported);
    c.category = tables().category("OM4").value();
    EXPECT_EQ(ask(c, "400GBASE-SR4.2").support, Support::not_supported);
}

TEST(ApplicationsOracle, W8_DuplexAndNoRounding)
{
    Channel c = channel("OM3", 68, 1.79, "duplex-2", plant::Face::flat, 850);
    for (FibreLoss& loss : c.losses) loss.u_db = 0.1;
    expect(ask(c, "32GFC"), Support::not_supported, 2, -0.04);
    expect(ask(c, "16GFC"), Support::supported, 32, 0.07);
    auto const sr = ask(c, "25GBASE-SR");
    expect(sr, Support::supported, 2, 0.01);
    EXPECT_TRUE(sr.marginal);
    auto const sr1 = ask(c, "100GBASE-SR1");
    EXPECT_EQ(sr1.support, Support::not_supported);
    EXPECT_NE(failed(sr1, "length"), nullptr);
    EXPECT_NE(failed(sr1, "loss"), nullptr);
}

} // namespace applications_test
} // namespace guidepin::verdict
