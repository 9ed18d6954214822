// SPDX-License-Identifier: Apache-2.0
// Whether the derived tables in a job's file are what its records say. Verified by: tests/unit/job/change.cpp
// (a row changed in each of the five tables).
#pragma once

#include "base/result.hpp"
#include "record/store.hpp"

#include <string>

namespace guidepin::job {

struct DerivedComparison
{
    bool holds = true;
    std::string text; ///< "as the records say", or what differs first and what to do
};

/// Reads all records, derives everything and compares all five tables. Tables that are not there are no
/// fault: they can be computed at any time.
Result<DerivedComparison> compare_derived(record::Store const& store);

} // namespace guidepin::job
