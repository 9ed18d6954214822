// SPDX-License-Identifier: Apache-2.0
// The level of each reference against the other references and the grades of its links. A reference that was
// wrong from its first link on shows no change, only a level. Method: docs/methods/watch.md. Verified by:
// tests/unit/job/watch.cpp, tests/unit/watch/levels.cpp (the statistics).
#pragma once

#include "cause/priors.hpp"
#include "job/doubt/watched_reference.hpp"
#include "watch/levels.hpp"

#include <optional>
#include <vector>

namespace guidepin::job {

/// Returns the material doubt that all positions of a reference moved, or nullptr. Links measured after such
/// a change teach nothing about other references.
Doubt const* common_doubt(WatchedReference const& reference);

/// Returns the level of each reference, in their order.
std::vector<watch::Level> levels_of(Watching const& watching, Expectation const& expectation,
                                    cause::Priors const& priors);

/// Returns a wrong level as a doubt of all links. None if the level is too small or too improbable to report,
/// or if the reference has fewer than four links.
std::optional<Doubt> level_doubt(watch::Level const& level, std::size_t tests, double grants_db,
                                 double report_from);

} // namespace guidepin::job
