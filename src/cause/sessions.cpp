// SPDX-License-Identifier: Apache-2.0
// Cross-link decomposition under each reference: links x positions x time. What all links share is the
// reference's, what one position of all links shares is the test cord's, the rest is the link's own.
#include "cause/inside.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

namespace guidepin::cause {

namespace {

constexpr double change_sd = 0.25;        // of a drift's size, before it is seen
constexpr double cord_sd = 0.6;           // of what a dirty cord position loses
constexpr double natural_position = 0.03; // by which positions of a sound reference differ
constexpr double level_sd = 0.35;         // of a wrong reference's error

/// Single links that stand out are put on the middle of their neighbours: a bad link is no drift.
std::vector<double> cleaned(std::vector<double> const& series, double sd)
{
    std::vector<double> clean = series;
    std::vector<double> near;
    auto const n = static_cast<std::ptrdiff_t>(series.size());
    for (std::ptrdiff_t i = 0; i < n; ++i) {
        near.clear();
        for (std::ptrdiff_t k = std::max<std::ptrdiff_t>(0, i - 3); k <= std::min(n - 1, i + 3); ++k)
            near.push_back(series[static_cast<std::size_t>(k)]);
        double const middle = median_of(near);
        auto const at = static_cast<std::size_t>(i);
        if (std::abs(series[at] - middle) > 3 * sd) clean[at] = middle;
    }
    return clean;
}

/// A link is healthy, or, now and then, anything: then it says nothing about its reference.
double mixture_log(double x, double sd)
{
    double const z = x / sd;
    return std::log(0.95 * std::exp(-0.5 * z * z) / (sd * 2.5066) + 0.05 * 0.3);
}

struct ChangeFit
{
    double log_factor = -1e9;
    double size = 0, u = 0;
    std::size_t from = 0, earliest = 0, latest = 0;
    bool ramp = false;
};

/// Steps and ramps from every link on, the size integrated out, all starts equally likely.
ChangeFit fit_change(std::vector<double> const& series, double sd)
{
    ChangeFit best;
    std::size_t const n = series.size();
    if (n < 8) return best;
    std::size_t const stride = std::max<std::size_t>(1, n / 200);
    double const mean = std::accumulate(series.begin(), series.end(), 0.0) / static_cast<double>(n);
    std::vector<double> suffix(n + 1, 0);
    for (std::size_t i = n; i-- > 0;) suffix[i] = suffix[i + 1] + series[i] - mean;
    struct Candidate
    {
        double log_factor, size, u;
        std::size_t from;
        bool ramp;
    };
    std::vector<Candidate> candidates;
    for (std::size_t k = 2; k + 2 <= n; k += stride) {
        auto const m = static_cast<double>(n - k);
        auto const all = static_cast<double>(n);
        auto const add = [&](double sxy, double sxx, bool ramp) {
            double const size = sxy / sxx;
            double const v = sd * sd / sxx;
            double const big = change_sd * change_sd;
            candidates.push_back({0.5 * (size * size / v * big / (big + v) - std::log1p(big / v)), size,
                                  std::sqrt(v), k, ramp});
        };
        // Step: x is 1 from k on, less its mean.
        add(suffix[k], m * (all - m) / all, false);
        // Ramp: rises evenly from k to 1 at the end.
        double sxy = 0;
        double running = 0;
        for (std::size_t i = k; i < n; ++i) running += suffix[i];
        sxy = running / m;
        double const sum = (m + 1) / 2;
        double const squares = (m + 1) * (2 * m + 1) / (6 * m);
        add(sxy, squares - sum * sum / all, true);
    }
    std::vector<double> logs;
    for (Candidate const& c : candidates) logs.push_back(c.log_factor);
    double const total = log_sum(logs);
    best.log_factor = total - std::log(static_cast<double>(candidates.size()));
    Candidate const* top = &candidates.front();
    for (Candidate const& c : candidates) {
        if (c.log_factor > top->log_factor) top = &c;
    }
    best.size = top->size;
    best.u = top->u;
    best.from = top->from;
    best.ramp = top->ramp;
    // Nine tenths of the probability over the start, of the better form.
    std::vector<std::pair<std::size_t, double>> mass;
    double sum = 0;
    for (Candidate const& c : candidates) {
        if (c.ramp != top->ramp) continue;
        mass.emplace_back(c.from, std::exp(c.log_factor - top->log_factor));
        sum += mass.back().second;
    }
    double running = 0;
    best.earliest = mass.front().first;
    best.latest = mass.back().first;
    for (auto const& [from, weight] : mass) {
        if (running < 0.05 * sum) best.earliest = from;
        if (running < 0.95 * sum) best.latest = from;
        running += weight;
    }
    return best;
}

struct CordFit
{
    double log_factor = -1e9;
    double size = 0, u = 0;
    std::size_t from = 0;
};

/// A constant from some link on, before it nothing. `series` NaN where the position was not lit.
CordFit fit_cord(std::vector<double> const& series, std::vector<std::size_t> const& index, double sd)
{
    CordFit best;
    std::size_t const n = series.size();
    if (n < 5) return best;
    std::vector<double> const clean = cleaned(series, sd);
    double const var = sd * sd;
    double const sound = natural_position * natural_position;
    double const big = cord_sd * cord_sd;
    std::vector<double> logs;
    double sum = 0;
    double most = -1e9;
    std::size_t const stride = std::max<std::size_t>(1, n / 100);
    for (std::size_t i = n; i-- > 0;) {
        sum += clean[i];
        if (n - i < 3 || (i % stride != 0 && i != 0)) continue;
        auto const m = static_cast<double>(n - i);
        double const mean = sum / m;
        double const v = var / m;
        // Against a sound cord, whose positions differ a little from the first link on.
        double const whole = log_normal(mean, v + sound + big) - log_normal(mean, v + sound);
        double const here = whole + std::log(i == 0 ? 0.5 : 0.5 / static_cast<double>(n / stride));
        logs.push_back(here);
        if (here > most) {
            most = here;
            best.size = mean * big / (big + v + sound);
            best.u = std::sqrt(v + sound);
            best.from = index[i];
        }
    }
    if (logs.empty()) return best;
    // Where it began, and whether the raw series bears it out: the start that gains most.
    double gain = 0;
    double gate = -1e9;
    for (std::size_t i = n; i-- > 0;) {
        gain += mixture_log(series[i] - best.size, sd) - mixture_log(series[i], sd);
        if (gain > gate) {
            gate = gain;
            best.from = index[i];
        }
    }
    best.log_factor = std::min(log_sum(logs), gate - 0.5 * std::log(static_cast<double>(n)));
    return best;
}

} // namespace

double log_normal(double x, double variance)
{
    return -0.5 * (x * x / variance + std::log(2 * 3.14159265358979 * variance));
}

double log_sum(std::span<double const> logs)
{
    double most = -1e300;
    for (double const value : logs) most = std::max(most, value);
    double sum = 0;
    for (double const value : logs) sum += std::exp(value - most);
    return most + std::log(sum);
}

double Session::offset(std::size_t i) const
{
    double off = level;
    if (change_probability > 0 && i >= change_from) {
        double const m = static_cast<double>(links.size() - change_from);
        off += ramp ? change * static_cast<double>(i + 1 - change_from) / m : change;
    }
    return off;
}

double Explainer::Site::sharpened(double log_odds) const
{
    return 1 / (1 + std::exp(-priors->sharpness * log_odds));
}

void Explainer::Site::build_sessions()
{
    sessions.assign(columns->references.size(), {});
    place_in_session.assign(columns->links.size(), 0);
    session_of.assign(columns->links.size(), none);
    for (std::uint32_t link = 0; link < columns->links.size(); ++link) {
        session_of[link] = columns->links[link].reference;
        if (session_of[link] != none) sessions[session_of[link]].links.push_back(link);
    }
    for (std::size_t r = 0; r < sessions.size(); ++r) order_session(r);
}

void Explainer::Site::order_session(std::size_t reference)
{
    auto& links = sessions[reference].links;
    std::sort(links.begin(), links.end(), [&](auto a, auto b) {
        std::int64_t const at = columns->links[a].taken_ms, bt = columns->links[b].taken_ms;
        return at != bt ? at < bt : a < b;
    });
    for (std::uint32_t i = 0; i < links.size(); ++i) place_in_session[links[i]] = i;
}

KnownChange const* Explainer::Site::known_change(std::size_t reference) const
{
    auto const& changes = columns->known.changes;
    return reference < changes.size() && changes[reference] ? &*changes[reference] : nullptr;
}

double Explainer::Site::known_shift(std::size_t reference, std::size_t i) const
{
    KnownChange const* const change = known_change(reference);
    if (!change) return 0;
    std::size_t const from = place_in_session[change->first];
    if (i < from) return 0;
    auto const m = static_cast<double>(sessions[reference].links.size() - from);
    return change->ramp ? change->size_db * static_cast<double>(i + 1 - from) / m : change->size_db;
}

double Explainer::Site::base_of(std::size_t link, bool level_too) const
{
    double const base_here = condensed[link].base;
    std::uint32_t const reference = columns->links[link].reference;
    if (reference == none || reference >= sessions.size()) return base_here;
    auto const& levels = columns->known.levels;
    double const level =
        level_too && reference < levels.size() && levels[reference] ? levels[reference]->size_db : 0;
    return base_here - level - known_shift(reference, place_in_session[link]);
}

std::vector<std::uint32_t> Explainer::Site::regroup(std::uint32_t link)
{
    sessions.resize(columns->references.size());
    place_in_session.resize(columns->links.size(), 0);
    session_of.resize(columns->links.size(), none);
    std::uint32_t const before = session_of[link], now = columns->links[link].reference;
    session_of[link] = now;
    std::vector<std::uint32_t> moved;
    if (before != now) {
        if (before != none) {
            std::erase(sessions[before].links, link);
            moved.push_back(before);
        }
        if (now != none) sessions[now].links.push_back(link);
    }
    if (now != none) moved.push_back(now);
    for (std::uint32_t const reference : moved) order_session(reference);
    return moved;
}

void Explainer::Site::fit_session(std::size_t reference)
{
    Session& session = sessions[reference];
    session.level = session.level_u = session.step_level = 0;
    session.change_probability = session.level_probability = 0;
    session.level_wrong = false;
    session.cords.clear();
    std::vector<double> series, steps;
    std::vector<std::size_t> index;
    double variance = 0;
    for (std::size_t i = 0; i < session.links.size(); ++i) {
        std::uint32_t const link = session.links[i];
        Condensed const& c = condensed[link];
        if (!c.usable) continue;
        Population const& population = populations[columns->links[link].kind];
        series.push_back(c.base - population.centre);
        index.push_back(i);
        variance += population.link_sd * population.link_sd;
        if (c.has_step) steps.push_back(c.step - population.step);
    }
    if (series.size() < 3) return;
    double const sd = std::sqrt(variance / static_cast<double>(series.size()));
    std::vector<double> const clean = cleaned(series, sd);
    std::vector<double> copy = clean;
    session.level = median_of(copy);
    session.level_u = 1.25 * sd / std::sqrt(static_cast<double>(series.size()));
    if (steps.size() >= 5) session.step_level = median_of(steps);

    ChangeFit const change = fit_change(clean, sd);
    double const rate = priors->rate[static_cast<std::size_t>(Cause::reference_drift)];
    // A run of bad links passes the cleaning. Level and change have to explain the raw series as well.
    double gate = 0;
    if (change.log_factor > 0) {
        std::vector<double> before(clean.begin(), clean.begin() + static_cast<std::ptrdiff_t>(change.from));
        double const low = median_of(before);
        auto const m = static_cast<double>(clean.size() - change.from);
        for (std::size_t i = 0; i < series.size(); ++i) {
            double moved = low;
            if (i >= change.from)
                moved +=
                    change.ramp ? change.size * static_cast<double>(i + 1 - change.from) / m : change.size;
            gate += mixture_log(series[i] - moved, sd) - mixture_log(series[i] - session.level, sd);
        }
    }
    double const odds = std::min(change.log_factor, gate - std::log(static_cast<double>(series.size()))) +
                        std::log(rate / (1 - rate));
    if (odds > 0 && std::abs(change.size) > 0.04) {
        session.change = change.size;
        session.change_u = change.u;
        session.change_from = index[change.from];
        session.change_earliest = index[change.earliest];
        session.change_latest = index[change.latest];
        session.ramp = change.ramp;
        session.change_probability = sharpened(odds);
        // The level is what was there before.
        std::vector<double> rest;
        for (std::size_t i = 0; i < clean.size(); ++i) {
            if (index[i] < session.change_from) rest.push_back(clean[i]);
        }
        session.level = median_of(rest);
        session.level_u = 1.25 * sd / std::sqrt(static_cast<double>(rest.size()));
    }
    // What the watch over the reference knows is told as it tells it: one fault, one start, one size. That it
    // is seen here too makes it surer.
    if (KnownChange const* const known = known_change(reference)) {
        bool const seen_too = session.change_probability > 0 && session.change * known->size_db > 0;
        session.change = known->size_db;
        session.change_u = known->u_db;
        session.change_from = place_in_session[known->first];
        session.change_earliest = place_in_session[known->earliest];
        session.change_latest = place_in_session[known->latest];
        session.ramp = known->ramp;
        session.change_probability = std::max(seen_too ? session.change_probability : 0, known->probability);
        std::vector<double> rest;
        for (std::size_t i = 0; i < clean.size(); ++i)
            rest.push_back(clean[i] - known_shift(reference, index[i]));
        session.level = median_of(rest);
    }

    // Positions of the cords: near plug and far plug, strongest first, one after the other.
    double const cord_rate = priors->rate[static_cast<std::size_t>(Cause::test_cord_position)];
    int plug = 0;
    for (std::uint32_t const link : session.links)
        plug = std::max(plug, static_cast<int>(columns->links[link].positions));
    for (int round = 0; round < 6; ++round) {
        std::array<CordEffect, 2> best; // launch, tail
        std::array<double, 2> side_odds{-1e9, -1e9};
        for (std::size_t side = 0; side < 2; ++side) {
            CordSeries const series_of = cord_series(session, side == 1, plug);
            if (series_of.links < 5) continue;
            for (int p = 1; p <= plug; ++p) {
                auto const at = static_cast<std::size_t>(p);
                CordFit const fit = fit_cord(series_of.values[at], series_of.index[at], series_of.sd);
                double const here = fit.log_factor + std::log(cord_rate / (2.0 * plug));
                if (here <= side_odds[side]) continue;
                side_odds[side] = here;
                CordEffect& effect = best[side];
                effect = {};
                effect.tail = side == 1;
                effect.position = p;
                effect.from = fit.from;
                effect.size = fit.size;
                effect.u = fit.u;
                std::vector<double> after;
                for (std::size_t i = 0; i < series_of.steps[at].size(); ++i) {
                    if (series_of.index[at][i] >= fit.from && std::isfinite(series_of.steps[at][i]))
                        after.push_back(series_of.steps[at][i]);
                }
                if (after.size() >= 3) effect.step = median_of(after);
            }
        }
        std::size_t side = side_odds[1] > side_odds[0] ? 1 : 0;
        bool const either = side_odds[1 - side] > side_odds[side] - 3;
        // Where the links do not tell, the launch cord's position is the one that is named first.
        if (either && side_odds[0] > 0) side = 0;
        CordEffect effect = best[side];
        if (side_odds[side] <= 0 || std::abs(effect.size) < 0.08) break;
        effect.probability = sharpened(side_odds[side]);
        effect.either = either;
        effect.other = best[1 - side].position;
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
    double const rate = priors->rate[static_cast<std::size_t>(Cause::reference_fault)];
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
        double odds =
            log_normal(x, sound + level_sd * level_sd) - log_normal(x, sound) + std::log(rate / (1 - rate));
        odds += std::log(x < 0 ? 1.6 : 0.4); // too low far sooner than too high
        if (odds > 0 && std::abs(x) > 0.06) {
            session.level_wrong = true;
            session.level_probability = sharpened(odds);
        }
    }
}

void Explainer::Site::residuals(std::size_t link, std::vector<double>& base_out,
                                std::vector<double>& step_out, std::vector<double>& turn_out) const
{
    LinkRow const& row = columns->links[link];
    Population const& population = populations[row.kind];
    base_out.assign(row.positions, std::numeric_limits<double>::quiet_NaN());
    step_out = turn_out = base_out;
    Session const* const session = row.reference == none ? nullptr : &sessions[row.reference];
    std::size_t const place = session ? place_in_session[link] : 0;
    double const off = population.centre + (session ? session->offset(place) : 0);
    double const step_off = population.step + (session ? session->step_level : 0);
    for (int p = 1; p <= row.positions; ++p) {
        std::size_t const i = static_cast<std::size_t>(p - 1);
        std::size_t const at = row.first_place + i;
        if (!std::isfinite(base[at])) continue;
        CordLoss const from_a = row.measured[0] ? cords_at(link, 0, p) : CordLoss{};
        CordLoss const from_b = row.measured[1] ? cords_at(link, 1, p) : CordLoss{};
        bool const both = row.measured[0] && row.measured[1];
        double const share = both ? 0.5 : 1.0;
        double const cords = share * (from_a.base + from_b.base);
        base_out[i] = base[at] - off - cords;
        if (std::isfinite(step[at])) step_out[i] = step[at] - step_off - share * (from_a.step + from_b.step);
        if (std::isfinite(turn[at])) turn_out[i] = turn[at] - (from_a.base - from_b.base);
    }
}

} // namespace guidepin::cause
