// SPDX-License-Identifier: Apache-2.0
// Oracle: simulated sites, whose faults are known because they were put in by code that shares nothing with
// the code that explains. Seeds are fixed and were not used for tuning. The rates that the whole benchmark
// reaches stand in docs/methods/causes.md; what is asked for here is what a small sample can carry.
#include "cause/explainer.hpp"
#include "simulated_columns.hpp"

#include <algorithm>
#include <set>

namespace guidepin::cause {
namespace explainer_test {

Priors const& priors()
{
    static Priors const known = priors_of(facts::built_in_tables()).value();
    return known;
}

simulate::Site site_of(std::uint64_t seed, std::size_t links, std::string const& faults, bool both = false)
{
    simulate::Design design;
    design.seed = seed;
    design.links = links;
    design.faults = simulate::parse_wishes(faults).value();
    design.both_directions = both;
    return simulate::simulate(design).value();
}

bool about(Finding const& finding, simulate::Truth const& truth)
{
    if (truth.reference >= 0) return finding.reference == static_cast<std::uint32_t>(truth.reference);
    return finding.reference == none &&
           std::any_of(finding.links.begin(), finding.links.end(), [&](auto link) {
               return std::find(truth.links.begin(), truth.links.end(), link) != truth.links.end();
           });
}

TEST(Explainer, HealthySitesStayQuiet)
{
    // At most one false finding in 500 healthy links: of 2000, at most 4.
    std::size_t findings = 0;
    for (std::uint64_t const seed : {2001u, 2002u}) {
        auto const site = site_of(seed, 1000, "none");
        auto const columns = support::columns_of(site);
        findings += support::explained(columns, priors()).size();
    }
    EXPECT_LE(findings, 4u);
}

class NamesIt : public testing::TestWithParam<std::tuple<char const*, bool>>
{
};

TEST_P(NamesIt, FirstOfAllForTheLinksThatHaveIt)
{
    auto const [fault, both] = GetParam();
    // Twelve of each in three sites. One fibre of two joints of this spread has to lose half a dB before it
    // is clear of what healthy fibres lose now and then; a whole row much less.
    std::string const id = fault;
    bool const sized = simulate::has_strength(*simulate::parse_fault(id));
    std::string const usual = id == "face-mismatch"               ? "@5"
                              : id == "unpinned-joint"            ? "@2"
                              : id == "core-size-mismatch"        ? "@2"
                              : id == "dirty-or-damaged-end-face" ? "@0.7"
                                                                  : "@0.45";
    int right = 0;
    int all = 0;
    for (std::uint64_t seed = 2010; seed < 2013; ++seed) {
        auto const site = site_of(seed, 650, id + ":4" + (sized ? usual : ""), both);
        auto const columns = support::columns_of(site);
        auto const findings = support::explained(columns, priors());
        for (auto const& truth : site.truths) {
            ++all;
            auto const first = std::find_if(findings.begin(), findings.end(),
                                            [&](Finding const& f) { return about(f, truth); });
            bool const named = first != findings.end() && id_of(first->cause) == id;
            right += named ? 1 : 0;
        }
    }
    ASSERT_EQ(all, 12);
    EXPECT_GE(right, 11) << id << (both ? ", both directions" : ", one direction");
}

INSTANTIATE_TEST_SUITE_P(
    Faults, NamesIt,
    testing::Combine(testing::Values("dirty-or-damaged-end-face", "macrobend", "misaligned-ferrule",
                                     "unpinned-joint", "face-mismatch", "broken-fibre", "extra-connection",
                                     "core-size-mismatch", "reference-fault", "reference-drift",
                                     "test-cord-position", "wrong-trunk-type", "wrong-adapter",
                                     "wrong-test-cord", "crossed-fibres", "shifted-row", "swapped-blocks",
                                     "swapped-rows", "length-mismatch", "mislabelled-link",
                                     "copied-measurement"),
                     testing::Values(false)),
    [](auto const& about_it) {
        std::string name = std::get<0>(about_it.param);
        std::replace(name.begin(), name.end(), '-', '_');
        return name;
    });
INSTANTIATE_TEST_SUITE_P(BothDirections, NamesIt,
                         testing::Combine(testing::Values("dirty-or-damaged-end-face", "core-size-mismatch",
                                                          "test-cord-position", "macrobend"),
                                          testing::Values(true)),
                         [](auto const& about_it) {
                             std::string name = std::get<0>(about_it.param);
                             std::replace(name.begin(), name.end(), '-', '_');
                             return name;
                         });

TEST(Explainer, PositionsSizesAndStartsAreThoseThatWerePutIn)
{
    auto const site =
        site_of(2030, 700, "dirty-or-damaged-end-face:6@1,reference-drift:2@0.3,test-cord-position:2@0.8");
    auto const columns = support::columns_of(site);
    auto const findings = support::explained(columns, priors());
    for (auto const& truth : site.truths) {
        auto const found = std::find_if(findings.begin(), findings.end(), [&](Finding const& f) {
            return about(f, truth) && std::string{id_of(f.cause)} == simulate::id_of(truth.fault);
        });
        ASSERT_NE(found, findings.end()) << simulate::id_of(truth.fault);
        ASSERT_TRUE(found->size_db.has_value());
        // Four standard uncertainties, and a tenth for the second wavelength's share, which is not told
        // apart.
        EXPECT_NEAR(*found->size_db, truth.size_db, 4 * *found->size_u_db + 0.1 * truth.size_db)
            << found->evidence;
        EXPECT_TRUE(truth.positions.empty() || found->positions == truth.positions) << found->evidence;
        if (truth.reference >= 0) {
            auto const& order = site.references[static_cast<std::size_t>(truth.reference)].links;
            auto const at = [&](std::uint32_t link) {
                return std::find(order.begin(), order.end(), link) - order.begin();
            };
            EXPECT_NEAR(static_cast<double>(at(found->links.front())), static_cast<double>(at(truth.first)),
                        4)
                << found->evidence;
        }
        EXPECT_FALSE(found->evidence.empty());
        EXPECT_FALSE(found->action.empty());
        EXPECT_TRUE(found->since_ms.has_value());
    }
}

TEST(Explainer, SeveralFaultsOnOneSiteAreToldApartAndOnce)
{
    auto const site = site_of(2040, 1200, "all:2");
    auto const columns = support::columns_of(site);
    auto const findings = support::explained(columns, priors());
    std::size_t right = 0;
    for (auto const& truth : site.truths) {
        auto const n = std::count_if(findings.begin(), findings.end(), [&](Finding const& f) {
            return about(f, truth) && std::string{id_of(f.cause)} == simulate::id_of(truth.fault);
        });
        EXPECT_LE(n, 1) << simulate::id_of(truth.fault) << ": one finding a fault, not one a reading";
        right += n == 1 ? 1 : 0;
    }
    EXPECT_GE(right, 40u); // of 42: 95 %
    EXPECT_LE(findings.size(), 46u);
}

TEST(Explainer, NoCopyIsInventedAndEachIsFound)
{
    auto const clean = site_of(2050, 1500, "none");
    auto const columns = support::columns_of(clean);
    for (Finding const& finding : support::explained(columns, priors()))
        EXPECT_NE(finding.cause, Cause::copied_measurement) << finding.evidence;
    auto const copied = site_of(2051, 800, "copied-measurement:10");
    auto const with = support::columns_of(copied);
    auto const findings = support::explained(with, priors());
    for (auto const& truth : copied.truths) {
        EXPECT_TRUE(std::any_of(findings.begin(), findings.end(), [&](Finding const& f) {
            return f.cause == Cause::copied_measurement &&
                   std::set<std::uint32_t>(f.links.begin(), f.links.end()) ==
                       std::set<std::uint32_t>(truth.links.begin(), truth.links.end());
        })) << truth.detail;
    }
}

TEST(Explainer, ALinkThatComesInIsExplainedAtOnce)
{
    auto const site = site_of(2060, 400, "dirty-or-damaged-end-face:3@1.5,crossed-fibres:2");
    auto const columns = support::columns_of(site);
    Explainer explainer(columns, priors());
    explainer.measure(0, columns.links.size());
    explainer.learn();
    for (auto const& truth : site.truths) {
        explainer.renew(truth.links.front());
        auto findings = explainer.findings();
        std::erase_if(findings, [&](Finding const& finding) {
            return std::find(finding.links.begin(), finding.links.end(), truth.links.front()) ==
                   finding.links.end();
        });
        ASSERT_FALSE(findings.empty()) << simulate::id_of(truth.fault);
        EXPECT_STREQ(id_of(findings.front().cause), simulate::id_of(truth.fault));
    }
}

TEST(Explainer, RangesDoNotMatterAndTheSameComesOutTwice)
{
    auto const site = site_of(2070, 300, "all");
    auto const columns = support::columns_of(site);
    auto const whole = support::explained(columns, priors());
    Explainer parts(columns, priors());
    for (std::size_t i = 0; i < columns.links.size(); i += 37)
        parts.measure(i, std::min(i + 37, columns.links.size()));
    parts.learn();
    for (std::size_t i = columns.links.size(); i > 0;) {
        std::size_t const first = i > 41 ? i - 41 : 0;
        parts.explain(first, i);
        i = first;
    }
    auto const pieced = parts.findings();
    ASSERT_EQ(whole.size(), pieced.size());
    for (std::size_t i = 0; i < whole.size(); ++i) {
        EXPECT_EQ(whole[i].id, pieced[i].id);
        EXPECT_EQ(whole[i].evidence, pieced[i].evidence);
        EXPECT_EQ(whole[i].probability, pieced[i].probability);
    }
}

TEST(Explainer, ASiteWithoutReadingsHasNoFindings)
{
    Columns columns;
    EXPECT_TRUE(support::explained(columns, priors()).empty());
    columns.links.resize(3); // not scheduled
    columns.links[0].id = "X-1";
    EXPECT_TRUE(support::explained(columns, priors()).empty());
}

} // namespace explainer_test
} // namespace guidepin::cause
