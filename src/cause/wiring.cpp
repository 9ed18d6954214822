// SPDX-License-Identifier: Apache-2.0
// Light at the wrong place, and lengths of another link. A class reading gives a parity, never a place; what
// tells the place is which other links show the same: all of one pair of test cords, all of one panel, or
// this link alone.
#include "cause/inside.hpp"
#include "plant/signature.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace guidepin::cause {

namespace {

plant::PositionMap mirror(plant::Family const& family)
{
    plant::PositionMap map;
    int const n = family.positions();
    for (int p = 1; p <= n; ++p) map.connect(p, n + 1 - p);
    return map;
}

bool mirrored(std::vector<plant::Signature> const& signatures)
{
    return !signatures.empty() && signatures.front().kind == plant::SignatureKind::wrong_test_cord;
}

struct Told
{
    Cause cause;
    double probability;
    std::vector<Alternative> alternatives;
};

Told told_by(plant::Signature const& signature, Priors const& priors)
{
    using plant::SignatureKind;
    switch (signature.kind) {
    case SignatureKind::wrong_trunk_type:
        return {Cause::wrong_trunk_type, 0.97, {{Cause::wrong_test_cord, 0.02}}};
    case SignatureKind::crossed_pair:
    case SignatureKind::crossed_fibres:
        return {Cause::crossed_fibres, 0.98, {{Cause::mislabelled_link, 0.015}}};
    case SignatureKind::shifted_row:
        return {Cause::shifted_row, 0.97, {{Cause::broken_fibre, 0.03}}};
    case SignatureKind::swapped_blocks:
        return {Cause::swapped_blocks, 0.97, {{Cause::wrong_trunk_type, 0.02}}};
    case SignatureKind::swapped_rows:
        return {Cause::swapped_rows, 0.97, {{Cause::wrong_adapter, 0.02}}};
    case SignatureKind::one_leg_wrong:
        return {Cause::crossed_fibres, 0.5, {{Cause::wrong_trunk_type, 0.4}}};
    case SignatureKind::dark_fibres: {
        // One dark reading shows that no light came, not why: as often as each is met.
        auto const rate = [&](Cause cause) { return priors.rate[static_cast<std::size_t>(cause)]; };
        double const broken = rate(Cause::broken_fibre);
        double const dirty = priors.dark_dirty * rate(Cause::dirty_end_face);
        double const other = rate(Cause::unexplained);
        double const all = broken + dirty + other;
        return {Cause::broken_fibre,
                broken / all,
                {{Cause::dirty_end_face, dirty / all}, {Cause::unexplained, other / all}}};
    }
    case SignatureKind::all_dark:
        return {Cause::broken_fibre, 0.45, {{Cause::mislabelled_link, 0.4}}};
    case SignatureKind::extra_fibres:
        return {Cause::mislabelled_link, 0.5, {{Cause::wrong_trunk_type, 0.4}}};
    case SignatureKind::wrong_test_cord: // a mirrored row: tell_wiring explains it from the other links
    case SignatureKind::wrong_adapter:
    case SignatureKind::turned_key:
    case SignatureKind::base_8_population:
    case SignatureKind::occupancy_differs:
    case SignatureKind::even_swaps: // of duplex pairs, which no link here has
    case SignatureKind::pair_order:
        break;
    }
    return {Cause::unexplained, 0.5, {{Cause::wrong_trunk_type, 0.3}}};
}

} // namespace

