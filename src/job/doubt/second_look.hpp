// SPDX-License-Identifier: Apache-2.0
// What one reference did also shifts what is expected of the others. So once the charts have run, references
// that are clearly off are taken out of the expectation and the rest are watched again. Method:
// docs/methods/watch.md. Verified by: tests/unit/job/watch.cpp.
#pragma once

#include "cause/priors.hpp"
#include "job/doubt/change_charts.hpp"

namespace guidepin::job {

/// Looks again at all references after run_charts(). References with a wrong level come first, then those
/// that moved, the clearest first. The doubts of each reference are final after this, except for what
/// witnesses and people add.
void look_again(Watching& watching, Expectation const& expectation, ChartLimits const& limits,
                cause::Priors const& priors);

/// Restores what the charts showed before look_again().
void restore_first_look(WatchedReference& reference);

} // namespace guidepin::job
