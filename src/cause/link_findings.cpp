// SPDX-License-Identifier: Apache-2.0
// From what explain_link() found of a link to findings that a person can act on.
#include "base/text.hpp"
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
        fmt::format("position{} {}", plural_ending(found.positions.size()), positions_text(found.positions));
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
                           plural_ending(found.positions.size()), far, row.id, positions);
    if (found.turn_known && found.turn > sure)
        return fmt::format("{} at end A of {} (first), then {} at end B", positions, row.id, far);
    return fmt::format("{} at end A of {}, then {} at end B", positions, row.id,
                       far.empty() ? "its other end" : far);
}

/// A fibre that loses this much, in dB, yet passes light is sooner broken than dirty.
constexpr double extreme_loss = 10;

/// Returns the finding of a dirty face as that of a broken fibre if the loss is extreme.
LinkFinding broken_if_extreme(LinkFinding finding, Priors const& priors)
{
    if (finding.cause != Cause::dirty_end_face || finding.size <= extreme_loss) return finding;
    finding.cause = Cause::broken_fibre;
    finding.alternatives.insert(finding.alternatives.begin(),
                                {Cause::dirty_end_face, finding.probability * priors.extreme_dirty});
    finding.probability *= priors.extreme_broken;
    return finding;
}

} // namespace

void Explainer::Site::report_links(std::vector<Finding>& findings, std::span<std::uint32_t const> links) const
{
    for (std::uint32_t const link : links) {
        for (LinkFinding const& one : found[link]) {
            if (one.probability < priors->report_from) continue;
            LinkFinding const named = broken_if_extreme(one, *priors);
            Finding finding;
            finding.cause = named.cause;
            finding.links = {link};
            finding.positions = named.positions;
            LinkKind const& kind = kind_of(link);
            for (std::size_t const w : named.wavelengths)
                finding.wavelengths.push_back(kind.wavelength_nm[w]);
            finding.since_ms = columns->links[link].taken_ms;
            finding.size = Decibel{named.size};
            finding.size_u = Decibel{named.u};
            finding.probability = named.probability;
            finding.alternatives = named.alternatives;
            finding.evidence = evidence_of(*this, link, named);
            finish(finding, place_of(*this, link, named));
            findings.push_back(std::move(finding));
        }
    }
}

} // namespace guidepin::cause
