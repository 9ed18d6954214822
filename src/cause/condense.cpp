// SPDX-License-Identifier: Apache-2.0
// From cells to three numbers a fibre (loss, step between wavelengths, turn between directions), and what
// these are on healthy links.
#include "cause/inside.hpp"
#include "watch/robust.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace guidepin::cause {

namespace {

// Few links are shrunk: a kind's group counts like this many links of the kind, and the prediction like this
// many of the group.
constexpr double links_like_a_kind = 8;
constexpr double links_like_a_group = 4;
// Step for each dB of a joint's loss. Offset loses 0.783 at 1550 nm of what it loses at 1310 nm (Marcuse
// 1977).
constexpr double step_slope_single_mode = -0.22;
constexpr double step_slope_multimode = -0.05;
// In dB: two references whose middles differ by more than this disagree.
constexpr double references_disagree = 0.12;
constexpr float nan = std::numeric_limits<float>::quiet_NaN();

struct Sample
{
    std::vector<double> middle, fibre, step_middle, step, turn_middle, turn;
    std::map<std::uint32_t, std::vector<double>> by_reference;
    double base_of_first = 0, base_of_last = 0, count = 0;
};

double spread_of(std::vector<double>& values)
{
    if (values.size() < 4) return std::numeric_limits<double>::quiet_NaN();
    double const middle = median_of(values);
    for (double& value : values) value = std::abs(value - middle);
    return watch::mad_to_sd * median_of(values);
}

/// Half the distance between quartiles, as a standard deviation: a skewed sample has its middle elsewhere.
double quartile_spread(std::vector<double>& values)
{
    if (values.size() < 8) return std::numeric_limits<double>::quiet_NaN();
    auto const at = [&](double p) {
        auto const place =
            values.begin() + static_cast<std::ptrdiff_t>(p * static_cast<double>(values.size() - 1));
        std::nth_element(values.begin(), place, values.end());
        return *place;
    };
    return (at(0.75) - at(0.25)) / 1.349;
}

double mixed(double own, double weight, double before)
{
    return std::isfinite(own) ? (own * weight + before * (1 - weight)) : before;
}
/// Variances are what mixes.
double mixed_sd(double own, double weight, double before)
{
    return std::isfinite(own) ? std::sqrt(own * own * weight + before * before * (1 - weight)) : before;
}

/// Middle of the references' middles, so that one reference that is off does not move it.
double centre_of(Sample& sample, double group_centre, bool group_knows)
{
    std::vector<double> middles;
    for (auto& [reference, values] : sample.by_reference) {
        if (values.size() >= 3) middles.push_back(median_of(values));
    }
    if (middles.size() >= 3) return median_of(middles);
    if (middles.size() == 2) {
        // When two disagree, links of the group under other references decide. Else: a reference is taken
        // through a loss too much far sooner than through a loss too little, so the lower readings are the
        // doubtful ones.
        if (std::abs(middles[0] - middles[1]) > references_disagree) {
            if (!group_knows) return std::max(middles[0], middles[1]);
            return std::abs(middles[0] - group_centre) < std::abs(middles[1] - group_centre) ? middles[0]
                                                                                             : middles[1];
        }
    }
    return median_of(sample.middle);
}

void add_to(Sample& sample, Explainer::Site const& site, std::size_t link)
{
    LinkRow const& row = site.columns->links[link];
    Condensed const& c = site.condensed[link];
    double const middle = site.base_of(link, true);
    sample.middle.push_back(middle);
    sample.by_reference[row.reference].push_back(middle);
    if (c.has_step) sample.step_middle.push_back(c.step);
    if (c.has_turn) sample.turn_middle.push_back(c.turn);
    for (std::size_t p = 0; p < row.positions; ++p) {
        std::size_t const place = row.first_place + p;
        if (!std::isfinite(site.base[place])) continue;
        sample.fibre.push_back(site.base[place] - c.base);
        if (std::isfinite(site.step[place])) sample.step.push_back(site.step[place] - c.step);
        if (std::isfinite(site.turn[place])) sample.turn.push_back(site.turn[place] - c.turn);
    }
}

/// Returns what the links of one kind or one group show, shrunk towards what was believed `before` as if
/// that came from `prior_links`.
Population learned_from(Sample& sample, Population const& before, double prior_links, bool group_knows)
{
    Population now = before;
    now.links = sample.middle.size();
    double const n = static_cast<double>(now.links);
    double const weight = n / (n + prior_links);
    now.centre = mixed(sample.middle.empty() ? nan : centre_of(sample, before.centre, group_knows), weight,
                       before.centre);
    std::vector<double> within; // about the middle of its own reference
    for (auto& [reference, values] : sample.by_reference) {
        double const middle = median_of(values);
        for (double const value : values) within.push_back(value - middle);
    }
    now.link_sd = mixed_sd(spread_of(within), weight, before.link_sd);
    now.fibre_sd = mixed_sd(quartile_spread(sample.fibre), weight, before.fibre_sd);
    now.step = mixed(median_of(sample.step_middle), weight, before.step);
    now.step_link_sd = mixed_sd(spread_of(sample.step_middle), weight, before.step_link_sd);
    now.step_sd = mixed_sd(quartile_spread(sample.step), weight, before.step_sd);
    now.turn_link_sd = mixed_sd(spread_of(sample.turn_middle), weight, before.turn_link_sd);
    now.turn_sd = mixed_sd(quartile_spread(sample.turn), weight, before.turn_sd);
    return now;
}

/// Returns what a kind of link should show by its prediction alone.
Population predicted(LinkKind const& kind)
{
    Population population;
    double const noise = kind.own_u * kind.own_u / static_cast<double>(kind.wavelengths);
    population.centre = kind.natural_mean;
    population.fibre_sd = std::sqrt(kind.natural_sd * kind.natural_sd + noise);
    population.skewness = kind.natural_skewness;
    population.link_sd =
        std::max(0.02, kind.natural_sd * 1.25 /
                           std::sqrt(std::max<double>(1, static_cast<double>(kind.occupied.count()))));
    population.step_sd = std::sqrt(2 * kind.own_u * kind.own_u + 0.0025 * kind.natural_mean);
    population.step_slope = kind.multimode ? step_slope_multimode : step_slope_single_mode;
    population.step = population.step_slope * kind.natural_mean;
    population.turn_sd = 1.4 * kind.own_u; // difference of two readings
    return population;
}

/// Corrects what small or skewed samples get wrong.
void correct_spreads(Population& now, LinkKind const& kind)
{
    now.skewness = kind.natural_skewness * std::min(1.0, kind.natural_sd / std::max(now.fibre_sd, 1e-3));
    // A gamma of the grade ends a little too soon (fitted on simulated sites, seeds 100 to 199).
    now.skewness = std::clamp(1.2 * now.skewness, 0.3, 1.4);
    // Quartiles of a skewed sample lie a little closer than its standard deviation says.
    now.fibre_sd = now.fibre_sd * (1 + 0.055 * now.skewness * now.skewness);
    // Floors: a meter's own steps, and few links, make a spread look smaller than it is.
    now.fibre_sd = std::max(now.fibre_sd, 0.015);
    now.link_sd = std::max(now.link_sd, 0.012);
    now.step_sd = std::max(now.step_sd, 0.012);
    now.step_link_sd = std::max(now.step_link_sd, 0.01);
    now.turn_sd = std::max(now.turn_sd, 0.015);
    now.turn_link_sd = std::max(now.turn_link_sd, 0.01);
    // Mean less median of a gamma, in standard deviations: skewness / 6.
    now.fibre_mean = now.skewness * now.fibre_sd / 6;
}

} // namespace

