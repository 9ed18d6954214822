// SPDX-License-Identifier: Apache-2.0
// Graded-index multimode: power is a density over phase space (place r, angle theta), a mode group a shell
// r^2/a^2 + theta^2/theta0^2 = x^2, and a connection keeps what lies inside the displaced ball of the next
// fibre.
#include "loss/geometry.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace guidepin::loss {

namespace {

// G(q) = integral of W(sqrt q) dq from 0: what a launch holds per unit of angle area up to the shell x^2 = q.
class ShellPower
{
  public:
    explicit ShellPower(Launch const& launch)
    {
        double before = launch.weight(0);
        for (std::size_t i = 1; i <= cells; ++i) {
            auto const at = static_cast<double>(i);
            double const middle = launch.weight(std::sqrt((at - 0.5) / cells));
            double const after = launch.weight(std::sqrt(at / cells));
            sum_.push_back(sum_.back() + (before + 4 * middle + after) / (6 * cells)); // Simpson
            before = after;
        }
    }
    double upto(double q) const
    {
        double const place = std::clamp(q, 0.0, 1.0) * cells;
        auto const i = std::min(static_cast<std::size_t>(place), cells - 1);
        return sum_[i] + (sum_[i + 1] - sum_[i]) * (place - static_cast<double>(i));
    }

  private:
    static constexpr std::size_t cells = 4000;
    std::vector<double> sum_{0};
};

} // namespace

double Launch::weight(double x) const
{
    return overfilled ? 1 : 1 / (1 + std::exp((x - edge) / width));
}

Decibel overfilled_offset_loss(double d, double a)
{
    double const t = std::abs(d) / a;
    if (t >= 2) return Decibel{std::numeric_limits<double>::infinity()};
    double const kept =
        2 / std::numbers::pi * (std::acos(t / 2) - t / 6 * (5 - t * t / 2) * std::sqrt(1 - t * t / 4));
    return Decibel{-10 * std::log10(kept)};
}

double encircled_flux(Launch const& launch, double r, double a)
{
    ShellPower const shells{launch};
    constexpr int steps = 2000;
    double inside = 0;
    double all = 0;
    double const edge = std::min(r / a, 1.0);
    for (int i = 0; i < steps; ++i) {
        double const share = (i + 0.5) / steps;
        double const near = share * edge;
        inside += near * (shells.upto(1) - shells.upto(near * near));
        all += share * (shells.upto(1) - shells.upto(share * share));
    }
    return inside * edge / all;
}

Decibel phase_space_loss(Launch const& launch, double d, double core_ratio, double aperture_ratio, double a)
{
    ShellPower const shells{launch};
    double const shift = std::abs(d) / a;
    constexpr int rings = 400;
    constexpr int spokes = 240;
    double sent = 0;
    double kept = 0;
    for (int i = 0; i < rings; ++i) {
        double const r = (i + 0.5) / rings;
        double const below = shells.upto(r * r);
        sent += r * (shells.upto(1) - below);
        double ring = 0;
        for (int j = 0; j < spokes; ++j) { // half a circle: the other half is its mirror image
            double const angle = std::numbers::pi * (j + 0.5) / spokes;
            double const away = r * r - 2 * r * shift * std::cos(angle) + shift * shift;
            double const accepted = (1 - away / (core_ratio * core_ratio)) * aperture_ratio * aperture_ratio;
            if (accepted > 0) ring += shells.upto(r * r + accepted) - below;
        }
        kept += r * ring / spokes;
    }
    return Decibel{-10 * std::log10(kept / sent)};
}

Decibel core_mismatch_loss(double core1, double core2)
{
    return Decibel{core2 >= core1 ? 0 : -20 * std::log10(core2 / core1)};
}

Decibel aperture_mismatch_loss(double na1, double na2)
{
    return Decibel{na2 >= na1 ? 0 : -20 * std::log10(na2 / na1)};
}

Decibel profile_mismatch_loss(double alpha1, double alpha2)
{
    return Decibel{alpha2 >= alpha1 ? 0 : -10 * std::log10(alpha2 * (alpha1 + 2) / (alpha1 * (alpha2 + 2)))};
}

} // namespace guidepin::loss
