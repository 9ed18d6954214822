// SPDX-License-Identifier: Apache-2.0
#include "cause/explainer.hpp"

#include "cause/inside.hpp"

#include <algorithm>
#include <cmath>

namespace guidepin::cause {

Explainer::Explainer(Columns const& columns, Priors const& priors)
    : site_(std::make_unique<Site>())
{
    site_->columns = &columns;
    site_->priors = &priors;
    std::size_t places = 0;
    for (LinkRow const& row : columns.links)
        places = std::max(places, static_cast<std::size_t>(row.first_place) + row.positions);
    site_->condensed.resize(columns.links.size());
    site_->found.resize(columns.links.size());
    site_->base.resize(places);
    site_->step.resize(places);
    site_->turn.resize(places);
}

Explainer::~Explainer() = default;
Explainer::Explainer(Explainer&&) noexcept = default;
Explainer& Explainer::operator=(Explainer&&) noexcept = default;

void Explainer::measure(std::size_t first, std::size_t last)
{
    for (std::size_t link = first; link < last; ++link) site_->condense(link);
}

void Explainer::learn()
{
    site_->build_sessions();
    site_->learn_populations();
    site_->polish();
    for (std::size_t r = 0; r < site_->sessions.size(); ++r) site_->fit_session(r);
    site_->fit_levels();
}

void Explainer::explain(std::size_t first, std::size_t last)
{
    for (std::size_t link = first; link < last; ++link) site_->explain_link(link);
}

std::vector<Finding> Explainer::findings() const
{
    std::vector<Finding> findings;
    site_->report_references(findings);
    site_->report_wiring(findings);
    site_->report_lengths(findings);
    site_->report_copies(findings);
    std::vector<std::uint32_t> links(site_->columns->links.size());
    for (std::uint32_t i = 0; i < links.size(); ++i) links[i] = i;
    site_->report_links(findings, links);
    order_findings(findings);
    return findings;
}

void Explainer::renew(std::size_t link, std::span<std::uint32_t const> others)
{
    Columns const& columns = *site_->columns;
    LinkRow const& row = columns.links[link];
    site_->condensed.resize(columns.links.size());
    site_->found.resize(columns.links.size());
    std::size_t const places = static_cast<std::size_t>(row.first_place) + row.positions;
    if (site_->base.size() < places) {
        site_->base.resize(places);
        site_->step.resize(places);
        site_->turn.resize(places);
    }
    site_->condense(link);
    // Nothing is learned about a new kind yet: it starts from its prediction.
    if (site_->populations.size() < columns.kinds.size()) site_->learn_populations();
    // This link may change what is known of its reference, and of the one it was measured with before: the
    // other links under them are explained again.
    std::vector<std::uint32_t> moved = site_->regroup(static_cast<std::uint32_t>(link));
    for (std::uint32_t const reference : others)
        if (std::find(moved.begin(), moved.end(), reference) == moved.end()) moved.push_back(reference);
    for (std::uint32_t const reference : moved) site_->fit_session(reference);
    if (!moved.empty()) site_->fit_levels();
    site_->explain_link(link);
    for (std::uint32_t const reference : moved)
        for (std::uint32_t const other : site_->sessions[reference].links) site_->explain_link(other);
}

} // namespace guidepin::cause
