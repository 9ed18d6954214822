// SPDX-License-Identifier: Apache-2.0
#include "job/doubt_findings.hpp"

#include "cause/explainer.hpp"
#include "cause/identity.hpp"
#include "cause/priors.hpp"
#include "job/watch.hpp"

#include <algorithm>
#include <cmath>

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
        return doubt.size_db < 0 ? Cause::reference_fault : Cause::test_cord_position;
    case DoubtKind::common:
    case DoubtKind::wavelength:
        break;
    }
    return doubt.change.first_after == 0 ? Cause::reference_fault : Cause::reference_drift;
}

/// One reference does one thing at a time: what speaks of the same positions speaks of the same fault. A tail
/// cord's position moves with the links' maps, so two of single positions are the same only where they agree.
bool same_fault(cause::Finding const& finding, Doubt const& doubt)
{
    if (doubt.position > 0)
        return finding.positions.size() == 1 && finding.positions.front() == doubt.position;
    if (doubt.kind == DoubtKind::negative_loss)
        return finding.cause == Cause::reference_fault ||
               (finding.cause == Cause::reference_drift && finding.size_db.value_or(0) < 0);
    if (!finding.positions.empty()) return false;
    // Readings too high after, or too low before: which it is, the two may see differently; not the
    // direction.
    return doubt.kind == DoubtKind::wavelength || finding.cause == Cause::reference_fault ||
           finding.size_db.value_or(0) * doubt.size_db >= 0;
}

double probability_of(Doubt const& doubt, Cause cause, cause::Priors const& priors,
                      WatchedReference const& reference)
{
    double const rate = priors.rate[static_cast<std::size_t>(cause)];
    double const by_chance =
        doubt.kind == DoubtKind::negative_loss ? reference.negative.chance() : priors.false_doubt;
    return std::min(0.99, rate / (rate + (1 - rate) * by_chance));
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
    finding.size_db = doubt.size_db;
    finding.size_u_db = doubt.size_u_db;
    finding.probability = probability_of(doubt, finding.cause, priors, reference);
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
    finding.evidence += fmt::format(" The watch: {}.", doubt_text(state, reference, doubt));
    finding.action = doubt_action(state, reference, doubt);
}

} // namespace

Outcome add_doubts(JobState const& state, Assessment const& assessment, std::vector<cause::Finding>& findings)
{
    TRY_ASSIGN(cause::Priors const priors, cause::priors_of(state.tables));
    for (WatchedReference const& reference : assessment.watching->references) {
        // The doubts come with the one that holds most first: its action stands.
        std::vector<std::string> merged;
        for (Doubt const& doubt : reference.doubts) {
            // Retests showed that nothing moved: the doubt is answered.
            bool const cleared = doubt.held.empty() && !doubt.trusted && !doubt.plan.contradiction;
            if (!doubt.material || cleared) continue;
            auto const found =
                std::find_if(findings.begin(), findings.end(), [&](cause::Finding const& finding) {
                    return finding.reference == reference.name && same_fault(finding, doubt);
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
