// SPDX-License-Identifier: Apache-2.0
// Copies of all records that a query finds, for tests.
#pragma once

#include "record/store.hpp"

#include <vector>

namespace guidepin::record {

inline Result<std::vector<Record>> records(Store const& store, RecordQuery const& query)
{
    std::vector<Record> all;
    TRY(store.visit(query, [&](RecordView const& view) -> Outcome {
        all.push_back(Record(view));
        return {};
    }));
    return all;
}

} // namespace guidepin::record
