// SPDX-License-Identifier: Apache-2.0
// One link by itself: the likeliest fault is taken off, and what is left is examined again.
#include "cause/hypotheses.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace guidepin::cause {

namespace {

// A link has no more faults than this that readings could separate.
constexpr int most_faults = 6;
// Alternatives that are less probable than this say nothing to a person.
constexpr double least_alternative = 0.01;
// Once a whole row was explained, a fibre this many standard deviations above it is a fault of its own.
constexpr double beyond_row_sds = 4;
// Below this loss at the first wavelength, in dB, a ratio of losses means nothing.
constexpr double least_loss_for_ratio = 0.02;
constexpr double ratio_without_limit = 99;

/// Returns whether nothing here is far from what healthy links show.
bool looks_healthy(Residuals const& residuals)
{
    Population const& p = *residuals.population;
    double highest = -1e9;
    double lowest = 1e9;
    double sum = 0;
    double slope = 0;
    double slope_scale = 0;
    double bow = 0;
    double bow_scale = 0;
    double step_sum = 0;
    double step_most = 0;
    double step_n = 0;
    double turn_sum = 0;
    double turn_n = 0;
    double const middle = (static_cast<double>(residuals.base.size()) + 1) / 2;
    double const third = middle * middle / 3;
    for (int const position : residuals.lit) {
        auto const i = static_cast<std::size_t>(position - 1);
        double const x = residuals.base[i] - p.fibre_mean;
        double const arm = position - middle;
        highest = std::max(highest, x);
        lowest = std::min(lowest, x);
        sum += x;
        slope += arm * x;
        slope_scale += arm * arm;
        double const curve = arm * arm - third;
        bow += curve * x;
        bow_scale += curve * curve;
        if (residuals.has_step && std::isfinite(residuals.step[i])) {
            double const s = residuals.step[i] - p.step_slope * residuals.base[i];
            step_sum += s;
            step_most = std::max(step_most, s);
            step_n += 1;
        }
        if (residuals.has_turn && std::isfinite(residuals.turn[i])) {
            turn_sum += residuals.turn[i];
            turn_n += 1;
        }
    }
    auto const n = static_cast<double>(residuals.lit.size());
    double const mean = sum / n;
    double const mean_sd = std::sqrt(p.link_sd * p.link_sd + p.fibre_sd * p.fibre_sd / n);
    if (highest > 3.2 * p.fibre_sd || lowest < -3.6 * p.fibre_sd) return false;
    if (std::abs(mean) > 2.8 * mean_sd) return false;
    if (std::abs(slope) > 3 * p.fibre_sd * std::sqrt(slope_scale)) return false;
    if (std::abs(bow) > 3 * p.fibre_sd * std::sqrt(bow_scale)) return false;
    if (step_n > 0) {
        double const sd = std::sqrt(p.step_link_sd * p.step_link_sd + p.step_sd * p.step_sd / step_n);
        if (std::abs(step_sum / step_n) > 3 * sd || step_most > 4 * p.step_sd) return false;
    }
    if (turn_n > 0) {
        double const sd = std::sqrt(p.turn_link_sd * p.turn_link_sd + p.turn_sd * p.turn_sd / turn_n);
        if (std::abs(turn_sum / turn_n) > 4 * sd) return false;
    }
    return true;
}

Residuals residuals_of(Explainer::Site const& site, std::size_t link)
{
    LinkRow const& row = site.columns->links[link];
    Residuals residuals;
    site.residuals(link, residuals.base, residuals.step, residuals.turn);
    residuals.base_var.assign(residuals.fibres(), 0);
    residuals.step_var = residuals.turn_var = residuals.base_var;
    residuals.population = &site.populations[row.kind];
    residuals.kind = &site.columns->kinds[row.kind];
    residuals.has_step = site.condensed[link].has_step;
    residuals.has_turn = site.condensed[link].has_turn;
    for (int p = 1; p <= row.positions; ++p) {
        if (std::isfinite(residuals.base[static_cast<std::size_t>(p - 1)])) residuals.lit.push_back(p);
    }
    return residuals;
}

/// Logarithm of each cause's weight, all its hypotheses together, over that of no fault.
using CauseWeights = std::array<double, cause_count>;

double weight_of(CauseWeights const& weights, Cause cause)
{
    return weights[static_cast<std::size_t>(cause)];
}

CauseWeights cause_weights(std::vector<Hypothesis> const& hypotheses)
{
    CauseWeights weights;
    weights.fill(-1e300);
    for (Hypothesis const& one : hypotheses) {
        double& weight = weights[static_cast<std::size_t>(one.cause)];
        double const both[2] = {weight, one.log_weight};
        weight = log_sum(both);
    }
    return weights;
}

/// Returns the best hypothesis of the likeliest cause.
Hypothesis const& likeliest(std::vector<Hypothesis> const& hypotheses, CauseWeights const& weights)
{
    Hypothesis const* best = &hypotheses.front();
    for (Hypothesis const& one : hypotheses) {
        if (one.log_weight > best->log_weight) best = &one;
    }
    for (Hypothesis const& one : hypotheses) {
        if (weight_of(weights, one.cause) > weight_of(weights, best->cause)) best = &one;
    }
    for (Hypothesis const& one : hypotheses) {
        if (one.cause == best->cause && one.log_weight > best->log_weight) best = &one;
    }
    return *best;
}

/// Returns the log odds of this cause against no fault and every other cause together.
double log_odds_of(Cause cause, CauseWeights const& weights)
{
    std::vector<double> rest{0.0}; // no fault
    for (std::size_t c = 0; c < cause_count; ++c) {
        if (c != static_cast<std::size_t>(cause)) rest.push_back(weights[c]);
    }
    return weight_of(weights, cause) - log_sum(rest);
}

std::vector<Alternative> alternatives_to(Cause cause, CauseWeights const& weights)
{
    std::vector<double> logs{0.0}; // no fault
    logs.insert(logs.end(), weights.begin(), weights.end());
    double const all = log_sum(logs);
    std::vector<Alternative> alternatives;
    for (std::size_t c = 0; c < cause_count; ++c) {
        double const share = std::exp(weights[c] - all);
        if (c != static_cast<std::size_t>(cause) && share > least_alternative)
            alternatives.push_back({static_cast<Cause>(c), share});
    }
    std::sort(alternatives.begin(), alternatives.end(),
              [](Alternative const& a, Alternative const& b) { return a.probability > b.probability; });
    return alternatives;
}

bool concerns(Hypothesis const& hypothesis, int position)
{
    std::vector<int> const& of = hypothesis.positions;
    return of.empty() || std::find(of.begin(), of.end(), position) != of.end();
}

/// Adds the figures that the finding's text quotes.
void add_figures(LinkFinding& finding, Residuals const& residuals, Hypothesis const& best)
{
    LinkKind const& kind = *residuals.kind;
    bool const single_mode_bend = finding.cause == Cause::macrobend && !kind.multimode;
    double steps = 0;
    double bases = 0;
    double turns = 0;
    double n = 0;
    for (int const position : residuals.lit) {
        auto const i = static_cast<std::size_t>(position - 1);
        if (!concerns(best, position)) continue;
        bases += residuals.base[i];
        if (residuals.has_step && std::isfinite(residuals.step[i])) steps += residuals.step[i];
        if (residuals.has_turn && std::isfinite(residuals.turn[i])) turns += residuals.turn[i];
        n += 1;
    }
    if (residuals.has_step && n > 0) {
        double const first = (bases - 0.5 * steps) / n;
        double const last = (bases + 0.5 * steps) / n;
        finding.ratio_known = true;
        finding.ratio = first > least_loss_for_ratio ? last / first : ratio_without_limit;
        if (single_mode_bend) finding.size = last;
    }
    if (residuals.has_turn && n > 0) {
        finding.turn_known = true;
        finding.turn = turns / n;
    }
    for (std::size_t w = 0; w < kind.wavelengths; ++w) {
        if (!single_mode_bend || kind.wavelength_nm[w] >= 1500) finding.wavelengths.push_back(w);
    }
    if (!best.positions.empty() || finding.cause != Cause::unexplained) {
        auto const first = static_cast<std::size_t>(residuals.lit.front() - 1);
        auto const last = static_cast<std::size_t>(residuals.lit.back() - 1);
        finding.slope = residuals.base[last] - residuals.base[first];
    }
}

LinkFinding finding_of(Explainer::Site const& site, Residuals const& residuals, Hypothesis const& best,
                       CauseWeights const& weights)
{
    LinkFinding finding;
    finding.cause = best.cause;
    finding.positions = best.positions;
    finding.size = best.size_mean;
    finding.u =
        std::max(best.size_sd,
                 residuals.population->fibre_sd /
                     std::sqrt(best.positions.empty() ? static_cast<double>(residuals.lit.size()) : 1.0));
    finding.probability = site.sharpened(log_odds_of(best.cause, weights));
    finding.alternatives = alternatives_to(best.cause, weights);
    add_figures(finding, residuals, best);
    return finding;
}

void take_off(Residuals& residuals, Profile const& profile)
{
    for (std::size_t i = 0; i < residuals.fibres(); ++i) {
        residuals.base[i] -= profile.base[i];
        residuals.step[i] -= profile.step[i];
        residuals.turn[i] -= profile.turn[i];
        residuals.base_var[i] += profile.base_var[i];
        residuals.step_var[i] += profile.step_var[i];
        residuals.turn_var[i] += profile.turn_var[i];
    }
}

/// Keeps the finding, or adds its position to a finding before it: dirt on neighbours of one face is one
/// particle and one finding.
void keep(std::vector<LinkFinding>& found, LinkFinding finding)
{
    if (finding.cause == Cause::dirty_end_face) {
        int const position = finding.positions.front();
        for (LinkFinding& before : found) {
            if (before.cause != finding.cause) continue;
            bool const beside = std::any_of(before.positions.begin(), before.positions.end(),
                                            [&](int other) { return std::abs(other - position) == 1; });
            if (!beside) continue;
            before.positions.push_back(position);
            std::sort(before.positions.begin(), before.positions.end());
            before.size = std::max(before.size, finding.size);
            return;
        }
    }
    found.push_back(std::move(finding));
}

/// Leaves in `lit` what is still to be explained. Returns whether that is worth a look.
bool something_left(Residuals& residuals, Hypothesis const& explained)
{
    if (explained.cause == Cause::unexplained) return false;
    if (!explained.positions.empty()) {
        // A position that was explained has the variance of its explanation; looks_healthy() must not judge
        // it again.
        std::erase_if(residuals.lit, [&](int position) { return concerns(explained, position); });
        return residuals.lit.size() >= 2;
    }
    // Once a whole row was explained, only single fibres beyond its scatter are examined.
    double const natural = residuals.population->fibre_sd * residuals.population->fibre_sd;
    return std::any_of(residuals.lit.begin(), residuals.lit.end(), [&](int position) {
        auto const i = static_cast<std::size_t>(position - 1);
        return residuals.base[i] > beyond_row_sds * std::sqrt(natural + residuals.base_var[i]);
    });
}

} // namespace

