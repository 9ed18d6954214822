// SPDX-License-Identifier: Apache-2.0
// Links grouped by reference, and what is left of a link's readings without its kind, its reference and the
// test cords.
#include "cause/inside.hpp"

#include <algorithm>
#include <cmath>

namespace guidepin::cause {

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

KnownLevel const* Explainer::Site::known_level(std::size_t reference) const
{
    auto const& levels = columns->known.levels;
    return reference < levels.size() && levels[reference] ? &*levels[reference] : nullptr;
}

double Explainer::Site::known_shift(std::size_t reference, std::size_t i) const
{
    KnownChange const* const change = known_change(reference);
    if (!change) return 0;
    std::size_t const from = place_in_session[change->first];
    if (i < from) return 0;
    auto const m = static_cast<double>(sessions[reference].links.size() - from);
    double const size = change->size.value();
    return change->ramp ? size * static_cast<double>(i + 1 - from) / m : size;
}

double Explainer::Site::base_of(std::size_t link, bool level_too) const
{
    double const base_here = condensed[link].base;
    std::uint32_t const reference = columns->links[link].reference;
    if (reference == none || reference >= sessions.size()) return base_here;
    KnownLevel const* const level = level_too ? known_level(reference) : nullptr;
    return base_here - (level ? level->size.value() : 0) - known_shift(reference, place_in_session[link]);
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
