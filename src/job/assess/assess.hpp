// SPDX-License-Identifier: Apache-2.0
// What follows from the records: limits, holds, verdicts. Recomputed from a JobState at any time. Verified
// by: tests/unit/job/job.cpp, tests/cli/package.py (the demo against its truth).
#pragma once

#include "job/assess/link_row.hpp"
#include "job/doubt/watch.hpp"
#include "job/groundwork/groundwork.hpp"
#include "job/state/link_limits.hpp"
#include "job/state/state.hpp"
#include "plant/link_model.hpp"
#include "record/derived.hpp"
#include "verdict/cord_check.hpp"
#include "verdict/explain.hpp"
#include "verdict/judge.hpp"
#include "verdict/reference.hpp"
#include "verdict/timeline.hpp"

#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::job {

/// Everything that follows from the records.
struct Assessment : Groundwork
{
    std::unique_ptr<Expectation> expectation; ///< what each link should show
    std::unique_ptr<Watching> watching;       ///< the references, seen through their links

    /// Returns why this row is held.
    verdict::Hold hold_of(JobState const& state, std::uint32_t row) const;
};

/// Judges all links. `threads` share the work; the result does not depend on their number.
Result<Assessment> assess(JobState const& state, int threads = 1);

/// Brings `before` up to date after tests were added at the end of `state.tests`, and nothing else changed:
/// it is then what assess(state) gives. Adds to `moved` the links whose rows in the derived tables may have
/// changed, ascending. Returns false and leaves `before` unchanged if all links must be judged again (another
/// step of learned_from(), a link that is new to the job).
Result<bool> assess_again(JobState const& state, Assessment& before, std::size_t tests_before,
                          std::vector<std::uint32_t>& moved, int threads = 1);

/// Returns the rows for the store's derived tables.
record::DerivedTables derive(JobState const& state, Assessment const& assessment);

/// Brings `tables`, derived before tests from `tests_before` on were added, up to date for the links `moved`:
/// afterwards they are what derive() gives. Returns the rows that changed. Returns nothing if a count became
/// zero, because no row can say that: then write all rows again, and do not use `tables`.
std::optional<record::DerivedTables> derive_again(JobState const& state, Assessment const& assessment,
                                                  std::size_t tests_before,
                                                  std::vector<std::uint32_t> const& moved,
                                                  record::DerivedTables& tables);

/// Returns the row of a link as the derived tables keep it (job/assess/link_row.hpp); "" if the link is not
/// scheduled or was not measured.
std::string row_text(JobState const& state, Groundwork const& ground, std::size_t link);
/// Says whether a fibre without light decides about a link: its margin is then no number to compare.
bool worst_is_dark(record::DerivedLink const& link);

} // namespace guidepin::job
