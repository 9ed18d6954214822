// SPDX-License-Identifier: Apache-2.0
// Oracles: what populations of joints do, worked with an independent program (numpy 1.24, scipy 1.10):
// offsets of several connectors, correlation within a mating, a component model of a ferrule, other families
// of distribution through the same two figures of a grade. Random checks are held to four standard errors of
// this test's own draws and, where said, half a unit of the last place of the worked figure.
#include "loss/distribution.hpp"
#include "loss/geometry.hpp"
#include "loss/random.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>

#include <gtest/gtest.h>

namespace guidepin::loss {
namespace populations_test {

constexpr double degree = std::numbers::pi / 180;

TEST(Populations, LargestOffsetOfSeveralConnectors)
{
    // Rayleigh offsets of mean 3.58 um (Pepeljugoski et al., J. Lightwave Technol. 21 (2003) 1256): what any
    // of n connectors exceeds with 5 %. Worked: 6.99, 7.75, 8.16, 8.44 um. Drawn here, not by the formula.
    std::vector<double> const worked{6.99, 7.75, 8.16, 8.44};
    double const s = 3.58 / std::sqrt(std::numbers::pi / 2);
    Random random{1256};
    constexpr int draws = 100000;
    for (int n = 1; n <= 4; ++n) {
        int above = 0;
        for (int i = 0; i < draws; ++i) {
            double largest = 0;
            for (int k = 0; k < n; ++k)
                largest = std::max(largest, s * std::hypot(random.normal(), random.normal()));
            above += largest > worked[static_cast<std::size_t>(n - 1)] ? 1 : 0;
        }
        // The figure is printed to .005 um, which is .0002 of the share at most.
        EXPECT_NEAR(static_cast<double>(above) / draws, .05, 4 * std::sqrt(.05 * .95 / draws) + 2e-4) << n;
    }
}

TEST(Populations, PlayOfThePinsAndWhatFibresShare)
{
    // 1 um of opposite play on pins 4.6 mm apart turns the row by 1/4600: .299 um at the outer fibre.
    EXPECT_NEAR(position_mm(12) * 1000 / 4600, .299, 5e-4);
    // A common pin error of .25 um beside .30 um of each half and fibre (each axis): correlation .07 of the
    // losses of two fibres of one mating.
    Random random{61754};
    constexpr int draws = 200000;
    double a_sum = 0, b_sum = 0, aa = 0, bb = 0, ab = 0;
    for (int i = 0; i < draws; ++i) {
        double const px = .25 * random.normal(), py = .25 * random.normal();
        auto const fibre = [&] {
            double const x = px + .30 * random.normal() - .30 * random.normal();
            double const y = py + .30 * random.normal() - .30 * random.normal();
            return offset_loss(std::hypot(x, y), 4.6, 4.6).value();
        };
        double const a = fibre(), b = fibre();
        a_sum += a;
        b_sum += b;
        aa += a * a;
        bb += b * b;
        ab += a * b;
    }
    double const n = draws;
    double const covariance = ab / n - a_sum / n * (b_sum / n);
    double const correlation =
        covariance / std::sqrt((aa / n - a_sum * a_sum / n / n) * (bb / n - b_sum * b_sum / n / n));
    // Of squares of normals the correlation is that of the offsets squared: (.0625 / .2425)^2.
    EXPECT_NEAR(correlation, .0625 / .2425 * (.0625 / .2425), 5 / std::sqrt(n));
    EXPECT_NEAR(correlation, .07, .005 + 5 / std::sqrt(n));
}

TEST(Populations, AComponentModelOfAFerrule)
{
    // Each half and axis: hole .30 um, concentricity .15 um, fibre free in a disc of .25 um; pins .20 um in
    // common; mode-field diameter 9.2 um with .2 um, tilt .1 degrees an axis. Worked with 400,000 matings:
    // means .1215 offset, .0069 tilt, .0041 mode field; total .1325, 97 % within .435 dB.
    Random random{613003};
    constexpr int draws = 200000;
    double offset_sum = 0, tilt_sum = 0, mode_sum = 0, squares = 0;
    std::vector<double> totals;
    for (int i = 0; i < draws; ++i) {
        double x = .20 * random.normal(), y = .20 * random.normal();
        for (int half = 0; half < 2; ++half) {
            double const r = .25 * std::sqrt(random.uniform()),
                         turn = 2 * std::numbers::pi * random.uniform();
            x += .30 * random.normal() + .15 * random.normal() + r * std::cos(turn);
            y += .30 * random.normal() + .15 * random.normal() + r * std::sin(turn);
        }
        double const w1 = (9.2 + .2 * random.normal()) / 2, w2 = (9.2 + .2 * random.normal()) / 2;
        double const tilt = .1 * degree * std::hypot(random.normal(), random.normal());
        double const offset = offset_loss(std::hypot(x, y), 4.6, 4.6).value();
        double const tilted = tilt_loss(tilt, 4.6, 4.6, 1.31, 1.4677).value();
        double const mode = mode_field_loss(w1, w2).value();
        offset_sum += offset;
        tilt_sum += tilted;
        mode_sum += mode;
        totals.push_back(offset + tilted + mode);
        squares += totals.back() * totals.back();
    }
    double const n = draws, mean = (offset_sum + tilt_sum + mode_sum) / n;
    double const error = std::sqrt((squares / n - mean * mean) / n);
    EXPECT_NEAR(offset_sum / n, .1215, 5e-5 + 6 * error) << "the worked figure is drawn as well";
    EXPECT_NEAR(tilt_sum / n, .0069, 1e-4);
    EXPECT_NEAR(mode_sum / n, .0041, 1e-4);
    EXPECT_NEAR(mean, .1325, 5e-5 + 6 * error);
    auto const at = totals.begin() + static_cast<std::ptrdiff_t>(.97 * n);
    std::nth_element(totals.begin(), at, totals.end());
    EXPECT_NEAR(*at, .435, .006); // the 97 % value of so many draws has a standard error of .0013
}

TEST(Populations, TheFamilyOfDistributionMattersLittle)
{
    // Four connections, each on both figures of grade B (.12, .25 dB), above .75 dB: gamma .0191, log-normal
    // .0200, floor and exponential .0183, Rayleigh in dB .0224, Rice offsets .0196. Drawn with their worked
    // parameters; the normal would give .00995.
    Random random{97};
    auto const exponential = [&](double mean) { return -mean * std::log(random.uniform()); };
    struct Family
    {
        char const* name;
        double worked;
        std::function<double()> draw;
    };
    std::vector<Family> const families{
        {"gamma", .01909, [&] { return .02802 * random.gamma(4.2828); }},
        {"log-normal", .0200, [&] { return std::exp(-2.2181 + .4422 * random.normal()); }},
        {"floor and exponential", .0183, [&] { return .0681 + exponential(.0519); }},
        {"Rayleigh in dB", .0224, [&] { return .0957 * std::hypot(random.normal(), random.normal()); }},
        {"Rice offsets", .0196, [&] {
             double const x = .712 + .197 * random.normal(), y = .197 * random.normal();
             return offset_loss(std::hypot(x, y), 4.6, 4.6).value();
         }}};
    constexpr int draws = 150000;
    for (Family const& family : families) {
        int above = 0;
        for (int i = 0; i < draws; ++i) {
            double sum = 0;
            for (int k = 0; k < 4; ++k) sum += family.draw();
            above += sum > .75 ? 1 : 0;
        }
        double const share = static_cast<double>(above) / draws;
        // Parameters printed to three or four figures move the share by up to .0004.
        EXPECT_NEAR(share, family.worked, 4 * std::sqrt(.02 / draws) + 4e-4) << family.name;
        EXPECT_GT(share, .0165) << family.name;
        EXPECT_LT(share, .0240) << family.name;
    }
    double const z = (.75 - .48) / .1160;
    EXPECT_NEAR(1 - normal_cdf(z), .00995, 5e-5);
    EXPECT_NEAR(1 - normal_cdf((1.2 - .74) / .1791), .00511, 5e-5);
    for (auto const& [p, quantile] :
         std::vector<std::pair<double, double>>{{.95, 1.645}, {.97, 1.881}, {.99, 2.326}, {.999, 3.090}})
        EXPECT_NEAR(normal_quantile(p), quantile, 5e-4);
}

} // namespace populations_test
} // namespace guidepin::loss
