// SPDX-License-Identifier: Apache-2.0
// Can the references of a job still be trusted? The watch follows each reference through the links that were
// measured under it. If the reference moved, the readings taken after that are held until retests or a person
// decide. Method and rules: docs/methods/watch.md; choice of what is held: docs/decisions/0040. Verified by:
// tests/unit/job/watch.cpp (simulated sites with known drift, delay, retests, cord checks, decisions),
// tests/cli/transcripts/watch.txt.
#pragma once

#include "job/doubt/watched_reference.hpp"

#include <cstdint>
#include <span>

namespace guidepin::job {

/// Watches all references. Uses the ground's rows, the holds so far and the expectation. `threads` share the
/// references; the result does not depend on their number.
Result<Watching> watch_references(JobState const& state, Groundwork const& ground,
                                  Expectation const& expectation, int threads);

/// Updates `before` after readings of these links came in: runs the charts again for the references under
/// which the links were measured, then applies all witnesses and decisions again. `before` was watched with
/// the same expectation; what counts as healthy here does not change.
Result<Watching> watch_again(JobState const& state, Groundwork const& ground, Expectation const& expectation,
                             Watching before, std::span<std::uint32_t const> links, int threads);

} // namespace guidepin::job
