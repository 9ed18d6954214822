// SPDX-License-Identifier: Apache-2.0
// The tables of a package, row by row. Verified by: tests/cli/package.py, tests/cli/audit.py (each cell
// against the records).
#pragma once

#include "job/assess/assess.hpp"
#include "report/tables.hpp"

#include <vector>

namespace guidepin::job {

/// Returns "links", "readings" and "values". Their rows are made one at a time from the arguments, which must
/// outlive them.
std::vector<report::Table> tables_of(JobState const& state, Assessment const& assessment,
                                     record::DerivedTables const& tables);

} // namespace guidepin::job
