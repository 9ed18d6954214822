// SPDX-License-Identifier: Apache-2.0
// What the records say that does not fit together, as findings: two references of one name, an event for a
// reference that is not there, a record that cannot be read. No such record stops a job; a fixed rule says
// what is used (docs/formats/job-file.md). Verified by: tests/unit/job/records.cpp.
#pragma once

#include "cause/finding.hpp"
#include "job/state/state.hpp"

#include <vector>

namespace guidepin::job {

/// The remarks of the state, and what refers to something that the job does not have.
std::vector<RecordRemark> record_remarks(JobState const& state);

/// Adds them to the findings, most urgent first.
void add_record_findings(JobState const& state, std::vector<cause::Finding>& findings);

} // namespace guidepin::job