double Explainer::Site::natural_log_density(std::size_t link) const
{
    // A link is healthy or, now and then (e^-5), any fault of 0.5 dB may be on any fibre.
    constexpr double fault_variance = 0.25;
    constexpr double log_share_of_faults = -5;
    Residuals const left = residuals_of(*this, link);
    Profile profile(left.fibres());
    double const sound = log_likelihood(left, profile);
    for (std::size_t i = 0; i < left.fibres(); ++i)
        profile.base_var[i] = profile.step_var[i] = profile.turn_var[i] = fault_variance;
    double const both[2] = {sound, log_likelihood(left, profile) + log_share_of_faults};
    return log_sum(both);
}

void Explainer::Site::explain_link(std::size_t link)
{
    found[link].clear();
    if (columns->links[link].kind == none || !condensed[link].usable) return;
    Residuals left = residuals_of(*this, link);
    if (left.lit.size() < 2) return;
    for (int round = 0; round < most_faults && !looks_healthy(left); ++round) {
        std::vector<Hypothesis> const hypotheses = weighed_hypotheses(left, *priors);
        CauseWeights const weights = cause_weights(hypotheses);
        Hypothesis const& best = likeliest(hypotheses, weights);
        if (weight_of(weights, best.cause) <= 0) break; // no fault at all is likelier
        LinkFinding finding = finding_of(*this, left, best, weights);
        take_off(left, best.profile);
        keep(found[link], std::move(finding));
        if (!something_left(left, best)) break;
    }
}

} // namespace guidepin::cause
