// SPDX-License-Identifier: Apache-2.0
// References that the watch doubts, as findings: one a fault, together with what the explanation of all
// readings found of the same one. Rules: docs/methods/causes.md. Verified by:
// tests/unit/job/doubt_findings.cpp (merged, alone, relied on, two of one reference).
#pragma once

#include "cause/finding.hpp"
#include "cause/priors.hpp"
#include "job/assess/assess.hpp"
#include "job/doubt/watch.hpp"

#include <vector>

namespace guidepin::job {

/// Retests showed that nothing moved: the doubt is answered.
bool is_cleared(Doubt const& doubt);
/// The finding, of the same reference, and the doubt tell of one fault.
bool is_same_fault(JobState const& state, Groundwork const& ground, WatchedReference const& reference,
                   Doubt const& doubt, cause::Finding const& finding);
/// How probable what the watch alone tells is: of a level what was computed with it, else the prior share of
/// its cause against false doubts.
double doubt_probability(Doubt const& doubt, WatchedReference const& reference, cause::Priors const& priors);

/// Adds the watch's doubts that hold readings to what was explained, most important first. A finding of the
/// same fault of the same reference is not told twice: it keeps its identity, numbers and links, gains the
/// watch's evidence, and its action is the retest that tells most. What is relied on by a decision gains the
/// evidence only where it was found otherwise.
Outcome add_doubts(JobState const& state, Assessment const& assessment,
                   std::vector<cause::Finding>& findings);

} // namespace guidepin::job
