// SPDX-License-Identifier: Apache-2.0
// References that the watch doubts, as findings: one for each fault, joined with what the explanation of all
// readings found of the same fault. Rules: docs/methods/causes.md. Verified by:
// tests/unit/job/doubt_findings.cpp (merged, alone, relied on, two of one reference).
#pragma once

#include "cause/finding.hpp"
#include "cause/priors.hpp"
#include "job/assess/assess.hpp"
#include "job/doubt/watch.hpp"

#include <vector>

namespace guidepin::job {

/// Says whether retests showed that nothing moved, which answers the doubt.
bool is_cleared(Doubt const& doubt);
/// Says whether the finding, of the same reference, and the doubt are about one fault.
bool is_same_fault(JobState const& state, Groundwork const& ground, WatchedReference const& reference,
                   Doubt const& doubt, cause::Finding const& finding);
/// Returns how probable a doubt is that only the watch has: the probability computed with a level, else the
/// prior share of its cause against false doubts.
double doubt_probability(Doubt const& doubt, WatchedReference const& reference, cause::Priors const& priors);

/// Adds the watch's doubts that hold readings to what was explained, most important first. A fault that was
/// found already stays one finding: it keeps its identity, numbers and links, gains the watch's evidence, and
/// its action becomes the retest that settles most. A doubt about a reference that a person decided to rely
/// on adds evidence only to a finding that exists.
Outcome add_doubts(JobState const& state, Assessment const& assessment,
                   std::vector<cause::Finding>& findings);

} // namespace guidepin::job
