// SPDX-License-Identifier: Apache-2.0
// Oracle: the limits are those of common practice as listed in data/readiness.toml (power window -30 to -15
// dBm multimode, -15 to +3 dBm single-mode; spread 1 and 2 dB; drift 0.1 dB; age 8 and 24 h; warm-up 5 and 20
// min), written out here and probed on both sides. Mean and pooled standard deviation: closed forms worked by
// hand, s^2 = sum of squares / sum of (n - 1) (ISO 5725-2:1994, 7.4).
#include "verdict/reference.hpp"

#include <algorithm>
#include <random>

namespace guidepin::verdict {
namespace reference_test {

Instant hour(double h)
{
    return Instant{std::int64_t{1'772'438'400'000} + static_cast<std::int64_t>(h * 3'600'000.0), 60};
}

std::vector<ReferencePower> even(double dbm, int positions = 12, int nm = 850)
{
    std::vector<ReferencePower> powers;
    for (int p = 1; p <= positions; ++p) powers.push_back({p, Nanometres{nm}, Dbm{dbm}, hour(0)});
    return powers;
}

ReferenceQuestion question(std::span<ReferencePower const> powers)
{
    auto const good = [](char const* role, char const* id, bool calibrated) {
        return ItemUsed{role, id, true, calibrated, calibrated ? std::optional{hour(2400)} : std::nullopt};
    };
    return ReferenceQuestion{.id = "R1",
                             .powers = powers,
                             .wavelengths = {Nanometres{850}},
                             .occupied = plant::Occupancy{0xfff},
                             .kind = facts::FibreKind::multimode,
                             .source = good("source", "S-1", true),
                             .meter = good("meter", "M-1", true),
                             .cords = {good("launch cord", "C-1", false)},
                             .warm_up_minutes = 20,
                             .warm_up_by_maker_minutes = {},
                             .taken = {},
                             .at = hour(1),
                             .max_age_hours = {},
                             .earlier = {},
                             .tables = &facts::built_in_tables()};
}

ReferenceAssessment checked(ReferenceQuestion const& q)
{
    auto result = check_reference(q);
    EXPECT_TRUE(result.has_value());
    return std::move(*result);
}

std::string told(ReferenceAssessment const& a)
{
    std::string text;
    for (auto const& reason : a.reasons) {
        EXPECT_FALSE(reason.text.empty());
        EXPECT_FALSE(reason.what_to_do.empty());
        EXPECT_EQ(reason.fact.empty(), !reason.basis.has_value());
        text +=
            std::string{reason.severity == Severity::refuse ? "refuse" : "remark"} + ":" + reason.id + " ";
    }
    return text;
}

TEST(Reference, GoodOneIsAccepted)
{
    auto const powers = even(-21.5);
    auto const a = checked(question(powers));
    EXPECT_EQ(told(a), "");
    EXPECT_EQ(a.state, Acceptance::accepted);
    ASSERT_EQ(a.rows.size(), 1u);
    EXPECT_EQ(a.rows[0].fibres, 12);
    EXPECT_EQ(a.rows[0].mean.value(), -21.5);
    EXPECT_FALSE(a.rows[0].repeatability.has_value());
    EXPECT_EQ(a.taken, hour(0));
}

TEST(Reference, EachMissingPositionIsNamed)
{
    auto powers = even(-21.5);
    powers.erase(powers.begin() + 4);
    powers[7].power = Dbm{std::numeric_limits<double>::quiet_NaN()};
    powers.push_back({13, Nanometres{850}, Dbm{-21.5}, hour(0)});
    auto q = question(powers);
    q.wavelengths.push_back(Nanometres{1300});
    auto const a = checked(q);
    EXPECT_EQ(
        told(a),
        "refuse:reference.incomplete refuse:reference.incomplete remark:reference.position-unexpected ");
    EXPECT_EQ(a.state, Acceptance::refused);
    EXPECT_NE(a.reasons[0].text.find("850 nm for 2 of 12 positions: 5,9"), std::string::npos)
        << a.reasons[0].text;
    EXPECT_NE(a.reasons[1].text.find("1300 nm for 12 of 12"), std::string::npos);
}

TEST(Reference, PowerWindow)
{
    struct Row
    {
        facts::FibreKind kind;
        double dbm;
        char const* told;
    };
    using enum facts::FibreKind;
    for (auto const& row :
         {Row{multimode, -30, ""}, Row{multimode, -30.01, "refuse:reference.power-low "},
          Row{multimode, -15, ""}, Row{multimode, -14.99, "refuse:reference.power-high "},
          Row{single_mode, -15, ""}, Row{single_mode, -15.01, "refuse:reference.power-low "},
          Row{single_mode, 3, ""}, Row{single_mode, 3.01, "refuse:reference.power-high "}}) {
        auto const powers = even(row.dbm);
        auto q = question(powers);
        q.kind = row.kind;
        auto const a = checked(q);
        EXPECT_EQ(told(a), row.told) << row.dbm;
        if (!a.reasons.empty()) {
            EXPECT_EQ(a.reasons[0].basis, facts::Basis::memory);
        }
    }
}

TEST(Reference, SpreadOverTheRow)
{
    for (auto const& [spread, text] :
         {std::pair{1.0, ""}, std::pair{1.01, "remark:reference.spread "},
          std::pair{2.0, "remark:reference.spread "}, std::pair{2.01, "refuse:reference.spread "}}) {
        auto powers = even(-20.3);
        powers[6].power = Dbm{-20.3 - spread};
        auto const a = checked(question(powers));
        EXPECT_EQ(told(a), text) << spread;
        EXPECT_EQ(a.rows[0].lowest_position, 7);
        EXPECT_NEAR(a.rows[0].spread.value(), spread, 1e-12);
    }
}

TEST(Reference, WavelengthThatIsNotRequiredOnlyRemarks)
{
    auto powers = even(-20);
    auto const weak = even(-40, 12, 1300);
    powers.insert(powers.end(), weak.begin(), weak.end());
    auto const a = checked(question(powers));
    EXPECT_EQ(told(a), "remark:reference.power-low ");
    EXPECT_EQ(a.state, Acceptance::accepted_with_remarks);
}

TEST(Reference, RepeatabilityIsPooled)
{
    // Position 1: -20.00, -20.06, -20.03: squares 0.0018 with 2 degrees; position 2: -20.00, -20.02: 0.0002
    // with 1. s = sqrt(0.0020 / 3) = 0.025820.
    auto powers = even(-20);
    powers.push_back({1, Nanometres{850}, Dbm{-20.06}, hour(0)});
    powers.push_back({1, Nanometres{850}, Dbm{-20.03}, hour(0)});
    powers.push_back({2, Nanometres{850}, Dbm{-20.02}, hour(0)});
    auto const a = checked(question(powers));
    ASSERT_TRUE(a.rows[0].repeatability.has_value());
    EXPECT_NEAR(a.rows[0].repeatability->value(), 0.025820, 5e-7);
    EXPECT_EQ(a.rows[0].widest_position, 1);
    EXPECT_NEAR(a.rows[0].widest.value(), 0.06, 1e-12);
    EXPECT_NEAR(a.rows[0].mean.value(), (-20.03 - 20.01 - 200) / 12, 1e-12);
    EXPECT_EQ(told(a), "");
    powers.push_back({3, Nanometres{850}, Dbm{-20.10}, hour(0)});
    EXPECT_EQ(told(checked(question(powers))), "");
    powers.back().power = Dbm{-20.11};
    EXPECT_EQ(told(checked(question(powers))), "refuse:reference.not-repeatable ");
}

TEST(Reference, Age)
{
    auto const powers = even(-20);
    for (auto const& [h, text] :
         {std::pair{8.0, ""}, std::pair{8.1, "remark:reference.old "},
          std::pair{24.0, "remark:reference.old "}, std::pair{24.1, "refuse:reference.too-old "},
          std::pair{-0.1, "refuse:reference.later-than-use "}}) {
        auto q = question(powers);
        q.at = hour(h);
        EXPECT_EQ(told(checked(q)), text) << h;
    }
    auto q = question(powers);
    q.at = hour(4.5);
    q.max_age_hours = 4;
    EXPECT_EQ(told(checked(q)), "refuse:reference.too-old ");
    q.at.reset();
    EXPECT_EQ(told(checked(q)), "");
    auto timeless = powers;
    for (auto& power : timeless) power.taken.reset();
    EXPECT_EQ(told(checked(question(timeless))), "refuse:reference.time-missing ");
}

TEST(Reference, InstrumentsAndCords)
{
    auto const powers = even(-20);
    auto q = question(powers);
    q.meter.known = false;
    q.source.calibrated_until = hour(-1);
    q.cords.clear();
    EXPECT_EQ(
        told(checked(q)),
        "refuse:reference.calibration-over refuse:reference.item-unknown refuse:reference.item-missing ");
    q = question(powers);
    q.source.calibrated_until = hour(0); // its last moment
    q.meter.calibrated_until.reset();
    EXPECT_EQ(told(checked(q)), "remark:reference.calibration-unknown ");
}

TEST(Reference, WarmUp)
{
    auto const powers = even(-20);
    for (auto const& [minutes, text] :
         {std::pair{20.0, ""}, std::pair{19.0, "remark:reference.warm-up "},
          std::pair{5.0, "remark:reference.warm-up "}, std::pair{4.9, "refuse:reference.warm-up "}}) {
        auto q = question(powers);
        q.warm_up_minutes = minutes;
        EXPECT_EQ(told(checked(q)), text) << minutes;
    }
    auto q = question(powers);
    q.warm_up_by_maker_minutes = 30;
    EXPECT_EQ(told(checked(q)), "refuse:reference.warm-up ");
    q.warm_up_minutes.reset();
    EXPECT_EQ(told(checked(q)), "");
}

TEST(Reference, DriftBlamesTheEarlierOne)
{
    auto const earlier = even(-20);
    auto powers = even(-20.1);
    auto q = question(powers);
    q.earlier = earlier;
    auto a = checked(q);
    EXPECT_EQ(told(a), "");
    EXPECT_NEAR(a.rows[0].drift.value().value(), -0.1, 1e-12);
    powers[3].power = Dbm{-20.22};
    a = checked(q);
    EXPECT_EQ(told(a), "remark:reference.drift ");
    EXPECT_TRUE(a.earlier_has_drifted);
    EXPECT_EQ(a.rows[0].largest_drift_position, 4);
    auto const other = even(-20, 12, 1300);
    q.earlier = other;
    EXPECT_EQ(told(checked(q)), "remark:reference.drift-not-compared ");
}

TEST(Reference, AsksForWhatItNeeds)
{
    auto const powers = even(-20);
    auto q = question(powers);
    q.wavelengths.clear();
    EXPECT_EQ(check_reference(q).error().code, Errc::usage);
    facts::Tables const none;
    ReferenceQuestion const bare{.id = "R",
                                 .powers = powers,
                                 .wavelengths = {Nanometres{850}},
                                 .occupied = plant::Occupancy{1},
                                 .kind = {},
                                 .source = {},
                                 .meter = {},
                                 .cords = {},
                                 .warm_up_minutes = {},
                                 .warm_up_by_maker_minutes = {},
                                 .taken = {},
                                 .at = {},
                                 .max_age_hours = {},
                                 .earlier = {},
                                 .tables = &none};
    EXPECT_EQ(check_reference(bare).error().code, Errc::not_found);
}

RC_GTEST_PROP(ReferenceProperty, OrderOfPowersDoesNotMatter, ())
{
    std::vector<ReferencePower> powers;
    for (int i = *rc::gen::inRange(0, 60); i > 0; --i)
        powers.push_back({*rc::gen::inRange(0, 14), Nanometres{*rc::gen::element(850, 1300)},
                          Dbm{-20 + 0.01 * *rc::gen::inRange(-150, 150)}, hour(*rc::gen::inRange(0, 3))});
    auto shuffled = powers;
    std::shuffle(shuffled.begin(), shuffled.end(), std::mt19937{*rc::gen::arbitrary<std::uint32_t>()});
    auto const a = checked(question(powers));
    auto const b = checked(question(shuffled));
    RC_ASSERT(a.state == b.state);
    RC_ASSERT(a.reasons.size() == b.reasons.size());
    for (std::size_t i = 0; i < a.reasons.size(); ++i) RC_ASSERT(a.reasons[i].text == b.reasons[i].text);
    RC_ASSERT(a.rows.size() == b.rows.size());
    for (std::size_t i = 0; i < a.rows.size(); ++i) {
        RC_ASSERT(a.rows[i].mean == b.rows[i].mean);
        RC_ASSERT(a.rows[i].repeatability == b.rows[i].repeatability);
    }
}

} // namespace reference_test
} // namespace guidepin::verdict
