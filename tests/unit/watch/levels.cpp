// SPDX-License-Identifier: Apache-2.0
// Levels of references. Oracles: closed form for one reference and one kind; simulated normal values with
// known errors, printed seed.
#include "watch/levels.hpp"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace guidepin::watch {
namespace levels_test {

double log_density(double x, double variance)
{
    return -0.5 * (x * x / variance + std::log(variance));
}

TEST(ReferenceLevels, OneReferenceOfOneKindHasTheClosedForm)
{
    LevelDesign const design;
    double const grade = 0.24, common = 0.1, u = 0.02, seen = -0.45;
    std::vector<LevelSeen> const one{{0, 0, seen, u}};
    std::vector<LevelKind> const kinds{{0, grade, common}};
    Level const level = reference_levels(one, kinds, 1, design).front();
    double const size = seen - design.quality * grade;
    double const natural = grade * grade * (std::pow(design.quality_sd, 2) + std::pow(design.layout_sd, 2)) +
                           common * common + u * u + std::pow(design.reference_sd, 2);
    EXPECT_NEAR(level.size_db, size, 1e-9);
    EXPECT_NEAR(level.u_db, std::sqrt(natural), 1e-6); // 1e-8 of variance keeps the matrix positive
    double const odds = log_density(size, natural + std::pow(design.fault_sd, 2)) -
                        log_density(size, natural) + std::log(design.rate / (1 - design.rate)) +
                        std::log(2 * design.low_share);
    EXPECT_NEAR(level.probability, 1 / (1 + std::exp(-odds)), 1e-5);
    EXPECT_FALSE(level.compared);
}

TEST(ReferenceLevels, OfTwoThatDifferTheOneThatGlassForbidsIsWrong)
{
    std::vector<LevelSeen> const two{{0, 0, 0.12, 0.02}, {1, 0, -0.38, 0.02}};
    std::vector<LevelKind> const kinds{{0, 0.24, 0.17}};
    auto const levels = reference_levels(two, kinds, 2);
    EXPECT_LT(levels[0].probability, 0.1);
    EXPECT_GT(levels[1].probability, 0.95);
    EXPECT_NEAR(levels[1].size_db, -0.5, 0.03);
    EXPECT_TRUE(levels[0].compared && levels[1].compared);
}

TEST(ReferenceLevels, SizesAndNamesOfSimulatedFaults)
{
    std::mt19937_64 random(4711);
    std::normal_distribution<double> normal;
    std::size_t wrong = 0, named = 0, falsely = 0, sound = 0, within = 0;
    for (int site = 0; site < 200; ++site) {
        double const quality = 0.4 + 0.4 * std::uniform_real_distribution<double>()(random);
        std::vector<LevelKind> const kinds{{0, 0.24, 0.1}, {0, 0.36, 0.1}, {0, 0.24, 0.1}};
        std::vector<LevelSeen> seen;
        std::vector<double> error;
        for (std::size_t r = 0; r < 6; ++r) {
            error.push_back(r == 2 ? -0.35 : 0);
            double const own = 0.03 * normal(random);
            for (std::size_t k = 0; k < kinds.size(); ++k)
                if (r % 3 != k)
                    seen.push_back(
                        {r, k, quality * kinds[k].grade_db + error[r] + own + 0.015 * normal(random), 0.015});
        }
        auto const levels = reference_levels(seen, kinds, 6);
        for (std::size_t r = 0; r < 6; ++r) {
            bool const told = levels[r].probability > 0.6;
            wrong += error[r] != 0 ? 1 : 0;
            named += error[r] != 0 && told ? 1 : 0;
            sound += error[r] == 0 ? 1 : 0;
            falsely += error[r] == 0 && told ? 1 : 0;
            within += std::abs(levels[r].size_db - error[r]) < 2 * levels[r].u_db ? 1 : 0;
        }
    }
    EXPECT_GE(named, wrong * 98 / 100);
    EXPECT_LE(falsely, sound / 200);
    EXPECT_GE(within, (wrong + sound) * 95 / 100);
}

} // namespace levels_test
} // namespace guidepin::watch