void Explainer::Site::tell_wiring(std::vector<Finding>& findings) const
{
    std::size_t const n = columns->links.size();
    std::vector<std::vector<plant::Signature>> signatures(n);
    std::vector<std::uint32_t> wrong;
    std::vector<bool> is_mirrored(n, false);
    std::vector<plant::PositionMap> reads(n); // with what was already explained taken out
    auto const look = [&](std::uint32_t link, plant::PositionMap const& measured) {
        LinkKind const& kind = kind_of(link);
        reads[link] = measured;
        plant::Family family = kind.family;
        if (family.key == plant::Family::Key::duplex) family.key = plant::Family::Key::mpo12;
        signatures[link] = plant::signature_of(family, kind.a_to_b, measured);
        is_mirrored[link] = mirrored(signatures[link]);
    };
    for (std::uint32_t link = 0; link < n; ++link) {
        LinkRow const& row = columns->links[link];
        if (row.kind == none || !row.map_known || kind_of(link).a_to_b.empty()) continue;
        if (row.a_to_b == kind_of(link).a_to_b) continue;
        look(link, row.a_to_b);
        wrong.push_back(link);
    }
    if (wrong.empty()) return;
    auto const add = [&](Cause cause, std::vector<std::uint32_t> links, std::vector<int> positions,
                         double probability, std::vector<Alternative> alternatives, std::string evidence,
                         std::string const& where, std::uint32_t reference = none) {
        Finding finding;
        finding.cause = cause;
        std::stable_sort(links.begin(), links.end(), [&](auto a, auto b) {
            return columns->links[a].taken_ms < columns->links[b].taken_ms;
        });
        finding.since_ms = columns->links[links.front()].taken_ms;
        finding.links = std::move(links);
        finding.positions = std::move(positions);
        finding.probability = probability;
        finding.alternatives = std::move(alternatives);
        finding.evidence = std::move(evidence);
        finding.reference = reference;
        finish(finding, where);
        findings.push_back(std::move(finding));
    };

    // All links of one pair of test cords.
    for (std::uint32_t r = 0; r < sessions.size(); ++r) {
        std::vector<std::uint32_t> hit;
        std::size_t seen = 0;
        for (std::uint32_t const link : sessions[r].links) {
            LinkRow const& row = columns->links[link];
            if (row.kind == none || !row.map_known || kind_of(link).a_to_b.empty()) continue;
            ++seen;
            if (is_mirrored[link]) hit.push_back(link);
        }
        if (hit.size() < 3 || static_cast<double>(hit.size()) < 0.75 * static_cast<double>(seen)) continue;
        double const p = hit.size() >= 6 ? 0.97 : 0.85;
        add(Cause::wrong_test_cord, hit, {}, p, {{Cause::wrong_adapter, (1 - p) * 0.6}},
            fmt::format("{} of {} links under {} read mirrored, whatever their trunks and panels: the cords "
                        "are what they share.",
                        hit.size(), seen, columns->references[r]),
            columns->references[r], r);
        for (std::uint32_t const link : sessions[r].links) {
            if (columns->links[link].kind == none || !columns->links[link].map_known) continue;
            // What the links read with the cord's fault taken out.
            plant::Family const& family = kind_of(link).family;
            look(link, columns->links[link].a_to_b.then(mirror(family)));
            if (signatures[link].empty()) continue;
            if (std::find(wrong.begin(), wrong.end(), link) == wrong.end()) wrong.push_back(link);
        }
    }
    // All links of one panel.
    std::map<std::pair<int, std::uint32_t>, std::vector<std::uint32_t>> panels;
    std::map<std::pair<int, std::uint32_t>, std::size_t> panel_seen;
    for (std::uint32_t link = 0; link < n; ++link) {
        LinkRow const& row = columns->links[link];
        if (row.kind == none || !row.map_known) continue;
        for (int end = 0; end < 2; ++end) {
            std::uint32_t const panel = end == 0 ? row.panel_a : row.panel_b;
            if (panel == none) continue;
            ++panel_seen[{end, panel}];
            if (is_mirrored[link]) panels[{end, panel}].push_back(link);
        }
    }
    for (auto const& [panel, links] : panels) {
        std::vector<std::uint32_t> hit;
        for (std::uint32_t const link : links) {
            if (is_mirrored[link]) hit.push_back(link);
        }
        std::size_t const seen = panel_seen[panel];
        if (hit.size() < 2 || static_cast<double>(hit.size()) < 0.8 * static_cast<double>(seen)) continue;
        double const p = hit.size() >= 4 ? 0.96 : 0.75;
        add(Cause::wrong_adapter, hit, {}, p, {{Cause::wrong_trunk_type, (1 - p) * 0.8}},
            fmt::format("{} of {} links of one panel at end {} read mirrored, links elsewhere under the same "
                        "cords do not.",
                        hit.size(), seen, panel.first == 0 ? "A" : "B"),
            names_of(hit));
        for (std::uint32_t const link : hit) {
            is_mirrored[link] = false;
            signatures[link].clear();
        }
    }
    // Two links that each read as the other should.
    std::map<std::uint32_t, std::vector<std::uint32_t>> lone_by_session;
    for (std::uint32_t const link : wrong) {
        if (!signatures[link].empty()) lone_by_session[columns->links[link].reference].push_back(link);
    }
    for (auto const& [reference, links] : lone_by_session) {
        for (std::size_t i = 0; i < links.size(); ++i) {
            for (std::size_t k = i + 1; k < links.size(); ++k) {
                std::uint32_t const a = links[i];
                std::uint32_t const b = links[k];
                if (signatures[a].empty() || signatures[b].empty()) continue;
                if (!(reads[a] == kind_of(b).a_to_b) || !(reads[b] == kind_of(a).a_to_b)) continue;
                add(Cause::mislabelled_link, {a, b}, {}, 0.85, {{Cause::wrong_trunk_type, 0.12}},
                    fmt::format("{} reads as {} should, and {} as {} should.", id_of_link(a), id_of_link(b),
                                id_of_link(b), id_of_link(a)),
                    names_of(std::vector{a, b}));
                signatures[a].clear();
                signatures[b].clear();
            }
        }
    }
    // Alone.
    for (std::uint32_t const link : wrong) {
        if (signatures[link].empty()) continue;
        if (mirrored(signatures[link])) {
            add(Cause::wrong_trunk_type, {link}, {}, priors->mirrored_trunk,
                {{Cause::wrong_adapter, priors->mirrored_adapter}, {Cause::wrong_test_cord, 0.02}},
                fmt::format("{} reads mirrored, its neighbours under the same cords and panels do not: one "
                            "part of this link alone is of the other kind.",
                            id_of_link(link)),
                id_of_link(link));
            continue;
        }
        for (plant::Signature const& signature : signatures[link]) {
            Told const told = told_by(signature, *priors);
            std::string const where =
                told.cause == Cause::broken_fibre || told.cause == Cause::crossed_fibres
                    ? fmt::format("position{} {} of {}", signature.positions.size() == 1 ? "" : "s",
                                  positions_text(signature.positions), id_of_link(link))
                    : id_of_link(link);
            add(told.cause, {link}, signature.positions, told.probability, told.alternatives,
                fmt::format("{}: {}", id_of_link(link), signature.cause), where);
        }
    }
}

