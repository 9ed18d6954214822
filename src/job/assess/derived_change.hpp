// SPDX-License-Identifier: Apache-2.0
// Which derived rows an entry has changed, so that one reading typed into a large job does not rewrite all
// its rows. Verified by: tests/unit/job/derived_change.cpp (applied to the old rows they give the new ones,
// as a rebuild would).
#pragma once

#include "record/derived.hpp"

#include <optional>

namespace guidepin::job {

/// Returns the rows of `now` that differ from `before`. Returns nothing if rows are missing or in another
/// order, or if most changed: then replace all rows.
std::optional<record::DerivedTables> derived_change(record::DerivedTables const& before,
                                                    record::DerivedTables const& now);

} // namespace guidepin::job
