// SPDX-License-Identifier: Apache-2.0
// Explains a job's readings: gives its records to the room cause as columns, and takes the findings back.
// Verified by: tests/cli/explain.py (what is hidden in the demo's site), tests/cli/day.txt.
#pragma once

#include "cause/columns.hpp"
#include "cause/explainer.hpp"
#include "cause/finding.hpp"
#include "cause/priors.hpp"
#include "job/assess/assess.hpp"
#include "job/sheet/progress.hpp"

#include <cstdint>
#include <memory>
#include <vector>

namespace guidepin::job {

/// Returns the readings that count, link by link: without superseded ones and those that were never planned,
/// but with held ones, because the reason for the hold may be what has to be explained. Links of the columns
/// have the indices of JobState::readings.links.
Result<cause::Columns> cause_columns(JobState const& state, Assessment const& assessment);

/// Explains a site while it is being measured: learns once, then renews link by link.
class Explaining
{
  public:
    /// Learns from all readings. `threads` share the work; the result does not depend on their number.
    static Result<Explaining> of(JobState const& state, Assessment const& assessment, int threads = 1,
                                 ProgressSink progress = nullptr, void* progress_context = nullptr);

    /// Explains this link, which was tested or tested again, and all links under its reference once more, by
    /// what was learned. Returns false if that is not enough (a link, kind or wavelength that is new to the
    /// site): then everything must be learned again.
    bool renew(JobState const& state, Assessment const& assessment, std::uint32_t link);

    /// Returns all findings, most important first.
    std::vector<cause::Finding> findings() const;
    cause::Columns const& columns() const { return *columns_; }

  private:
    Explaining() = default;
    // Each refers to the one before it, so they must not move.
    std::unique_ptr<cause::Priors> priors_;
    std::unique_ptr<cause::Columns> columns_;
    std::unique_ptr<cause::Explainer> explainer_;
};

/// Returns all findings, most important first. `threads` share the work; the result does not depend on their
/// number.
Result<std::vector<cause::Finding>> explain_job(JobState const& state, Assessment const& assessment,
                                                int threads = 1, ProgressSink progress = nullptr,
                                                void* progress_context = nullptr);

} // namespace guidepin::job
