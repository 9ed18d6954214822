// SPDX-License-Identifier: Apache-2.0
// Oracles: the moments of the grade that the joints are drawn from (IEC 61755-1, IEC 63267-1 as quoted in the
// tables), the wavelength ratio of offset and tilt (Marcuse 1977: 0.783 and 0.913), and by construction the
// mark that each fault has to leave in the readings. Tolerances are four standard errors of the sample.
#include "simulate/site.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>

namespace guidepin::simulate {
namespace site_test {

Site site_of(Design const& design)
{
    auto site = simulate(design);
    EXPECT_TRUE(site) << (site ? "" : site.error().message);
    return std::move(site).value();
}

std::map<std::pair<std::uint32_t, int>, std::array<double, 2>> losses(Site const& site)
{
    std::map<std::pair<std::uint32_t, int>, std::array<double, 2>> by_place;
    for (Reading const& r : site.readings) {
        bool const second = r.wavelength_nm == 1550 || r.wavelength_nm == 1300;
        if (!r.from_b) by_place[{r.link, r.position}][second ? 1 : 0] = r.attenuation_db;
    }
    return by_place;
}

TEST(Simulate, SameSeedSameSiteAndAnotherSeedAnother)
{
    Design design;
    design.links = 60;
    design.faults = parse_wishes("macrobend,crossed-fibres").value();
    Site const one = site_of(design);
    Site const two = site_of(design);
    design.seed = 2;
    Site const other = site_of(design);
    ASSERT_EQ(one.readings.size(), two.readings.size());
    bool differs = one.readings.size() != other.readings.size();
    for (std::size_t i = 0; i < one.readings.size(); ++i) {
        EXPECT_EQ(one.readings[i].attenuation_db, two.readings[i].attenuation_db);
        if (!differs) differs = one.readings[i].attenuation_db != other.readings[i].attenuation_db;
    }
    EXPECT_TRUE(differs);
}

TEST(Simulate, AFaultMoreLeavesEveryOtherLinkAsItWas)
{
    Design design;
    design.links = 60;
    Site const clean = site_of(design);
    design.faults = parse_wishes("dirty-or-damaged-end-face@2").value();
    Site const spoilt = site_of(design);
    ASSERT_EQ(spoilt.truths.size(), 1u);
    std::uint32_t const link = spoilt.truths[0].links.at(0);
    std::size_t changed = 0;
    for (std::size_t i = 0; i < clean.readings.size(); ++i) {
        double const more = spoilt.readings[i].attenuation_db - clean.readings[i].attenuation_db;
        EXPECT_TRUE(spoilt.readings[i].link == link || more == 0) << more;
        if (more != 0) ++changed;
    }
    EXPECT_EQ(changed, 2 * spoilt.truths[0].positions.size());
}

TEST(Simulate, JointsHaveTheMeanOfTheirGradeTimesTheSitesQuality)
{
    Design design;
    design.links = 400;
    design.quality_low = design.quality_high = 0.5;
    design.own_u = design.remating_u = design.link_u = design.reference_u = design.position_u = 0;
    Site const site = site_of(design);
    // Single-mode, two grade-B joints of mean 0.12 dB at half of it, 0.33 dB/km: 0.12 dB and fibre.
    double sum = 0;
    double squares = 0;
    double n = 0;
    std::map<std::uint32_t, double> length;
    for (auto const& [place, loss] : losses(site)) {
        plant::LinkSpec const& link = site.links[place.first];
        if (link.category != "OS2" || link.inner_connections > 0) continue;
        double const joints = loss[0] - 0.33 * link.length.value() / 1000;
        sum += joints;
        squares += joints * joints;
        n += 1;
    }
    ASSERT_GT(n, 1000);
    double const mean = sum / n;
    double const sd = std::sqrt(squares / n - mean * mean);
    EXPECT_NEAR(mean, 0.12, 4 * sd / std::sqrt(n));
    // Standard deviation of one: 0.12 / sqrt(4.2828) = 0.058; two at half: 0.041. Rounding to 0.01 adds
    // 0.003.
    EXPECT_NEAR(sd, 0.0411, 0.004);
}

TEST(Simulate, OffsetAndTiltGiveTheWavelengthsRatio)
{
    Design design;
    design.links = 400;
    design.own_u = design.remating_u = design.link_u = design.reference_u = design.position_u = 0;
    Site const site = site_of(design);
    double first = 0;
    double second = 0;
    for (auto const& [place, loss] : losses(site)) {
        plant::LinkSpec const& link = site.links[place.first];
        if (link.category != "OS2") continue;
        first += loss[0] - 0.33 * link.length.value() / 1000;
        second += loss[1] - 0.20 * link.length.value() / 1000;
    }
    EXPECT_GT(second / first, 0.783);
    EXPECT_LT(second / first, 0.783 + 0.4 * (0.913 - 0.783));
}

TEST(Simulate, EveryFaultIsPutInWhereTheTruthSays)
{
    Design design;
    design.links = 600;
    design.both_directions = true;
    design.faults = parse_wishes("all:2").value();
    Site const site = site_of(design);
    ASSERT_EQ(site.truths.size(), 2 * fault_count);
    std::set<std::uint32_t> links;
    for (Truth const& truth : site.truths) {
        EXPECT_FALSE(truth.links.empty()) << id_of(truth.fault);
        if (truth.reference >= 0) continue;
        for (std::uint32_t const link : truth.links)
            EXPECT_TRUE(links.insert(link).second) << "two faults on one link";
        EXPECT_TRUE(!has_strength(truth.fault) || truth.size_db > 0) << id_of(truth.fault);
    }
}

TEST(Simulate, ABendLosesAtTheLongWavelengthOnly)
{
    Design design;
    design.links = 60;
    Site const clean = site_of(design);
    design.faults = parse_wishes("macrobend@1").value();
    Site const bent = site_of(design);
    auto const before = losses(clean);
    std::uint32_t const link = bent.truths.at(0).links.at(0);
    for (auto const& [place, loss] : losses(bent)) {
        if (place.first != link) continue;
        auto const& was = before.at(place);
        EXPECT_GE(loss[1] - was[1], 0.75);
        EXPECT_LE(loss[0] - was[0], 0.06); // ratio above 25 for radii of 12 mm and less, and a step of 0.01
    }
}

TEST(Simulate, BrokenFibresAreDark)
{
    Design design;
    design.links = 60;
    design.faults = parse_wishes("broken-fibre").value();
    Site const site = site_of(design);
    Truth const& truth = site.truths.at(0);
    for (Reading const& r : site.readings) {
        bool const gone =
            r.link == truth.links[0] &&
            std::find(truth.positions.begin(), truth.positions.end(), r.position) != truth.positions.end();
        EXPECT_EQ(r.far_position == 0, gone);
        EXPECT_EQ(std::isnan(r.length_m), gone);
    }
}

TEST(Simulate, ExactCopiesAreTheSameToTheLetter)
{
    Design design;
    design.links = 60;
    design.faults = parse_wishes("copied-measurement:2").value();
    Site const site = site_of(design);
    auto const values = losses(site);
    double most = 0;
    for (Truth const& truth : site.truths) {
        double worst = 0;
        for (int p = 1; p <= 24; ++p) {
            auto const copy = values.find({truth.links[0], p});
            auto const original = values.find({truth.links[1], p});
            if (copy == values.end() || original == values.end()) continue;
            for (std::size_t w = 0; w < 2; ++w)
                worst = std::max(worst, std::abs(copy->second[w] - original->second[w]));
        }
        EXPECT_TRUE(truth.detail != "to the letter" || worst < 1e-9) << worst;
        most = std::max(most, worst);
    }
    EXPECT_GT(most, 0.005); // the other is noisy,
    EXPECT_LT(most, 0.011); // by no more than a step
}

TEST(Simulate, AWrongTestCordMirrorsTheWholeSessionAndNothingElse)
{
    Design design;
    design.links = 160;
    Site const clean = site_of(design);
    design.faults = parse_wishes("wrong-test-cord").value();
    Site const site = site_of(design);
    std::set<std::uint32_t> const affected(site.truths.at(0).links.begin(), site.truths.at(0).links.end());
    for (std::size_t i = 0; i < site.readings.size(); ++i) {
        Reading const& r = site.readings[i];
        int const n = site.links[r.link].family.positions();
        int const was = clean.readings[i].far_position;
        EXPECT_EQ(r.far_position, affected.count(r.link) ? n + 1 - was : was);
    }
}

TEST(Simulate, ALargeSiteBeginsEarlierRatherThanEndsInDaysToCome)
{
    constexpr std::int64_t monday_ms = 1'772'434'800'000; // 2026-03-02T07:00Z
    constexpr std::int64_t day_ms = 86'400'000;
    for (std::size_t const links : {80U, 9000U}) {
        Design design;
        design.links = links;
        auto const site = simulate(design).value();
        std::int64_t first = std::numeric_limits<std::int64_t>::max(), last = 0;
        for (Reference const& reference : site.references) {
            for (ReferencePower const& power : reference.powers) first = std::min(first, power.taken_ms);
        }
        for (Reading const& reading : site.readings) last = std::max(last, reading.taken_ms);
        EXPECT_LT(last, monday_ms + 180 * day_ms);
        EXPECT_EQ(first == monday_ms, links == 80U);
        EXPECT_EQ((monday_ms - first) % day_ms, 0) << "each day begins at the same hour";
    }
}

TEST(Simulate, WhatCannotBeIsRefused)
{
    Design design;
    design.links = 0;
    EXPECT_EQ(simulate(design).error().code, Errc::invalid_input);
    design.links = 12;
    design.faults = parse_wishes("reference-drift:9").value();
    auto const crowded = simulate(design);
    ASSERT_FALSE(crowded);
    EXPECT_NE(crowded.error().message.find("more links"), std::string::npos);
}

TEST(Simulate, WishesAreReadAndNearMissesNamed)
{
    auto const wishes = parse_wishes("macrobend:3@0.5, wrong-adapter").value();
    ASSERT_EQ(wishes.size(), 2u);
    EXPECT_EQ(wishes[0].fault, Fault::macrobend);
    EXPECT_EQ(wishes[0].count, 3);
    EXPECT_EQ(wishes[0].strength_db, 0.5);
    EXPECT_EQ(wishes[1].count, 1);
    EXPECT_EQ(parse_wishes("all:4").value().size(), fault_count);
    EXPECT_TRUE(parse_wishes("none").value().empty());
    auto const wrong = parse_wishes("makrobend");
    ASSERT_FALSE(wrong);
    EXPECT_EQ(wrong.error().code, Errc::usage);
    EXPECT_NE(wrong.error().message.find("macrobend"), std::string::npos);
    for (char const* bad : {"macrobend@0", "macrobend:0", "macrobend@x", "macrobend:x"})
        EXPECT_FALSE(parse_wishes(bad)) << bad;
    for (std::size_t i = 0; i < fault_count; ++i)
        EXPECT_EQ(parse_fault(id_of(static_cast<Fault>(i))), static_cast<Fault>(i));
}

} // namespace site_test
} // namespace guidepin::simulate
