// SPDX-License-Identifier: Apache-2.0
#include "watch/expectation.hpp"

#include "watch/robust.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>

namespace guidepin::watch {

namespace {

// Readings are counted in cells of 5 mdB, far finer than any reading is certain. A reading outside counts at
// the edge.
constexpr double lowest = -2;
constexpr double cell_width = 0.005;
constexpr std::size_t cell_count = 2400;

std::size_t cell_of(double excess)
{
    double const place = (excess - lowest) / cell_width;
    return static_cast<std::size_t>(std::clamp(place, 0.0, static_cast<double>(cell_count - 1)));
}

double third_cumulant(double sd, double skewness)
{
    return skewness * sd * sd * sd;
}

// A skewness beyond this has no quartiles worth inverting; 1.5 is that of a single connection twice as skewed
// as grade A to D.
double usable(double skewness)
{
    return std::clamp(skewness, -1.5, 1.5);
}

} // namespace

loss::ShiftedGamma Expected::distribution() const
{
    return loss::shifted_gamma_of_cumulants(mean, sd * sd, third_cumulant(sd, skewness));
}

Expected expected_before(loss::ShiftedGamma const& joints, double reading_u)
{
    Expected expected;
    expected.mean = joints.mean();
    expected.sd = std::hypot(joints.sd(), reading_u);
    expected.skewness = expected.sd > 0 ? joints.skewness() * std::pow(joints.sd() / expected.sd, 3) : 0;
    return expected;
}

double SiteExpectation::Population::quantile(double p, Population const* left_out) const
{
    double const wanted = p * (fibres - (left_out ? left_out->fibres : 0));
    double below = 0;
    for (std::size_t i = 0; i < cells.size(); ++i) {
        double const here = cells[i] - (left_out ? left_out->cells[i] : 0);
        if (here > 0 && below + here >= wanted)
            return lowest + cell_width * (static_cast<double>(i) + (wanted - below) / here);
        below += here;
    }
    return lowest + cell_width * cell_count;
}

void SiteExpectation::add(PopulationKey const& key, std::span<double const> excess)
{
    auto& population = populations_[key];
    if (population.cells.empty()) population.cells.assign(cell_count, 0);
    double fibres = 0;
    for (double const value : excess) {
        if (std::isnan(value)) continue;
        ++population.cells[cell_of(value)];
        fibres += 1;
    }
    if (fibres == 0) return;
    population.fibres += fibres;
    population.worth += std::min(fibres, design_.fibres_per_link);
    population.links += 1;
}

Expected SiteExpectation::expected_without(PopulationKey const& key, Expected const& before, double reading_u,
                                           SiteExpectation const* left_out) const
{
    auto const found = populations_.find(key);
    if (found == populations_.end() || !(before.sd > 0)) return before;
    auto const& population = found->second;
    Population const* out = nullptr;
    if (left_out) {
        auto const own = left_out->populations_.find(key);
        if (own != left_out->populations_.end() && !own->second.cells.empty()) out = &own->second;
    }
    if (population.fibres - (out ? out->fibres : 0) < 4) return before;
    // The form of the distribution is the prediction's; its place and width are read off the site's
    // quartiles.
    auto const form = loss::shifted_gamma_of_cumulants(0, 1, usable(before.skewness));
    double const low = form.quantile(.25);
    double const high = form.quantile(.75);
    double const middle = form.quantile(.5);
    double const sd = (population.quantile(.75, out) - population.quantile(.25, out)) / (high - low);
    double const mean = population.quantile(.5, out) - sd * middle;

    Expected site = before;
    double const worth = population.worth - (out ? out->worth : 0);
    site.links = population.links - (out ? out->links : 0);
    site.site_weight = worth / (worth + design_.prior_fibres);
    site.mean = before.mean + site.site_weight * (mean - before.mean);
    double const variance = before.sd * before.sd + site.site_weight * (sd * sd - before.sd * before.sd);
    // Readings cannot scatter less than their own error.
    site.sd = std::sqrt(std::max(variance, reading_u * reading_u));
    // The joints keep their own skewness; the reading's share of the scatter has none.
    double const natural_before = std::sqrt(std::max(0.0, before.sd * before.sd - reading_u * reading_u));
    double const natural = std::sqrt(std::max(0.0, site.sd * site.sd - reading_u * reading_u));
    if (natural_before > 0) {
        double const own = before.skewness * std::pow(before.sd / natural_before, 3);
        site.skewness = own * std::pow(natural / site.sd, 3);
    }
    return site;
}

double LinkSurprise::surprise() const
{
    return -std::log10(std::max(link, 1e-300));
}

LinkSurprise surprise_of(std::span<LinkPart const> parts, ExpectationDesign const& design)
{
    LinkSurprise result;
    double worst = 1;
    double readings = 0;
    double best_offset = 1;
    double wavelengths = 0;
    for (auto const& part : parts) {
        auto const& expected = part.expected;
        std::vector<double> away;
        double present = 0;
        bool const usable_part = expected.sd > 0;
        auto const distribution = expected.distribution();
        for (double const value : part.excess) {
            bool const counts = usable_part && !std::isnan(value);
            result.chance.push_back(counts ? distribution.survival(value)
                                           : std::numeric_limits<double>::quiet_NaN());
            if (!counts) continue;
            away.push_back(value - expected.mean);
            present += 1;
            if (result.chance.back() < worst) {
                worst = result.chance.back();
                result.worst = result.chance.size() - 1;
            }
        }
        if (present == 0) continue;
        readings += present;
        wavelengths += 1;
        // The plain mean would let one bad fibre raise the whole link; a clipped one has nearly the same
        // spread.
        double const offset = huber_location(away, expected.sd, 2.0);
        double const own = expected.sd * std::sqrt(1.01 / present);
        double const sd = std::hypot(own, design.common_sd);
        double const skewness = expected.skewness / std::sqrt(present) * std::pow(own / sd, 3);
        double const chance =
            loss::shifted_gamma_of_cumulants(0, sd * sd, third_cumulant(sd, skewness)).survival(offset);
        if (chance < best_offset) {
            best_offset = chance;
            result.offset_db = offset;
        }
    }
    if (readings == 0) return result;
    // Wavelengths of one fibre move together, so this counts too many independent readings. That errs on the
    // safe side.
    result.worst_fibre = -std::expm1(readings * std::log1p(-worst));
    result.whole_link = std::min(1.0, wavelengths * best_offset);
    result.link = std::min(1.0, 2 * std::min(result.worst_fibre, result.whole_link));
    return result;
}

} // namespace guidepin::watch
