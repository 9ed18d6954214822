// SPDX-License-Identifier: Apache-2.0
// From what fit_session() found of a reference and its test cords to findings that a person can act on.
#include "cause/inside.hpp"

#include <cmath>

#include <fmt/format.h>

namespace guidepin::cause {

namespace {

// What remains of the probability of a drift or a level goes this much to the cause that looks most like it.
constexpr double share_of_next_cause = 0.5;

class ReferenceFindings
{
  public:
    ReferenceFindings(Explainer::Site const& site, std::uint32_t reference, std::vector<Finding>& findings)
        : site_(site)
        , columns_(*site.columns)
        , reference_(reference)
        , session_(site.sessions[reference])
        , name_(site.columns->references[reference])
        , findings_(findings)
    {
    }

    void report()
    {
        double const least = site_.priors->report_from;
        if (session_.change_probability >= least) report_drift();
        if (session_.level_wrong && session_.level_probability >= least) report_level();
        for (CordEffect const& cord : session_.cords) {
            if (cord.probability >= least) report_cord(cord);
        }
    }

  private:
    std::vector<std::uint32_t> links_from(std::size_t first) const
    {
        return {session_.links.begin() + static_cast<std::ptrdiff_t>(first), session_.links.end()};
    }
    std::string link_at(std::size_t place) const { return site_.id_of_link(session_.links[place]); }

    /// Completes the finding and adds it.
    void add(Finding finding, std::string const& where)
    {
        finding.reference = reference_;
        if (!finding.links.empty()) finding.since_ms = columns_.links[finding.links.front()].taken_ms;
        LinkRow const& row = columns_.links[session_.links.front()];
        if (row.kind != none) {
            LinkKind const& kind = columns_.kinds[row.kind];
            for (std::size_t w = 0; w < kind.wavelengths; ++w)
                finding.wavelengths.push_back(kind.wavelength_nm[w]);
        }
        site_.finish(finding, where);
        findings_.push_back(std::move(finding));
    }

    void report_drift()
    {
        Finding finding;
        finding.cause = Cause::reference_drift;
        finding.links = links_from(session_.change_from);
        finding.size = Decibel{session_.change};
        finding.size_u = Decibel{session_.change_u};
        finding.probability = session_.change_probability;
        finding.alternatives = {{Cause::test_cord_position, (1 - finding.probability) * share_of_next_cause}};
        int const sure = site_.known_change(reference_) ? 95 : 90;
        std::string const start =
            session_.change_earliest == session_.change_latest
                ? fmt::format("that it began there is {} % sure at least", sure)
                : fmt::format("with {} % it began between {} and {}", sure, link_at(session_.change_earliest),
                              link_at(session_.change_latest));
        finding.evidence = fmt::format(
            "From {} on, all positions of the {} links under {} read {:.2f} dB (u {:.2f} dB) {}{}; {}.",
            link_at(session_.change_from), finding.links.size(), name_, std::abs(session_.change),
            session_.change_u, session_.change > 0 ? "more" : "less",
            session_.ramp ? " at the last one, growing link by link" : "", start);
        add(std::move(finding), name_.text());
    }

    void report_level()
    {
        Finding finding;
        finding.cause = Cause::reference_fault;
        finding.links = session_.links;
        KnownLevel const* const known = site_.known_level(reference_);
        Decibel const level = known ? known->size : Decibel{session_.level};
        finding.size = level;
        finding.size_u = known ? known->u : Decibel{session_.level_u};
        finding.probability = session_.level_probability;
        finding.alternatives = {{Cause::reference_drift, (1 - finding.probability) * share_of_next_cause}};
        finding.evidence =
            fmt::format("All {} links under {} read {:.2f} dB (u {:.2f} dB) {} than links of their "
                        "kinds should, from the first on, "
                        "in all positions.",
                        session_.links.size(), name_, std::abs(level.value()), finding.size_u->value(),
                        level.value() < 0 ? "less" : "more");
        add(std::move(finding), name_.text());
    }

    void report_cord(CordEffect const& cord)
    {
        bool const of_reference = cord.size < 0;
        Finding finding;
        finding.cause = of_reference ? Cause::reference_fault : Cause::test_cord_position;
        finding.links = links_from(cord.from);
        finding.positions = {cord.position};
        finding.size = Decibel{cord.size};
        finding.size_u = Decibel{cord.u};
        finding.probability = cord.probability;
        finding.alternatives = {
            {of_reference ? Cause::test_cord_position : Cause::reference_fault, 1 - finding.probability}};
        std::string const where =
            cord.either
                ? fmt::format("position {} of the launch cord or {} of the tail cord",
                              cord.tail ? cord.other : cord.position, cord.tail ? cord.position : cord.other)
                : fmt::format("position {} of the {} cord", cord.position, cord.tail ? "tail" : "launch");
        finding.evidence = fmt::format(
            "In {} links under {} the fibre at {} reads {:.2f} dB {} than the others of its row{}.",
            finding.links.size(), name_, where, std::abs(cord.size), of_reference ? "less" : "more",
            cord.from == 0 ? "" : fmt::format(", from {} on", link_at(cord.from)));
        add(std::move(finding), of_reference ? name_.text() : fmt::format("{}, of {}", where, name_));
    }

    Explainer::Site const& site_;
    Columns const& columns_;
    std::uint32_t reference_;
    Session const& session_;
    verdict::ReferenceId const& name_;
    std::vector<Finding>& findings_;
};

} // namespace

void Explainer::Site::report_references(std::vector<Finding>& findings) const
{
    for (std::uint32_t reference = 0; reference < sessions.size(); ++reference) {
        if (!sessions[reference].links.empty()) ReferenceFindings(*this, reference, findings).report();
    }
}

} // namespace guidepin::cause
