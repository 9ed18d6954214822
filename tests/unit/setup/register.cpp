// SPDX-License-Identifier: Apache-2.0
// Fitness of the kit: limits, warnings before them, refusals, overrides that must carry a reason. The
// end-face criteria are tested in tests/oracle/setup/end_face.cpp.
#include "setup/register.hpp"

#include <gtest/gtest.h>

namespace guidepin::setup {
namespace register_test {

std::vector<Fitness> fitness_of(std::vector<FitnessFinding> const& findings)
{
    std::vector<Fitness> all;
    for (FitnessFinding const& finding : findings) all.push_back(finding.fitness);
    return all;
}

bool any_refused(std::vector<FitnessFinding> const& findings)
{
    return std::any_of(findings.begin(), findings.end(),
                       [](FitnessFinding const& f) { return f.fitness == Fitness::refused; });
}

TEST(Register, calibration)
{
    RegisterLimits limits;
    Day const today{20000};
    auto const due = [&](int days) {
        return check_fitness(std::vector{Instrument{"S1", "source", Day{19000}, Day{20000 + days}}}, {},
                             limits, today);
    };
    EXPECT_TRUE(due(31).empty());
    EXPECT_EQ(fitness_of(due(30)), std::vector{Fitness::warned});
    EXPECT_EQ(fitness_of(due(0)), std::vector{Fitness::warned}); // the last day still counts
    auto const over = due(-1);
    ASSERT_EQ(fitness_of(over), std::vector{Fitness::refused});
    EXPECT_NE(over[0].text.find("S1"), std::string::npos);
    EXPECT_TRUE(any_refused(over));
    EXPECT_EQ(fitness_of(check_fitness(std::vector{Instrument{"S1", "source", {}, {}}}, {}, limits, today)),
              std::vector{Fitness::refused});
}

TEST(Register, counts_warn_before_the_limit_and_refuse_over_it)
{
    RegisterLimits limits;
    limits.matings = 200;
    limits.pin_changes = 10;
    auto const with = [&](int matings, int changes) {
        return fitness_of(
            check_fitness({}, std::vector{ItemHistory{"TC1", matings, changes, true}}, limits, Day{0}));
    };
    EXPECT_TRUE(with(179, 8).empty());
    EXPECT_EQ(with(180, 0), std::vector{Fitness::warned});
    EXPECT_EQ(with(200, 0), std::vector{Fitness::warned});
    EXPECT_EQ(with(201, 0), std::vector{Fitness::refused});
    EXPECT_EQ(with(0, 11), std::vector{Fitness::refused});
    EXPECT_EQ(with(201, 10), (std::vector{Fitness::refused, Fitness::warned}));
    limits.matings.reset(); // no limit set: nothing said
    EXPECT_TRUE(with(100000, 0).empty());
}

TEST(Register, end_faces)
{
    RegisterLimits limits;
    std::vector<ItemHistory> const unknown{{"TC1", 0, 0, std::nullopt}};
    EXPECT_TRUE(check_fitness({}, unknown, limits, Day{0}).empty());
    limits.end_faces_required = true;
    EXPECT_TRUE(any_refused(check_fitness({}, unknown, limits, Day{0})));
    EXPECT_TRUE(any_refused(
        check_fitness({}, std::vector{ItemHistory{"TC1", 0, 0, false}}, RegisterLimits{}, Day{0})));
}

TEST(Register, an_override_needs_person_and_reason)
{
    RegisterLimits limits;
    limits.matings = 1;
    std::vector<ItemHistory> const worn{{"TC1", 5, 0, true}};
    for (Override const& decision : {Override{"TC1", "", "spare is on its way"}, Override{"TC1", "lead", " "},
                                     Override{"TC2", "lead", "spare is on its way"}}) {
        EXPECT_TRUE(any_refused(check_fitness({}, worn, limits, Day{0}, std::vector{decision})));
    }
    auto const findings =
        check_fitness({}, worn, limits, Day{0}, std::vector{Override{"TC1", "lead", "spare is on its way"}});
    ASSERT_EQ(fitness_of(findings), std::vector{Fitness::overridden});
    EXPECT_EQ(findings[0].override_reason, "lead: spare is on its way");
    EXPECT_FALSE(any_refused(findings));
}

} // namespace register_test
} // namespace guidepin::setup
