// SPDX-License-Identifier: Apache-2.0
// Why a job's readings are as they are: its records as columns for the room cause, and what comes back.
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

/// What counts of each link's readings: superseded ones and those that were never planned stay out, held ones
/// are in (that they are held may be what has to be explained). Links of the columns have the indices of
/// JobState::readings.links.
Result<cause::Columns> cause_columns(JobState const& state, Assessment const& assessment);

/// The explanation of a site that goes on being measured: learned once, then renewed link by link.
class Explaining
{
  public:
    /// Learns from all readings. `threads` share the work; the result does not depend on their number.
    static Result<Explaining> of(JobState const& state, Assessment const& assessment, int threads = 1,
                                 ProgressSink progress = nullptr, void* progress_context = nullptr);

    /// This link was tested, or tested again: it and all under its reference are explained anew, by what was
    /// learned. False where that does not do (a link, kind or wavelength that is new to the site): then all
    /// has to be learned anew.
    bool renew(JobState const& state, Assessment const& assessment, std::uint32_t link);

    /// Most important first.
    std::vector<cause::Finding> findings() const;
    /// Those that name this link: quicker.
    std::vector<cause::Finding> findings_of(std::uint32_t link) const;
    cause::Columns const& columns() const { return *columns_; }

  private:
    Explaining() = default;
    // Where they are they stay: each refers to the one before it.
    std::unique_ptr<cause::Priors> priors_;
    std::unique_ptr<cause::Columns> columns_;
    std::unique_ptr<cause::Explainer> explainer_;
};

/// All findings, most important first. `threads` share the work; the result does not depend on their number.
Result<std::vector<cause::Finding>> explain_job(JobState const& state, Assessment const& assessment,
                                                int threads = 1, ProgressSink progress = nullptr,
                                                void* progress_context = nullptr);

} // namespace guidepin::job
