// SPDX-License-Identifier: Apache-2.0
// Walks every chain and names the first record that does not hold.
// Verified by: tests/store/record/check.cpp (any changed byte is found).
#pragma once

#include "record/store.hpp"

namespace guidepin::record {

/// A record that does not hold, or the place where one is missing.
struct Defect
{
    std::string station;
    std::int64_t sequence = 0;
    std::string kind;
    Instant time;
    std::string reason; ///< a sentence

    /// "Station 1f3a…, record 17 (link-tested, 2026-03-02T08:15:00+01:00): ..."
    std::string text() const;
};

struct CheckReport
{
    std::int64_t records = 0, stations = 0, heads = 0; ///< looked at
    std::optional<Defect> first;                       ///< none: everything holds
};

/// Each record: canonical body, hash, previous, sequence, known station; each head: hash and signature;
/// nothing unsigned at the end of a chain. Errors only when the store cannot be read at all.
Result<CheckReport> check(Store const& store);

} // namespace guidepin::record
