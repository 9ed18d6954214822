// SPDX-License-Identifier: Apache-2.0
// From what was worked out to findings that a person can act on.
#include "base/hash.hpp"
#include "cause/identity.hpp"
#include "cause/inside.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::cause {

namespace {

std::string evidence_of(Explainer::Site const& site, std::uint32_t link, LinkFinding const& found)
{
    LinkRow const& row = site.columns->links[link];
    LinkKind const& kind = site.kind_of(link);
    Population const& population = site.populations[row.kind];
    std::string const at = site.wavelengths_text(kind, found.wavelengths);
    std::string const ratio =
        found.ratio_known && found.ratio < 50
            ? fmt::format("; {} nm shows {:.2f} of what {} nm does", kind.wavelength_nm[kind.wavelengths - 1],
                          found.ratio, kind.wavelength_nm[0])
            : "";
    double const sds = found.size / population.fibre_sd;
    std::string const n = std::to_string(row.a_to_b.empty() ? kind.occupied.count()
                                                            : static_cast<std::size_t>(row.a_to_b.size()));
    switch (found.cause) {
    case Cause::dirty_end_face: {
        std::string const turn = found.turn_known
                                     ? fmt::format("; launched from A it shows {:.2f} dB {} than from B",
                                                   std::abs(found.turn), found.turn >= 0 ? "more" : "less")
                                     : "";
        return fmt::format(
            "{} of {} {} {:.2f} dB more than the others of its row at {}, {:.0f} times their "
            "spread{}{}.",
            found.positions.size() == 1 ? fmt::format("Position {}", positions_text(found.positions))
                                        : fmt::format("Positions {}", positions_text(found.positions)),
            row.id, found.positions.size() == 1 ? "loses" : "lose", found.size, at, sds, ratio, turn);
    }
    case Cause::macrobend:
        return fmt::format(
            "{} of {} {:.2f} dB more at {} than expected{}: a joint shows 0.8 to 1, a bend 25 "
            "and more.",
            found.positions.empty() ? fmt::format("All {} positions", n)
                                    : fmt::format("Position {}", positions_text(found.positions)),
            fmt::format("{} {}", row.id, found.positions.empty() ? "lose" : "loses"), found.size, at,
            found.ratio_known
                ? found.ratio < 90
                      ? fmt::format(", {:.0f} times what {} nm shows", found.ratio, kind.wavelength_nm[0])
                      : fmt::format(", next to nothing at {} nm", kind.wavelength_nm[0])
                : "");
    case Cause::misaligned_ferrule:
        return fmt::format("The loss of {} runs along the row, {:+.2f} dB from the first position to the "
                           "last, {:.2f} dB at its worst{}.",
                           row.id, found.slope, found.size, ratio);
    case Cause::unpinned_joint:
        return fmt::format("All {} positions of {} lose more than expected, {:.2f} dB on average and widely "
                           "scattered{}.",
                           n, row.id, found.size, ratio);
    case Cause::face_mismatch:
        return fmt::format("All {} positions of {} lose the same {:.2f} dB too much within a few hundredths, "
                           "as with air between a flat and an angled face.",
                           n, row.id, found.size);
    case Cause::extra_connection:
        return fmt::format("All {} positions of {} lose {:.2f} dB more on average, scattered like one more "
                           "joint{}.",
                           n, row.id, found.size, ratio);
    case Cause::core_size_mismatch:
        return fmt::format("All {} positions of {} lose the same {:.2f} dB too much{}.", n, row.id,
                           found.size,
                           found.turn_known ? fmt::format(", {:.2f} dB more launched from {}",
                                                          std::abs(found.turn), found.turn > 0 ? "A" : "B")
                                            : " in the one direction that was measured");
    case Cause::broken_fibre:
        return fmt::format("Position {} of {} loses {:.1f} dB more than the others of its row.",
                           positions_text(found.positions), row.id, found.size);
    default:
        return fmt::format("{} departs from its kind by {:.2f} dB in a pattern that fits none of the known "
                           "causes.",
                           row.id, found.size);
    }
}

/// "position 7 at end B of N-07, then end A".
std::string place_of(Explainer::Site const& site, std::uint32_t link, LinkFinding const& found)
{
    LinkRow const& row = site.columns->links[link];
    if (found.positions.empty()) return row.id;
    std::string const positions =
        fmt::format("position{} {}", found.positions.size() == 1 ? "" : "s", positions_text(found.positions));
    std::string const far = [&] {
        std::vector<int> numbers;
        for (int const p : found.positions) {
            int const at = row.map_known ? row.a_to_b.at(p) : site.kind_of(link).a_to_b.at(p);
            if (at > 0) numbers.push_back(at);
        }
        std::sort(numbers.begin(), numbers.end());
        return positions_text(numbers);
    }();
    double const sure = 2.5 * site.populations[row.kind].turn_sd;
    if (found.turn_known && found.turn < -sure)
        return fmt::format("position{} {} at end B of {} (first), then {} at end A",
                           found.positions.size() == 1 ? "" : "s", far, row.id, positions);
    if (found.turn_known && found.turn > sure)
        return fmt::format("{} at end A of {} (first), then {} at end B", positions, row.id, far);
    return fmt::format("{} at end A of {}, then {} at end B", positions, row.id,
                       far.empty() ? "its other end" : far);
}

int urgency(Cause cause)
{
    switch (cause) {
    case Cause::wrong_test_cord:
    case Cause::reference_fault:
    case Cause::reference_drift:
    case Cause::test_cord_position:
        return 0;
    case Cause::copied_measurement:
    case Cause::mislabelled_link:
    case Cause::contradicting_records:
        return 1;
    case Cause::wrong_adapter:
    case Cause::wrong_trunk_type:
    case Cause::crossed_fibres:
    case Cause::shifted_row:
    case Cause::swapped_blocks:
    case Cause::swapped_rows:
    case Cause::broken_fibre:
        return 2;
    case Cause::unexplained:
        return 4;
    default:
        return 3;
    }
}

} // namespace

