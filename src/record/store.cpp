// SPDX-License-Identifier: Apache-2.0
#include "record/store.hpp"

#include <fmt/format.h>

namespace guidepin::record {

Result<Appended> append(Store& store, std::span<Draft const> drafts)
{
    TRY_ASSIGN(auto const write, store.begin_write());
    TRY_ASSIGN(auto const appended, write->append(drafts));
    TRY(write->commit());
    return appended;
}

std::string chains_digest(std::vector<Head> const& latest_heads)
{
    Sha256 hash;
    for (Head const& head : latest_heads)
        hash.update(fmt::format("{} {} {}\n", head.station, head.sequence, head.hash.hex()));
    return hash.finish().hex();
}

Result<std::string> chains_digest(Store const& store)
{
    TRY_ASSIGN(auto const heads, store.latest_heads());
    return chains_digest(heads);
}

} // namespace guidepin::record
