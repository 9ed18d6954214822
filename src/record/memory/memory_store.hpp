// SPDX-License-Identifier: Apache-2.0
// A store in memory of records that came from elsewhere. For this room alone.
#pragma once

#include "record/store.hpp"

namespace guidepin::record {

/// Exactly these records and heads, as they are: check() says whether they hold. Of two records of one place
/// the first is kept.
std::unique_ptr<Store> make_memory_store_of(std::string name, std::string job_id, std::vector<Record> records,
                                            std::vector<Head> heads);

} // namespace guidepin::record
