// SPDX-License-Identifier: Apache-2.0
// All findings of a job with what people decided about them: for lists, pages and the summary.
// Verified by: tests/unit/job/findings.cpp, tests/cli/findings.py (acknowledged, asked again, taken back).
#pragma once

#include "cause/columns.hpp"
#include "cause/finding.hpp"
#include "job/assess/assess.hpp"
#include "job/entry/acknowledgement.hpp"
#include "job/sheet/progress.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

struct JobFinding
{
    cause::Finding finding;
    Evidence evidence;
    std::optional<Acknowledgement> acknowledged; ///< the latest that counts
    std::vector<std::string> changed;            ///< since it was acknowledged, in words

    /// Nobody acknowledged it, or it asks again.
    bool is_open() const { return !acknowledged || !changed.empty(); }
};

/// Gives each finding its acknowledgement, and puts open findings first.
void put_acknowledgements(std::vector<JobFinding>& findings, std::vector<Acknowledgement> const& said);

/// Adds the doubts of the watch and the acknowledgements to what was explained: open findings first, and
/// among equals the most important first.
Result<std::vector<JobFinding>> findings_from(JobState const& state, Assessment const& assessment,
                                              std::vector<cause::Finding> explained);

/// Explains the job, then findings_from().
Result<std::vector<JobFinding>> findings_of(JobState const& state, Assessment const& assessment,
                                            int threads = 1, ProgressSink progress = nullptr,
                                            void* progress_context = nullptr);

/// Returns the finding with this id, or the only one whose id begins so (four digits at least). Errors:
/// not_found, naming what there is; conflict when several begin so.
Result<JobFinding const*> finding_named(std::vector<JobFinding> const& findings, std::string_view id);

/// "must settle": links fail or are held for it, or it makes readings worthless; "should settle";
/// "acknowledged".
char const* urgency_of(Groundwork const& ground, JobFinding const& entry);

/// Returns what the record of an acknowledgement keeps of the finding.
Evidence evidence_of(JobState const& state, cause::Finding const& finding);

/// "N-07, position 5" or "R-3, 10 links".
std::string place_of(JobState const& state, cause::Finding const& finding);
/// "N-07: dirty or damaged end face, 0.93 dB, 99 %".
std::string heading_of(JobState const& state, cause::Finding const& finding);
/// "macrobend 4 %, broken fibre 2 %"; empty if nothing else is likely.
std::string alternatives_of(cause::Finding const& finding);

} // namespace guidepin::job
