// SPDX-License-Identifier: Apache-2.0
// What all stores do alike when a chain grows. For this room alone.
#pragma once

#include "record/store.hpp"

namespace guidepin::record::detail {

/// The last record of a chain; sequence 0 for a chain that has none.
struct Tip
{
    std::int64_t sequence = 0;
    Digest hash;
};

/// Turns drafts into records behind `tip`, hands each to `insert` and moves `tip` on.
Result<Appended> grow(Tip& tip, StationKey const* key, Maker const& maker, std::span<Draft const> drafts,
                      RecordVisitor const& insert);

/// Whether `record` follows `tip`: sequence, previous and hash. Moves `tip` on. damaged with the reason.
Outcome follow(Tip& tip, RecordView const& record);

/// The message for a store that was opened without a key.
Error no_key(std::string const& store_name);

} // namespace guidepin::record::detail
