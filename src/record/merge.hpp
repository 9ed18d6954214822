// SPDX-License-Identifier: Apache-2.0
// Two files of one job become one: the union of their stations' chains.
// Verified by: tests/store/record/merge.cpp.
#pragma once

#include "record/store.hpp"

namespace guidepin::record {

struct Merged
{
    std::int64_t added = 0;   ///< records that were new
    std::int64_t present = 0; ///< records that stood here already
};

/// Takes over what `from` has and `into` has not. `from` is checked first and has to hold.
/// Errors: conflict (another job; or a station's chains differ, naming station and sequence), damaged (a
/// record of `from` does not hold).
Result<Merged> merge(Store& into, Store const& from);

} // namespace guidepin::record
