// SPDX-License-Identifier: Apache-2.0
// From a judged job to the values of its summary. Verified by: tests/cli/package.py.
#pragma once

#include "job/assess/assess.hpp"
#include "report/summary.hpp"

#include <string>
#include <vector>

namespace guidepin::job {

/// Returns the summary without its findings. `record_hash`: the digest of all chains.
Result<report::Summary> summary_of(JobState const& state, Assessment const& assessment,
                                   record::DerivedTables const& tables, std::string const& record_hash);

/// Returns the findings for the summary, the first of them with their pictures.
Result<std::vector<report::ListedFinding>> listed_findings(JobState const& state,
                                                           Assessment const& assessment, int threads = 1);

} // namespace guidepin::job
