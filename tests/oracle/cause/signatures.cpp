// SPDX-License-Identifier: Apache-2.0
// Oracles: signatures of mechanisms, written down here from the published formulas, without the simulator:
//   offset    L(1550)/L(1310) = (w(1310)/w(1550))^2 = 0.783 for w = 4.6 and 5.2 um: Marcuse, BSTJ 56 (1977),
//   703 bend      1550 nm loses 117 times what 1310 nm does at a radius of 10 mm: Marcuse, J. Opt. Soc. Am.
//   66
//             (1976), 216, for a core of 4.15 um and 0.35 %
//   dirt      opaque disc of 1 um on the core: 0.823 dB at 1310 and 0.643 dB at 1550 nm (Gaussian mode)
//   rotation  L_i = K (phi x_i)^2 / w^2 with x_i = (i - 6.5) 0.25 mm: rigid ferrules, IEC 61754-7 pitch
//   core      62.5 to 50 um: 1.94 dB overfilled, one direction only
//   links x positions: a position that is high in every link is the test cord's (two-way tables, Tukey 1977)
// Tolerances: healthy fibres scatter by 0.02 dB here, sizes may be off by three of that and the size grid's
// 10 %.
#include "explained.hpp"
#include "loss/geometry.hpp"
#include "loss/random.hpp"

#include <cmath>

#include <rapidcheck/gtest.h>

namespace guidepin::cause {
namespace signatures_test {

constexpr int positions = 12;

/// A plain site: links of one kind under one reference after the other, joints drawn as normal numbers so
/// that no distribution of the program is shared.
struct Plain
{
    Columns columns;
    bool both = false;

    Plain(bool multimode, std::size_t links, std::uint64_t seed, bool both_directions = false,
          std::size_t per_reference = 30)
        : both(both_directions)
    {
        for (int kind_index = 0; kind_index < 2; ++kind_index) {
            LinkKind kind;
            kind.occupied = plant::Occupancy{(1u << positions) - 1};
            for (int p = 1; p <= positions; ++p)
                kind.a_to_b.connect(p, kind_index == 0 ? positions + 1 - p : p);
            kind.multimode = multimode;
            kind.angled = !multimode;
            kind.wavelengths = 2;
            kind.wavelength_nm = multimode ? std::array<std::uint16_t, 4>{850, 1300}
                                           : std::array<std::uint16_t, 4>{1310, 1550};
            kind.natural_mean = 0.2;
            kind.natural_sd = 0.05;
            columns.kinds.push_back(kind);
        }
        loss::Random random{seed};
        for (std::size_t i = 0; i < links; ++i) {
            LinkRow row;
            row.id = "P-" + std::to_string(i + 1);
            row.kind = i % 2;
            row.reference = static_cast<std::uint32_t>(i / per_reference);
            if (row.reference >= columns.references.size())
                columns.references.push_back("R-" + std::to_string(row.reference + 1));
            row.taken_ms = static_cast<std::int64_t>(i) * 300'000;
            row.drawn_m = row.measured_m = 50;
            row.positions = positions;
            row.first_cell = static_cast<std::uint32_t>(columns.loss_db.size());
            row.first_place = static_cast<std::uint32_t>(columns.length_m.size());
            row.measured = {true, both};
            row.map_known = true;
            row.a_to_b = columns.kinds[row.kind].a_to_b;
            columns.links.push_back(row);
            columns.loss_db.resize(columns.loss_db.size() + 4u * positions,
                                   std::numeric_limits<float>::quiet_NaN());
            columns.length_m.resize(columns.length_m.size() + positions, 50.0F);
            for (int p = 1; p <= positions; ++p) {
                double const joints = 0.2 + 0.02 * random.normal();
                for (std::size_t d = 0; d < (both ? 2u : 1u); ++d) {
                    at(i, d, 0, p) = static_cast<float>(joints + 0.01 * random.normal());
                    at(i, d, 1, p) =
                        static_cast<float>((multimode ? 0.95 : 0.8) * joints + 0.01 * random.normal());
                }
            }
        }
    }