std::string positions_text(std::vector<int> const& positions)
{
    plant::Occupancy set;
    for (int const p : positions) {
        if (p >= 1 && p <= plant::max_positions) set.set(static_cast<std::size_t>(p - 1));
    }
    std::string text;
    for (int p = 1; p <= plant::max_positions; ++p) {
        if (!set.test(static_cast<std::size_t>(p - 1))) continue;
        int last = p;
        while (last < plant::max_positions && set.test(static_cast<std::size_t>(last))) ++last;
        if (!text.empty()) text += ", ";
        text += last == p ? std::to_string(p) : fmt::format("{}{}{}", p, last == p + 1 ? ", " : "-", last);
        p = last;
    }
    return text;
}

std::string Explainer::Site::names_of(std::span<std::uint32_t const> links) const
{
    std::string text;
    std::size_t const shown = links.size() > 4 ? 3 : links.size();
    for (std::size_t i = 0; i < shown; ++i) {
        if (i > 0) text += i + 1 == links.size() ? " and " : ", ";
        text += columns->links[links[i]].id;
    }
    if (shown < links.size()) text += fmt::format(" and {} more", links.size() - shown);
    return text;
}

std::string Explainer::Site::wavelengths_text(LinkKind const& kind,
                                              std::vector<std::size_t> const& which) const
{
    std::string text;
    for (std::size_t i = 0; i < which.size(); ++i) {
        if (i > 0) text += i + 1 == which.size() ? " and " : ", ";
        text += std::to_string(kind.wavelength_nm[which[i]]);
    }
    return text + " nm";
}

std::string identity_of(Cause cause, std::vector<std::string> parts, std::vector<int> const& positions)
{
    std::string text = id_of(cause);
    std::sort(parts.begin(), parts.end());
    for (std::string const& part : parts) text += fmt::format("\n{}", part);
    text += fmt::format("\n{}", positions_text(positions));
    return fmt::format("{:016x}", fast_hash(text));
}

std::string identity_of(Finding const& finding, Columns const& columns)
{
    std::vector<std::string> parts;
    bool const by_reference = finding.reference != none;
    if (by_reference) {
        parts.push_back(fmt::format("reference {}", columns.references[finding.reference]));
    } else {
        for (std::uint32_t const link : finding.links) parts.push_back(columns.links[link].id);
    }
    return identity_of(finding.cause, std::move(parts), finding.positions);
}

void Explainer::Site::finish(Finding& finding, std::string const& where) const
{
    finding.id = identity_of(finding, *columns);
    Cause const first = most_telling(finding);
    std::string place = where;
    if (first != finding.cause && !finding.links.empty()) place = names_of(finding.links);
    finding.action = action_for(first, place) + ".";
    if (first != finding.cause)
        finding.action += fmt::format(" If that is not it: {}.", action_for(finding.cause, where));
}

void Explainer::Site::tell_links(std::vector<Finding>& findings, std::span<std::uint32_t const> links) const
{
    for (std::uint32_t const link : links) {
        for (LinkFinding const& one : found[link]) {
            if (one.probability < priors->report_from) continue;
            LinkFinding told = one;
            if (told.cause == Cause::dirty_end_face && told.size > 10) {
                told.cause = Cause::broken_fibre;
                told.alternatives.insert(told.alternatives.begin(),
                                         {Cause::dirty_end_face, told.probability * 0.3});
                told.probability *= 0.7;
            }
            Finding finding;
            finding.cause = told.cause;
            finding.links = {link};
            finding.positions = told.positions;
            LinkKind const& kind = kind_of(link);
            for (std::size_t const w : told.wavelengths) finding.wavelengths.push_back(kind.wavelength_nm[w]);
            finding.since_ms = columns->links[link].taken_ms;
            finding.size_db = told.size;
            finding.size_u_db = told.u;
            finding.probability = told.probability;
            finding.alternatives = told.alternatives;
            finding.evidence = evidence_of(*this, link, told);
            finish(finding, place_of(*this, link, told));
            findings.push_back(std::move(finding));
        }
    }
}

