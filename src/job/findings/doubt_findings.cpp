// SPDX-License-Identifier: Apache-2.0
#include "job/findings/doubt_findings.hpp"

#include "cause/explainer.hpp"
#include "cause/identity.hpp"
#include "cause/priors.hpp"
#include "job/doubt/doubt_text.hpp"
#include "job/doubt/watch.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using cause::Cause;

Cause cause_of(Doubt const& doubt)
{
    switch (doubt.kind) {
    case DoubtKind::negative_loss:
        return Cause::reference_fault;
    case DoubtKind::position:
        return doubt.size < Decibel{} ? Cause::reference_fault : Cause::test_cord_position;
    case DoubtKind::common:
    case DoubtKind::wavelength:
        break;
    }
    return doubt.change.first_after == 0 ? Cause::reference_fault : Cause::reference_drift;
}

/// Positions of the far plug to which the doubt's position leads in at least a third of the links that show
/// it: a tail cord's position is seen there through the links' maps.
std::vector<int> far_positions(JobState const& state, Groundwork const& ground,
                               WatchedReference const& reference, Doubt const& doubt)
{
    std::map<int, std::size_t> seen;
    std::size_t links = 0;
    std::size_t const first = doubt.change.first_after;
    for (std::size_t t = first; t < reference.tests.size(); ++t) {
        WatchedTest const& test = reference.tests[t];
        if (test.link >= state.scheduled()) continue;
        plant::PositionMap const& map = ground.tasks.kinds[ground.tasks.links[test.link].kind].a_to_b;
        ++links;
        if (test.directions & 1) ++seen[map.at(doubt.position)];
        if (test.directions & 2) ++seen[map.inverse().at(doubt.position)];
    }
    std::vector<int> far;
    for (auto const& [position, count] : seen)
        if (position > 0 && 3 * count >= links) far.push_back(position);
    return far;
}

/// One reference does one thing at a time: what speaks of the same positions, of the launch cord's plug or of
/// the tail cord's, speaks of the same fault.
bool same_fault(cause::Finding const& finding, Doubt const& doubt, std::vector<int> const& far)
{
    if (doubt.position > 0)
        return finding.positions.size() == 1 &&
               (finding.positions.front() == doubt.position ||
                std::find(far.begin(), far.end(), finding.positions.front()) != far.end());
    if (doubt.kind == DoubtKind::negative_loss)
        return finding.cause == Cause::reference_fault ||
               (finding.cause == Cause::reference_drift && finding.size.value_or(Decibel{}) < Decibel{});
    if (!finding.positions.empty()) return false;
    // Readings too high after, or too low before: which it is, the two may see differently; not the
    // direction.
    return doubt.kind == DoubtKind::wavelength || finding.cause == Cause::reference_fault ||
           finding.size.value_or(Decibel{}).value() * doubt.size.value() >= 0;
}

cause::Finding finding_of(JobState const& state, WatchedReference const& reference, Doubt const& doubt,
                          cause::Priors const& priors)
{
    cause::Finding finding;
    finding.cause = cause_of(doubt);
    finding.reference = reference.name;
    std::size_t const first = doubt.kind == DoubtKind::negative_loss ? 0 : doubt.change.first_after;
    for (std::size_t test = first; test < reference.tests.size(); ++test)
        finding.links.push_back(reference.tests[test].link);
    if (doubt.position > 0) finding.positions = {doubt.position};
    finding.wavelengths = reference.wavelengths;
    if (doubt.kind == DoubtKind::wavelength) finding.wavelengths = {reference.wavelengths.back()};
    if (first < reference.tests.size()) finding.since_ms = reference.tests[first].at_ms;
    finding.size = doubt.size;
    finding.size_u = doubt.size_u;
    finding.probability = doubt_probability(doubt, reference, priors);
    Cause const other =
        finding.cause == Cause::test_cord_position ? Cause::reference_fault : Cause::test_cord_position;
    finding.alternatives = {{other, (1 - finding.probability) / 2}};
    finding.evidence = doubt_text(state, reference, doubt) + ".";
    finding.action = doubt_action(state, reference, doubt);
    finding.id =
        cause::identity_of(finding.cause, {fmt::format("reference {}", state.references[reference.entry].id)},
                           finding.positions);
    return finding;
}

void merge(cause::Finding& finding, JobState const& state, WatchedReference const& reference,
           Doubt const& doubt)
{
    // The explanation reports it with the watch's own numbers: do not report it twice.
    if (!(doubt.kind == DoubtKind::common && finding.positions.empty() && finding.size == doubt.size))
        finding.evidence += fmt::format(" The watch: {}.", doubt_text(state, reference, doubt));
    finding.action = doubt_action(state, reference, doubt);
}

} // namespace

bool is_same_fault(JobState const& state, Groundwork const& ground, WatchedReference const& reference,
                   Doubt const& doubt, cause::Finding const& finding)
{
    return same_fault(finding, doubt,
                      doubt.position > 0 ? far_positions(state, ground, reference, doubt)
                                         : std::vector<int>{});
}

bool is_cleared(Doubt const& doubt)
{
    return doubt.held.empty() && !doubt.trusted && !doubt.plan.contradiction;
}

double doubt_probability(Doubt const& doubt, WatchedReference const& reference, cause::Priors const& priors)
{
    if (doubt.level) return std::min(0.99, *doubt.level);
    double const rate = priors.rate[static_cast<std::size_t>(cause_of(doubt))];
    double const by_chance =
        doubt.kind == DoubtKind::negative_loss ? reference.negative.chance() : priors.false_doubt;
    return std::min(0.99, rate / (rate + (1 - rate) * by_chance));
}

Outcome add_doubts(JobState const& state, Assessment const& assessment, std::vector<cause::Finding>& findings)
{
    TRY_ASSIGN(cause::Priors const priors, cause::priors_of(state.tables));
    for (WatchedReference const& reference : assessment.watching->references) {
        // The doubt that holds most readings comes first: its action is the one to show.
        std::vector<std::string> merged;
        for (Doubt const& doubt : reference.doubts) {
            if (!doubt.material || is_cleared(doubt)) continue;
            auto const found =
                std::find_if(findings.begin(), findings.end(), [&](cause::Finding const& finding) {
                    return finding.reference == reference.name &&
                           is_same_fault(state, assessment, reference, doubt, finding);
                });
            if (found == findings.end()) {
                // Somebody has answered for it.
                if (doubt.trusted) continue;
                findings.push_back(finding_of(state, reference, doubt, priors));
                merged.push_back(findings.back().id);
            } else if (std::find(merged.begin(), merged.end(), found->id) == merged.end()) {
                merge(*found, state, reference, doubt);
                merged.push_back(found->id);
            } else {
                found->evidence += fmt::format(" {}.", doubt_text(state, reference, doubt));
            }
        }
    }
    cause::order_findings(findings);
    return {};
}

} // namespace guidepin::job