void Explainer::Site::tell_lengths(std::vector<Finding>& findings) const
{
    struct Off
    {
        double drawn, measured;
        std::uint32_t link;
    };
    std::vector<Off> off;
    double shortest = 1e9;
    double longest = 0;
    for (std::uint32_t link = 0; link < columns->links.size(); ++link) {
        LinkRow const& row = columns->links[link];
        if (!std::isfinite(row.drawn_m)) continue;
        shortest = std::min(shortest, row.drawn_m);
        longest = std::max(longest, row.drawn_m);
        if (std::isfinite(row.measured_m) && std::abs(row.measured_m - row.drawn_m) > row.tolerance_m)
            off.push_back({row.drawn_m, row.measured_m, link});
    }
    std::sort(off.begin(), off.end(), [](Off const& a, Off const& b) {
        return a.drawn != b.drawn ? a.drawn < b.drawn : a.link < b.link;
    });
    auto const near = [](double measured, double drawn) {
        return std::abs(measured - drawn) <= std::max(1.0, 0.025 * drawn);
    };
    std::vector<bool> used(off.size(), false);
    auto const add = [&](Finding finding, std::string const& where) {
        finding.since_ms = columns->links[finding.links.front()].taken_ms;
        finish(finding, where);
        findings.push_back(std::move(finding));
    };
    for (std::size_t i = 0; i < off.size(); ++i) {
        if (used[i]) continue;
        double const reach = std::max(1.0, 0.025 * off[i].measured) + 1;
        auto const first = std::lower_bound(off.begin(), off.end(), off[i].measured - reach,
                                            [](Off const& a, double x) { return a.drawn < x; });
        std::size_t best = off.size();
        double best_rank = 1e9;
        for (auto other = first; other != off.end() && other->drawn <= off[i].measured + reach; ++other) {
            auto const k = static_cast<std::size_t>(other - off.begin());
            if (k == i || used[k]) continue;
            if (!near(off[i].measured, other->drawn) || !near(other->measured, off[i].drawn)) continue;
            LinkRow const& a = columns->links[off[i].link];
            LinkRow const& b = columns->links[other->link];
            if (a.positions != b.positions) continue;
            // Labels are exchanged between neighbours.
            double rank = std::abs(static_cast<double>(off[i].link) - static_cast<double>(other->link));
            if (a.panel_a != b.panel_a && a.panel_b != b.panel_b) rank += 1000;
            if (rank < best_rank) {
                best_rank = rank;
                best = k;
            }
        }
        if (best == off.size()) continue;
        used[i] = used[best] = true;
        std::uint32_t a = off[i].link;
        std::uint32_t b = off[best].link;
        if (b < a) std::swap(a, b);
        LinkRow const& one = columns->links[a];
        LinkRow const& two = columns->links[b];
        // By chance: so many other wrong lengths, each near in both lengths.
        double const window = 2 * std::max(1.0, 0.025 * longest) / std::max(10.0, longest - shortest);
        double const chance =
            static_cast<double>(off.size()) * window * window * (best_rank >= 1000 ? 10.0 : 1.0);
        Finding finding;
        finding.cause = Cause::mislabelled_link;
        finding.links = {a, b};
        finding.probability = std::min(0.97, 1 / (1 + chance));
        finding.alternatives = {{Cause::length_mismatch, 1 - finding.probability}};
        finding.evidence =
            fmt::format("{} measures {:.1f} m and {} {:.1f} m, where {:.0f} m and {:.0f} m are "
                        "drawn: each has the other's length.",
                        one.id, one.measured_m, two.id, two.measured_m, one.drawn_m, two.drawn_m);
        add(std::move(finding), names_of(std::vector{a, b}));
    }
    for (std::size_t i = 0; i < off.size(); ++i) {
        if (used[i]) continue;
        LinkRow const& row = columns->links[off[i].link];
        Finding finding;
        finding.cause = Cause::length_mismatch;
        finding.links = {off[i].link};
        finding.probability = 0.96;
        finding.alternatives = {{Cause::mislabelled_link, 0.03}};
        finding.evidence = fmt::format(
            "{} measures {:.1f} m where {:.0f} m are drawn, {:.0f} % {}; the tolerance is {:.1f} m "
            "and no other link has the matching length.",
            row.id, row.measured_m, row.drawn_m,
            100 * std::abs(row.measured_m - row.drawn_m) / std::max(1.0, row.drawn_m),
            row.measured_m > row.drawn_m ? "longer" : "shorter", row.tolerance_m);
        add(std::move(finding), row.id);
    }
}

} // namespace guidepin::cause
