// SPDX-License-Identifier: Apache-2.0
// Oracle: simulated sites with known populations, fixed seeds.
#include "watch/expectation.hpp"
#include "loss/prediction.hpp"
#include "loss/random.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::watch {
namespace expectation_test {

constexpr double u = .05;
PopulationKey const key{"OS2", 1310, 3, 0};

// A site whose connections beat the grade: each has 0.6 of grade B's loss.
struct Crew
{
    loss::Random random;
    double better = .6;

    std::vector<double> link(int fibres = 12)
    {
        std::vector<double> excess;
        double const common = .02 * random.normal();
        double const own = std::sqrt(u * u - .0004);
        for (int p = 0; p < fibres; ++p) {
            double sum = common + own * random.normal();
            for (int i = 0; i < 3; ++i) sum += better * .02802 * random.gamma(4.2828);
            excess.push_back(sum);
        }
        return excess;
    }
};

Expected before()
{
    return expected_before(loss::sum_of(std::vector<loss::Term>{{{4.2828, .02802}, 3}}), u);
}

TEST(SiteExpectation, LearnsWhatTheSiteDoes)
{
    Crew crew{loss::Random{1}};
    SiteExpectation site;
    EXPECT_EQ(site.expected(key, before(), u).mean, before().mean);
    double last = 0;
    for (int i = 1; i <= 200; ++i) {
        site.add(key, crew.link());
        if (i == 4) {
            auto const early = site.expected(key, before(), u);
            EXPECT_NEAR(early.site_weight, 0.5, 1e-12);
            EXPECT_LT(early.mean, before().mean);
        }
        last = site.expected(key, before(), u).site_weight;
    }
    auto const learned = site.expected(key, before(), u);
    EXPECT_GT(last, .97);
    EXPECT_EQ(learned.links, 200);
    // Truth: mean .6 * .36 = .216, sd of the joints .6 * .1004, with the reading .0781.
    EXPECT_NEAR(learned.mean, .216, .008);
    EXPECT_NEAR(learned.sd, std::hypot(.6 * .1004, u), .006);
    // Another kind of link knows nothing of it.
    EXPECT_EQ(site.expected({"OS2", 1550, 3, 0}, before(), u).links, 0);
}

TEST(SiteExpectation, BadFibresDoNotTeach)
{
    Crew crew{loss::Random{2}};
    SiteExpectation clean;
    SiteExpectation dirty;
    for (int i = 0; i < 200; ++i) {
        auto link = crew.link();
        clean.add(key, link);
        link[static_cast<std::size_t>(i) % 12] += 2; // one fibre in twelve is bad
        dirty.add(key, link);
    }
    auto const a = clean.expected(key, before(), u);
    auto const b = dirty.expected(key, before(), u);
    EXPECT_NEAR(a.mean, b.mean, .015);
    EXPECT_NEAR(a.sd, b.sd, .015);
}

TEST(SiteExpectation, FalseAlarmsAreAsRareAsStated)
{
    for (double const better : {.6, 1.0, 1.3}) {
        Crew crew{loss::Random{77}, better};
        SiteExpectation site;
        std::vector<std::vector<double>> links;
        for (int i = 0; i < 4000; ++i) {
            links.push_back(crew.link());
            site.add(key, links.back());
        }
        auto const expected = site.expected(key, before(), u);
        int at_hundredth = 0;
        int at_thousandth = 0;
        for (auto const& link : links) {
            LinkPart const part{link, expected};
            auto const surprise = surprise_of({&part, 1});
            at_hundredth += surprise.stands_out(.01) ? 1 : 0;
            at_thousandth += surprise.stands_out(.001) ? 1 : 0;
        }
        // No more than stated, but for chance (3 standard errors); and not idle.
        EXPECT_LE(at_hundredth, 40 + 3 * std::sqrt(40)) << better;
        EXPECT_LE(at_thousandth, 4 + 3 * std::sqrt(4)) << better;
        EXPECT_GE(at_hundredth, 10) << better;
    }
}

TEST(SiteExpectation, ABadJointThatPassesStandsOut)
{
    // Limit of the link 3 * .75 = 2.25 dB; the bad fibre reads about .65, far inside it.
    Crew crew{loss::Random{9}};
    SiteExpectation site;
    int fibre = 0;
    int whole = 0;
    int wrong_fibre = 0;
    for (int i = 0; i < 60; ++i) site.add(key, crew.link());
    auto const expected = site.expected(key, before(), u);
    for (int i = 0; i < 200; ++i) {
        auto one = crew.link();
        one[4] += .45;
        LinkPart part{one, expected};
        auto const surprise = surprise_of({&part, 1});
        fibre += surprise.stands_out() ? 1 : 0;
        wrong_fibre += surprise.stands_out() && surprise.worst != 4 ? 1 : 0;
        auto all = crew.link();
        for (double& x : all) x += .15;
        part.excess = all;
        auto const of_all = surprise_of({&part, 1});
        whole += of_all.stands_out() ? 1 : 0;
        if (of_all.stands_out()) {
            EXPECT_GT(of_all.offset_db, .06);
        }
    }
    // How many there should be: a link stands out when a fibre's chance is below alpha / 2 / 12, or the whole
    // link's below alpha / 2. Tolerance: 4 standard errors of the count, and 4 for the learned expectation's
    // own error.
    double const joints_sd = .6 * .1004;
    double const skewness = 2 / std::sqrt(3 * 4.2828) * std::pow(joints_sd / std::hypot(joints_sd, u), 3);
    Expected const truth{.6 * 3 * 4.2828 * .02802, std::hypot(joints_sd, u), skewness, 0, 0};
    auto const seen = [](double power, int count) {
        return std::abs(count - 200 * power) <= 4 * std::sqrt(200 * power * (1 - power)) + 4;
    };
    double const fibre_threshold = truth.distribution().quantile(1 - .0005 / 12);
    EXPECT_TRUE(seen(truth.distribution().survival(fibre_threshold - .45), fibre)) << fibre;
    double const offset_sd = std::hypot(truth.sd / std::sqrt(12), .02);
    EXPECT_TRUE(
        seen(loss::normal_cdf((.15 - loss::normal_quantile(1 - .0005) * offset_sd) / offset_sd), whole))
        << whole;
    EXPECT_GE(fibre, 160);
    EXPECT_GE(whole, 160);
    EXPECT_EQ(wrong_fibre, 0);
    // The prediction alone, without the site, would have seen few of them.
    Crew again{loss::Random{9}};
    int without = 0;
    for (int i = 0; i < 200; ++i) {
        auto one = again.link();
        one[4] += .45;
        LinkPart const part{one, before()};
        without += surprise_of({&part, 1}).stands_out() ? 1 : 0;
    }
    EXPECT_LT(without, fibre);
}

RC_GTEST_PROP(SiteExpectation, OrderDoesNotMatter, ())
{
    auto const seed = *rc::gen::inRange<std::uint64_t>(0, 100000);
    Crew crew{loss::Random{seed}};
    std::vector<std::vector<double>> links;
    for (int i = 0; i < 10; ++i) links.push_back(crew.link());
    SiteExpectation forward;
    SiteExpectation backward;
    for (auto const& link : links) forward.add(key, link);
    for (auto link = links.rbegin(); link != links.rend(); ++link) backward.add(key, *link);
    auto const a = forward.expected(key, before(), u);
    auto const b = backward.expected(key, before(), u);
    RC_ASSERT(a.mean == b.mean);
    RC_ASSERT(a.sd == b.sd);
    RC_ASSERT(a.site_weight == b.site_weight);
}

TEST(SiteExpectation, HolesAndEmptyLinks)
{
    double const hole = std::numeric_limits<double>::quiet_NaN();
    std::vector<double> const link{.2, hole, .9};
    LinkPart const part{link, before()};
    auto const surprise = surprise_of({&part, 1});
    ASSERT_EQ(surprise.chance.size(), 3u);
    EXPECT_TRUE(std::isnan(surprise.chance[1]));
    EXPECT_EQ(surprise.worst, 2u);
    EXPECT_EQ(surprise_of({}).link, 1);
    SiteExpectation site;
    site.add(key, std::vector<double>{hole, hole});
    EXPECT_EQ(site.expected(key, before(), u).links, 0);
}

} // namespace expectation_test
} // namespace guidepin::watch
