// SPDX-License-Identifier: Apache-2.0
// Positions of the test cords that read more or less under one reference: what one position of all its links
// shares.
#include "cause/inside.hpp"
#include "cause/series_fit.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace guidepin::cause {

namespace {

// No session has more dirty positions than its readings could separate.
constexpr int most_cord_effects = 6;
constexpr std::size_t least_cord_links = 5;
// In dB: what is below stays in the links' residuals.
constexpr double least_cord_effect = 0.08;
// In log odds: if the other cord explains the readings nearly as well, either may be it.
constexpr double near_tie = 3;

/// The likeliest position of one cord.
struct LikelyPosition
{
    CordEffect effect;
    double log_odds = -1e9;
};

LikelyPosition likely_position(Explainer::Site::CordSeries const& series, bool tail, double log_prior)
{
    LikelyPosition best;
    if (series.links < least_cord_links) return best;
    for (std::size_t p = 1; p < series.values.size(); ++p) {
        CordFit const fit = fit_cord(series.values[p], series.index[p], series.sd);
        double const here = fit.log_factor + log_prior;
        if (here <= best.log_odds) continue;
        best.log_odds = here;
        CordEffect effect;
        effect.tail = tail;
        effect.position = static_cast<int>(p);
        effect.from = fit.from;
        effect.size = fit.size;
        effect.u = fit.u;
        std::vector<double> after;
        for (std::size_t i = 0; i < series.steps[p].size(); ++i) {
            if (series.index[p][i] >= fit.from && std::isfinite(series.steps[p][i]))
                after.push_back(series.steps[p][i]);
        }
        if (after.size() >= 3) effect.step = median_of(after);
        best.effect = effect;
    }
    return best;
}

} // namespace

void Explainer::Site::fit_cords(Session& session) const
{
    double const rate = priors->rate_of(Cause::test_cord_position);
    int plug = 0;
    for (std::uint32_t const link : session.links)
        plug = std::max(plug, static_cast<int>(columns->links[link].positions));
    double const log_prior = std::log(rate / (2.0 * plug));
    // Strongest first, one after the other.
    for (int round = 0; round < most_cord_effects; ++round) {
        std::array const sides{likely_position(cord_series(session, false, plug), false, log_prior),
                               likely_position(cord_series(session, true, plug), true, log_prior)};
        std::size_t side = sides[1].log_odds > sides[0].log_odds ? 1 : 0;
        bool const either = sides[1 - side].log_odds > sides[side].log_odds - near_tie;
        // If the readings fit both cords, the launch cord's position is the one that is named first.
        if (either && sides[0].log_odds > 0) side = 0;
        CordEffect effect = sides[side].effect;
        if (sides[side].log_odds <= 0 || std::abs(effect.size) < least_cord_effect) break;
        effect.probability = sharpened(sides[side].log_odds);
        effect.either = either;
        effect.other = sides[1 - side].effect.position;
        session.cords.push_back(effect);
    }
}

Explainer::Site::CordSeries Explainer::Site::cord_series(Session const& session, bool tail, int plug) const
{
    CordSeries out;
    out.values.resize(static_cast<std::size_t>(plug) + 1);
    out.index.resize(static_cast<std::size_t>(plug) + 1);
    out.steps.resize(static_cast<std::size_t>(plug) + 1);
    double spread = 0;
    std::vector<double> base_here, step_here, turn_here;
    for (std::size_t i = 0; i < session.links.size(); ++i) {
        std::uint32_t const link = session.links[i];
        LinkRow const& row = columns->links[link];
        if (!condensed[link].usable) continue;
        Population const& population = populations[row.kind];
        residuals(link, base_here, step_here, turn_here);
        plant::PositionMap const& map = row.map_known ? row.a_to_b : kind_of(link).a_to_b;
        for (int p = 1; p <= row.positions; ++p) {
            auto const at = static_cast<std::size_t>(p - 1);
            if (!std::isfinite(base_here[at])) continue;
            for (std::size_t d = 0; d < 2; ++d) {
                if (!row.measured[d]) continue;
                double value = base_here[at] - population.fibre_mean;
                if (std::isfinite(turn_here[at])) value += (d == 0 ? 0.5 : -0.5) * turn_here[at];
                int const here = tail == (d == 1) ? p : map.at(p); // launch from A: the launch cord is at A
                if (here < 1 || here > plug) continue;
                out.values[static_cast<std::size_t>(here)].push_back(value);
                out.index[static_cast<std::size_t>(here)].push_back(i);
                out.steps[static_cast<std::size_t>(here)].push_back(step_here[at]);
            }
        }
        spread += population.fibre_sd * population.fibre_sd + population.link_sd * population.link_sd;
        ++out.links;
    }
    if (out.links > 0) out.sd = std::sqrt(spread / static_cast<double>(out.links));
    return out;
}

Explainer::Site::CordLoss Explainer::Site::cords_at(std::size_t link, std::size_t direction,
                                                    int position) const
{
    LinkRow const& row = columns->links[link];
    if (row.reference == none) return {};
    Session const& session = sessions[row.reference];
    if (session.cords.empty()) return {};
    int const far = (row.map_known ? row.a_to_b : kind_of(link).a_to_b).at(position);
    CordLoss sum;
    for (CordEffect const& cord : session.cords) {
        int const here = cord.tail == (direction == 1) ? position : far;
        if (here == cord.position && place_in_session[link] >= cord.from) {
            sum.base += cord.size;
            sum.step += cord.step;
        }
    }
    return sum;
}

} // namespace guidepin::cause
