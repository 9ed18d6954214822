// SPDX-License-Identifier: Apache-2.0
// What all links under one reference share: its level, and a change of it from some link on.
#include "cause/inside.hpp"
#include "cause/series_fit.hpp"

#include <algorithm>
#include <cmath>

namespace guidepin::cause {

namespace {

// Chosen on simulated sites: docs/methods/causes.md.
constexpr double level_sd = 0.35;        // of a wrong reference's error
constexpr double least_change_db = 0.04; // smaller changes are left in the links' residuals
constexpr double least_level_db = 0.06;
// Standard error of a median over that of a mean.
constexpr double median_factor = 1.25;

/// The links of a session that can be compared, in order of time.
struct SessionSeries
{
    std::vector<double> values; ///< level of a link, above its kind's
    std::vector<double> steps;  ///< the same of the last wavelength less the first
    std::vector<std::size_t> index;
    double sd = 0; ///< of one value on healthy links
};

SessionSeries series_of(Explainer::Site const& site, Session const& session)
{
    SessionSeries series;
    double variance = 0;
    for (std::size_t i = 0; i < session.links.size(); ++i) {
        std::uint32_t const link = session.links[i];
        Condensed const& c = site.condensed[link];
        if (!c.usable) continue;
        Population const& population = site.populations[site.columns->links[link].kind];
        series.values.push_back(c.base - population.centre);
        series.index.push_back(i);
        variance += population.link_sd * population.link_sd;
        if (c.has_step) series.steps.push_back(c.step - population.step);
    }
    series.sd = std::sqrt(variance / static_cast<double>(series.values.size()));
    return series;
}

/// Returns how much better level and change explain the raw series than the level alone: a run of bad links
/// passes the cleaning and must not pass for a change.
double gain_on_raw_series(std::vector<double> const& raw, std::vector<double> const& clean,
                          ChangeFit const& change, double level, double sd)
{
    std::vector<double> before(clean.begin(), clean.begin() + static_cast<std::ptrdiff_t>(change.from));
    double const low = median_of(before);
    auto const m = static_cast<double>(clean.size() - change.from);
    double gain = 0;
    for (std::size_t i = 0; i < raw.size(); ++i) {
        double moved = low;
        if (i >= change.from)
            moved += change.ramp ? change.size * static_cast<double>(i + 1 - change.from) / m : change.size;
        gain += mixture_log(raw[i] - moved, sd) - mixture_log(raw[i] - level, sd);
    }
    return gain;
}

double log_odds(double share)
{
    return std::log(share / (1 - share));
}

} // namespace

void Explainer::Site::fit_session(std::size_t reference)
{
    Session& session = sessions[reference];
    session.level = session.level_u = session.step_level = 0;
    session.change_probability = session.level_probability = 0;
    session.level_wrong = false;
    session.cords.clear();
    SessionSeries series = series_of(*this, session);
    if (series.values.size() < 3) return;
    double const sd = series.sd;
    std::vector<double> const clean = cleaned(series.values, sd);
    auto const fit_level = [&](std::vector<double> values) {
        session.level = median_of(values);
        session.level_u = median_factor * sd / std::sqrt(static_cast<double>(values.size()));
    };
    fit_level(clean);
    if (series.steps.size() >= 5) session.step_level = median_of(series.steps);

    ChangeFit const change = fit_change(clean, sd);
    double const gain =
        change.log_factor > 0 ? gain_on_raw_series(series.values, clean, change, session.level, sd) : 0;
    double const odds =
        std::min(change.log_factor, gain - std::log(static_cast<double>(series.values.size()))) +
        log_odds(priors->rate_of(Cause::reference_drift));
    if (odds > 0 && std::abs(change.size) > least_change_db) {
        session.change = change.size;
        session.change_u = change.u;
        session.change_from = series.index[change.from];
        session.change_earliest = series.index[change.earliest];
        session.change_latest = series.index[change.latest];
        session.ramp = change.ramp;
        session.change_probability = sharpened(odds);
        // The level is what was there before.
        std::vector<double> before;
        for (std::size_t i = 0; i < clean.size(); ++i) {
            if (series.index[i] < session.change_from) before.push_back(clean[i]);
        }
        fit_level(std::move(before));
    }
    if (KnownChange const* const known = known_change(reference)) {
        take_known_change(session, *known);
        std::vector<double> rest;
        for (std::size_t i = 0; i < clean.size(); ++i)
            rest.push_back(clean[i] - known_shift(reference, series.index[i]));
        session.level = median_of(rest);
    }
    fit_cords(session);
}

/// One fault, one start, one size: those that the watch reports. Seeing the change here too makes it surer.
void Explainer::Site::take_known_change(Session& session, KnownChange const& known) const
{
    bool const seen_too = session.change_probability > 0 && session.change * known.size.value() > 0;
    session.change = known.size.value();
    session.change_u = known.u.value();
    session.change_from = place_in_session[known.first];
    session.change_earliest = place_in_session[known.earliest];
    session.change_latest = place_in_session[known.latest];
    session.ramp = known.ramp;
    session.change_probability = std::max(seen_too ? session.change_probability : 0, known.probability);
}

void Explainer::Site::polish()
{
    // Kinds and references are a two-way table, and kinds that share a reference tie references together:
    // median polish (Tukey 1977), levels and centres in turn. A drift is no level; it has to leave both
    // alone, and does so while it holds fewer than half of the links.
    std::vector<double> level(sessions.size(), 0);
    std::vector<std::vector<double>> of_kind(populations.size());
    std::vector<double> values;
    for (int round = 0; round < 4; ++round) {
        for (std::size_t r = 0; r < sessions.size(); ++r) {
            values.clear();
            for (std::uint32_t const link : sessions[r].links) {
                if (condensed[link].usable)
                    values.push_back(base_of(link, false) - populations[columns->links[link].kind].centre);
            }
            level[r] = values.size() >= 5 ? median_of(values) : 0;
        }
        for (auto& of : of_kind) of.clear();
        for (std::size_t link = 0; link < columns->links.size(); ++link) {
            LinkRow const& row = columns->links[link];
            if (row.kind == none || !condensed[link].usable) continue;
            of_kind[row.kind].push_back(base_of(link, false) -
                                        (row.reference == none ? 0 : level[row.reference]));
        }
        for (std::size_t k = 0; k < populations.size(); ++k) {
            auto const n = static_cast<double>(of_kind[k].size());
            if (n < 5) continue;
            populations[k].centre += n / (n + 8) * (median_of(of_kind[k]) - populations[k].centre);
        }
    }
}

void Explainer::Site::fit_levels()
{
    if (auto const& known = columns->known.levels; !known.empty()) {
        for (std::size_t r = 0; r < sessions.size(); ++r) {
            sessions[r].level_wrong = r < known.size() && known[r];
            if (sessions[r].level_wrong) sessions[r].level_probability = known[r]->probability;
        }
        return;
    }
    // A reference against the others that measured links of the same kinds.
    std::vector<std::size_t> references_of_kind(columns->kinds.size(), 0);
    for (Session const& session : sessions) {
        std::vector<bool> seen(columns->kinds.size(), false);
        for (std::uint32_t const link : session.links) {
            std::uint32_t const kind = columns->links[link].kind;
            if (kind == none || seen[kind]) continue;
            seen[kind] = true;
            ++references_of_kind[kind];
        }
    }
    double const rate = priors->rate_of(Cause::reference_fault);
    for (Session& session : sessions) {
        if (session.links.size() < 4 || session.level_u <= 0) continue;
        double common = 0;
        bool compared = false;
        std::vector<double> absolute;
        for (std::uint32_t const link : session.links) {
            std::uint32_t const kind = columns->links[link].kind;
            if (kind == none || !condensed[link].usable) continue;
            common = std::max(common, columns->kinds[kind].common_u);
            if (references_of_kind[kind] > 1) compared = true;
            absolute.push_back(condensed[link].base);
        }
        double const sound = session.level_u * session.level_u + common * common;
        double const x = compared ? session.level : std::min(0.0, absolute.empty() ? 0 : median_of(absolute));
        double odds = log_normal(x, sound + level_sd * level_sd) - log_normal(x, sound) + log_odds(rate);
        // Against both directions being alike.
        odds += std::log(2 * (x < 0 ? priors->reference_too_low : priors->reference_too_high));
        if (odds > 0 && std::abs(x) > least_level_db) {
            session.level_wrong = true;
            session.level_probability = sharpened(odds);
        }
    }
}

} // namespace guidepin::cause
