// SPDX-License-Identifier: Apache-2.0
// Why a job's readings are as they are: its records as columns for the room cause, and what comes back.
// Verified by: tests/cli/explain.py (what is hidden in the demo's site), tests/cli/day.txt.
#pragma once

#include "cause/columns.hpp"
#include "cause/finding.hpp"
#include "job/assess.hpp"
#include "job/job.hpp"

#include <vector>

namespace guidepin::job {

/// What counts of each link's readings: superseded ones and those that were never planned stay out, held ones
/// are in (that they are held may be what has to be explained). Links of the columns have the indices of
/// JobState::readings.links.
Result<cause::Columns> cause_columns(JobState const& state, Assessment const& assessment);

/// All findings, most important first. `threads` share the work; the result does not depend on their number.
Result<std::vector<cause::Finding>> explain_job(JobState const& state, Assessment const& assessment,
                                                int threads = 1, ProgressSink progress = nullptr,
                                                void* progress_context = nullptr);

} // namespace guidepin::job