    float& at(std::size_t link, std::size_t direction, std::size_t w, int p)
    {
        return columns.loss_db[columns.cell(columns.links[link], direction, w, p)];
    }
    void add(std::size_t link, int p, double first, double last)
    {
        for (std::size_t d = 0; d < (both ? 2u : 1u); ++d) {
            at(link, d, 0, p) += static_cast<float>(first);
            at(link, d, 1, p) += static_cast<float>(last);
        }
    }
    std::vector<Finding> explained() const
    {
        return support::explained(columns, priors_of(facts::built_in_tables()).value());
    }
};

TEST(Signature, AnOpaqueDiscOnTheCoreIsADirtyFace)
{
    Plain site(false, 90, 1);
    site.add(40, 7, 0.823, 0.643);
    auto const findings = site.explained();
    ASSERT_EQ(findings.size(), 1u);
    EXPECT_EQ(findings[0].cause, Cause::dirty_end_face);
    EXPECT_EQ(findings[0].links, std::vector<std::uint32_t>{40});
    EXPECT_EQ(findings[0].positions, std::vector<int>{7});
    EXPECT_NEAR(*findings[0].size_db, (0.823 + 0.643) / 2, 0.1);
    EXPECT_GT(findings[0].probability, 0.95);
}

TEST(Signature, ABendLosesHardlyAnythingAt1310)
{
    loss::StepFibre const fibre;
    double const ratio =
        loss::macrobend_db_per_metre(fibre, 10, 1.55) / loss::macrobend_db_per_metre(fibre, 10, 1.31);
    EXPECT_NEAR(ratio, 117, 2); // Marcuse 1976, the published formula
    Plain site(false, 90, 2);
    for (int p = 1; p <= positions; ++p) site.add(41, p, 0.4 / 117, 0.4);
    auto const findings = site.explained();
    ASSERT_EQ(findings.size(), 1u);
    EXPECT_EQ(findings[0].cause, Cause::macrobend);
    EXPECT_TRUE(findings[0].positions.empty());
    EXPECT_EQ(findings[0].wavelengths, std::vector<std::uint16_t>{1550});
    EXPECT_NEAR(*findings[0].size_db, 0.4, 0.08);
}

TEST(Signature, OffsetOfTheWholeRowIsNoBend)
{
    // One more joint, offsets as they come: 0.783 at 1550 nm of what 1310 nm shows.
    Plain site(false, 90, 3);
    double const more[positions] = {0.31, 0.52, 0.18, 0.44, 0.62, 0.36, 0.27, 0.49, 0.40, 0.58, 0.23, 0.35};
    for (int p = 1; p <= positions; ++p) site.add(42, p, more[p - 1], 0.783 * more[p - 1]);
    auto const findings = site.explained();
    ASSERT_EQ(findings.size(), 1u);
    EXPECT_EQ(findings[0].cause, Cause::extra_connection) << findings[0].evidence;
    EXPECT_NEAR(*findings[0].size_db, 0.395 * (1 + 0.783) / 2, 0.08);
}

TEST(Signature, ARotatedFerruleLosesWithTheSquareOfTheArm)
{
    // 2 mrad about the middle, w = 4.6 and 5.2 um: 4.343 (phi x / w)^2, 1.55 dB at the ends.
    Plain site(false, 90, 4);
    for (int p = 1; p <= positions; ++p) {
        double const offset_um = 0.002 * (p - 6.5) * 250;
        site.add(43, p, 4.343 * offset_um * offset_um / (4.6 * 4.6),
                 4.343 * offset_um * offset_um / (5.2 * 5.2));
    }
    auto const findings = site.explained();
    ASSERT_FALSE(findings.empty());
    EXPECT_EQ(findings[0].cause, Cause::misaligned_ferrule) << findings[0].evidence;
    EXPECT_EQ(findings.size(), 1u);
}

TEST(Signature, LargerCoreLosesInOneDirectionOnly)
{
    double const loss = -20 * std::log10(50 / 62.5); // overfilled: the share of the core's area
    EXPECT_NEAR(loss, 1.938, 0.001);
    Plain site(true, 90, 5, true);
    for (int p = 1; p <= positions; ++p) {
        site.at(44, 1, 0, p) += static_cast<float>(loss);
        site.at(44, 1, 1, p) += static_cast<float>(loss);
    }
    auto const findings = site.explained();
    ASSERT_EQ(findings.size(), 1u);
    EXPECT_EQ(findings[0].cause, Cause::core_size_mismatch) << findings[0].evidence;
    EXPECT_NE(findings[0].evidence.find("launched from B"), std::string::npos) << findings[0].evidence;
}

TEST(Separation, APositionThatIsHighInEveryLinkIsTheTestCords)
{
    for (bool const tail : {false, true}) {
        Plain site(true, 90, 6);
        // Links read mirrored and straight in turn: the launch cord's position 9 is 9 in all, the tail's is 4
        // in the mirrored ones.
        for (std::size_t link = 30; link < 60; ++link) {
            bool const is_mirrored = link % 2 == 0;
            site.add(link, tail && is_mirrored ? 4 : 9, 0.3, 0.3);
        }
        auto const findings = site.explained();
        ASSERT_EQ(findings.size(), 1u) << tail;
        EXPECT_EQ(findings[0].cause, Cause::test_cord_position);
        EXPECT_EQ(findings[0].reference, 1u);
        EXPECT_EQ(findings[0].positions, std::vector<int>{9});
        EXPECT_EQ(findings[0].links.size(), 30u);
        EXPECT_NE(findings[0].evidence.find(tail ? "tail cord" : "launch cord"), std::string::npos)
            << findings[0].evidence;
        EXPECT_EQ(findings[0].evidence.find("launch or tail"), std::string::npos) << "mixed maps tell which";
    }
}

TEST(Separation, TestCordBadLinkAndBadFibreAreThreeFindings)
{
    Plain site(false, 90, 7);
    for (std::size_t link = 30; link < 60; ++link) site.add(link, 9, 0.25, 0.2);
    for (int p = 1; p <= positions; ++p) site.add(35, p, 0.02, 1.0);
    site.add(50, 4, 0.6, 0.5);
    auto const findings = site.explained();
    ASSERT_EQ(findings.size(), 3u);
    EXPECT_EQ(findings[0].cause, Cause::test_cord_position);
    for (Finding const& finding : findings) {
        EXPECT_TRUE(finding.cause != Cause::macrobend || finding.links == std::vector<std::uint32_t>{35});
        if (finding.cause == Cause::dirty_end_face) {
            EXPECT_EQ(finding.links, std::vector<std::uint32_t>{50});
            EXPECT_EQ(finding.positions, std::vector<int>{4});
        }
    }
}

TEST(Separation, AReferenceTakenThroughALossIsLowInAllLinksAndADriftInTheLaterOnes)
{
    Plain site(false, 120, 8);
    for (std::size_t link = 30; link < 60; ++link) {
        for (int p = 1; p <= positions; ++p) site.add(link, p, -0.25, -0.25);
    }
    for (std::size_t link = 75; link < 90; ++link) {
        for (int p = 1; p <= positions; ++p) site.add(link, p, 0.2, 0.2);
    }
    auto const findings = site.explained();
    ASSERT_EQ(findings.size(), 2u);
    for (Finding const& finding : findings) {
        if (finding.reference == 1) {
            EXPECT_EQ(finding.cause, Cause::reference_fault);
            EXPECT_NEAR(*finding.size_db, -0.25, 0.03);
        } else {
            EXPECT_EQ(finding.reference, 2u);
            EXPECT_EQ(finding.cause, Cause::reference_drift);
            EXPECT_EQ(finding.links.front(), 75u);
            EXPECT_NEAR(*finding.size_db, 0.2, 0.03);
        }
    }
}

TEST(Separation, SixBadLinksInARowAreNoDrift)
{
    Plain site(false, 90, 9);
    for (std::size_t link = 40; link < 46; ++link) {
        for (int p = 1; p <= positions; ++p) site.add(link, p, 2.0 + 0.3 * (p % 3), 1.7 + 0.25 * (p % 3));
    }
    for (Finding const& finding : site.explained())
        EXPECT_NE(finding.cause, Cause::reference_drift) << finding.evidence;
}

RC_GTEST_PROP(Property, AnOffsetOfTheWholeSiteChangesNothing, ())
{
    // What is healthy is learned from the site: only departures count.
    auto const seed = *rc::gen::inRange<std::uint64_t>(1, 100000);
    auto const shift = *rc::gen::inRange(0, 100) / 1000.0;
    auto const at = *rc::gen::inRange<std::size_t>(0, 60);
    auto const position = *rc::gen::inRange(1, positions + 1);
    Plain plain(false, 60, seed);
    plain.add(at % 60, position, 1.0, 0.8);
    Plain shifted = plain;
    for (float& value : shifted.columns.loss_db) value += static_cast<float>(shift);
    auto const a = plain.explained();
    auto const b = shifted.explained();
    RC_ASSERT(!a.empty());
    RC_ASSERT(a.size() == b.size());
    for (std::size_t i = 0; i < a.size(); ++i) {
        RC_ASSERT(a[i].id == b[i].id);
        RC_ASSERT(std::abs(a[i].probability - b[i].probability) < 0.02);
    }
}

RC_GTEST_PROP(Property, TheOrderOfLinksInTheColumnsDoesNotMatter, ())
{
    auto const seed = *rc::gen::inRange<std::uint64_t>(1, 100000);
    Plain site(true, 60, seed);
    site.add(20, 3, 0.9, 0.9);
    for (std::size_t link = 45; link < 60; ++link) site.add(link, 11, 0.5, 0.5);
    Plain turned = site;
    std::reverse(turned.columns.links.begin(), turned.columns.links.end());
    auto const a = site.explained();
    auto const b = turned.explained();
    RC_ASSERT(a.size() == b.size());
    for (std::size_t i = 0; i < a.size(); ++i) RC_ASSERT(a[i].id == b[i].id);
}

RC_GTEST_PROP(Property, ProbabilitiesAreThatAndSumUp, ())
{
    auto const seed = *rc::gen::inRange<std::uint64_t>(1, 100000);
    auto const size = *rc::gen::inRange(5, 300) / 100.0;
    Plain site(false, 60, seed);
    site.add(10, 5, size, 0.8 * size);
    for (int p = 1; p <= positions; ++p) site.add(20, p, size, size);
    for (Finding const& finding : site.explained()) {
        double sum = finding.probability;
        for (Alternative const& other : finding.alternatives) {
            RC_ASSERT(other.probability >= 0);
            RC_ASSERT(other.cause != finding.cause);
            sum += other.probability;
        }
        RC_ASSERT(finding.probability > 0);
        RC_ASSERT(sum <= 1.0 + 1e-6);
        RC_ASSERT(finding.id.size() == 16);
    }
}

} // namespace signatures_test
} // namespace guidepin::cause