double median_of(std::vector<double>& values)
{
    return watch::median_in_place(values);
}

void Explainer::Site::condense(std::size_t link)
{
    LinkRow const& row = columns->links[link];
    Condensed& out = condensed[link];
    out = {};
    for (std::size_t p = 0; p < row.positions; ++p)
        base[row.first_place + p] = step[row.first_place + p] = turn[row.first_place + p] = nan;
    if (row.kind == none) return;
    LinkKind const& kind = columns->kinds[row.kind];
    double const km = (std::isfinite(row.measured_m) ? row.measured_m : row.drawn_m) / 1000;
    std::vector<double> bases, steps, turns;
    for (int p = 1; p <= row.positions; ++p) {
        double sum = 0;
        double steps_here = 0;
        double direction[2] = {0, 0};
        int count[2] = {0, 0};
        int n = 0;
        int step_n = 0;
        for (std::size_t d = 0; d < 2; ++d) {
            if (!row.measured[d]) continue;
            double first = nan;
            double last = nan;
            for (std::size_t w = 0; w < kind.wavelengths; ++w) {
                double const value = columns->loss_db[columns->cell(row, d, w, p)];
                if (!std::isfinite(value)) continue;
                double const above = value - row.db_per_km[w] * (std::isfinite(km) ? km : 0);
                sum += above;
                direction[d] += above;
                ++count[d];
                ++n;
                if (w == 0) first = above;
                if (w + 1 == kind.wavelengths) last = above;
            }
            if (kind.wavelengths > 1 && std::isfinite(first) && std::isfinite(last)) {
                steps_here += last - first;
                ++step_n;
            }
        }
        if (n == 0) continue;
        std::size_t const place = row.first_place + static_cast<std::size_t>(p - 1);
        base[place] = static_cast<float>(sum / n);
        bases.push_back(base[place]);
        if (step_n > 0) {
            step[place] = static_cast<float>(steps_here / step_n);
            steps.push_back(step[place]);
        }
        if (count[0] > 0 && count[1] > 0) {
            turn[place] = static_cast<float>(direction[0] / count[0] - direction[1] / count[1]);
            turns.push_back(turn[place]);
        }
    }
    out.lit = static_cast<int>(bases.size());
    out.usable = !bases.empty();
    out.has_step = !steps.empty();
    out.has_turn = !turns.empty();
    if (out.usable) out.base = median_of(bases);
    if (out.has_step) out.step = median_of(steps);
    if (out.has_turn) out.turn = median_of(turns);
}

void Explainer::Site::learn_populations()
{
    std::vector<LinkKind> const& kinds = columns->kinds;
    std::uint32_t groups = 0;
    for (LinkKind const& kind : kinds) groups = std::max(groups, kind.group + 1);
    std::vector<Sample> of_kind(kinds.size()), of_group(groups);
    for (std::size_t link = 0; link < columns->links.size(); ++link) {
        if (!condensed[link].usable) continue;
        std::uint32_t const kind = columns->links[link].kind;
        add_to(of_kind[kind], *this, link);
        add_to(of_group[kinds[kind].group], *this, link);
    }
    std::vector<Population> group(groups);
    for (LinkKind const& kind : kinds) group[kind.group] = predicted(kind);
    for (std::uint32_t g = 0; g < groups; ++g)
        group[g] = learned_from(of_group[g], group[g], links_like_a_group, false);
    populations.resize(kinds.size());
    for (std::size_t k = 0; k < kinds.size(); ++k) {
        std::uint32_t const g = kinds[k].group;
        bool const group_knows = of_group[g].by_reference.size() >= 3;
        populations[k] = learned_from(of_kind[k], group[g], links_like_a_kind, group_knows);
        correct_spreads(populations[k], kinds[k]);
    }
}

} // namespace guidepin::cause