void Explainer::Site::tell_sessions(std::vector<Finding>& findings) const
{
    for (std::uint32_t r = 0; r < sessions.size(); ++r) {
        Session const& session = sessions[r];
        if (session.links.empty()) continue;
        std::string const& name = columns->references[r];
        auto const from = [&](std::size_t first) {
            return std::vector<std::uint32_t>(session.links.begin() + static_cast<std::ptrdiff_t>(first),
                                              session.links.end());
        };
        auto const add = [&](Finding finding, std::string const& where) {
            finding.reference = r;
            if (!finding.links.empty()) finding.since_ms = columns->links[finding.links.front()].taken_ms;
            LinkRow const& row = columns->links[session.links.front()];
            if (row.kind != none) {
                LinkKind const& kind = columns->kinds[row.kind];
                for (std::size_t w = 0; w < kind.wavelengths; ++w)
                    finding.wavelengths.push_back(kind.wavelength_nm[w]);
            }
            finish(finding, where);
            findings.push_back(std::move(finding));
        };
        if (session.change_probability >= priors->report_from) {
            Finding finding;
            finding.cause = Cause::reference_drift;
            finding.links = from(session.change_from);
            finding.size_db = session.change;
            finding.size_u_db = session.change_u;
            finding.probability = session.change_probability;
            finding.alternatives = {{Cause::test_cord_position, (1 - finding.probability) * 0.5}};
            std::string const first = id_of_link(session.links[session.change_from]);
            std::string const earliest = id_of_link(session.links[session.change_earliest]);
            std::string const latest = id_of_link(session.links[session.change_latest]);
            int const sure = known_change(r) ? 95 : 90;
            finding.evidence = fmt::format(
                "From {} on, all positions of the {} links under {} read {:.2f} dB (u {:.2f} dB) {}{}; {}.",
                first, finding.links.size(), name, std::abs(session.change), session.change_u,
                session.change > 0 ? "more" : "less",
                session.ramp ? " at the last one, growing link by link" : "",
                session.change_earliest == session.change_latest
                    ? fmt::format("that it began there is {} % sure at least", sure)
                    : fmt::format("with {} % it began between {} and {}", sure, earliest, latest));
            add(std::move(finding), name);
        }
        if (session.level_wrong && session.level_probability >= priors->report_from) {
            Finding finding;
            finding.cause = Cause::reference_fault;
            finding.links = session.links;
            KnownLevel const* const known = r < columns->known.levels.size() && columns->known.levels[r]
                                                ? &*columns->known.levels[r]
                                                : nullptr;
            double const level = known ? known->size_db : session.level;
            finding.size_db = level;
            finding.size_u_db = known ? known->u_db : session.level_u;
            finding.probability = session.level_probability;
            finding.alternatives = {{Cause::reference_drift, (1 - finding.probability) * 0.5}};
            finding.evidence = fmt::format(
                "All {} links under {} read {:.2f} dB (u {:.2f} dB) {} than links of their "
                "kinds should, from the first on, "
                "in all positions.",
                session.links.size(), name, std::abs(level), *finding.size_u_db, level < 0 ? "less" : "more");
            add(std::move(finding), name);
        }
        for (CordEffect const& cord : session.cords) {
            if (cord.probability < priors->report_from) continue;
            bool const of_reference = cord.size < 0;
            Finding finding;
            finding.cause = of_reference ? Cause::reference_fault : Cause::test_cord_position;
            finding.links = from(cord.from);
            finding.positions = {cord.position};
            finding.size_db = cord.size;
            finding.size_u_db = cord.u;
            finding.probability = cord.probability;
            finding.alternatives = {
                {of_reference ? Cause::test_cord_position : Cause::reference_fault, 1 - finding.probability}};
            std::string const where =
                cord.either
                    ? fmt::format("position {} of the launch cord or {} of the tail cord",
                                  cord.tail ? cord.other : cord.position,
                                  cord.tail ? cord.position : cord.other)
                    : fmt::format("position {} of the {} cord", cord.position, cord.tail ? "tail" : "launch");
            finding.evidence = fmt::format(
                "In {} links under {} the fibre at {} reads {:.2f} dB {} than the others of its row{}.",
                finding.links.size(), name, where, std::abs(cord.size), of_reference ? "less" : "more",
                cord.from == 0 ? "" : fmt::format(", from {} on", id_of_link(session.links[cord.from])));
            add(std::move(finding), of_reference ? name : fmt::format("{}, of {}", where, name));
        }
    }
}

void order_findings(std::vector<Finding>& findings)
{
    std::stable_sort(findings.begin(), findings.end(), [](Finding const& a, Finding const& b) {
        int const first = urgency(a.cause);
        int const second = urgency(b.cause);
        if (first != second) return first < second;
        auto const weight = [](Finding const& f) {
            return f.probability *
                   (1 + std::log(static_cast<double>(std::max<std::size_t>(1, f.links.size())))) *
                   (f.size_db ? std::min(3.0, 0.2 + std::abs(*f.size_db)) : 1.0);
        };
        double const x = weight(a);
        double const y = weight(b);
        if (std::abs(x - y) > 1e-12) return x > y;
        if (a.links != b.links) return a.links < b.links;
        return a.positions < b.positions;
    });
}

} // namespace guidepin::cause
