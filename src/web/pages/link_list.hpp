// SPDX-License-Identifier: Apache-2.0
// What the list of links and the page of one link share: the same filter gives the same neighbours.
#pragma once

#include "record/store.hpp"
#include "web/desk.hpp"
#include "web/page.hpp"

namespace guidepin::web {

struct LinkFilter
{
    record::LinkQuery query;
    std::string cord;                    ///< a test cord: links under any reference taken with it
    std::vector<std::string> references; ///< of that cord
    std::string address;                 ///< the same as a query: "state=fail&zone=North"
};

LinkFilter filter_of(Desk& desk, Exchange const& exchange);
Result<record::LinkPage> filtered(Desk& desk, LinkFilter const& filter, std::int64_t offset,
                                  std::int64_t limit);

} // namespace guidepin::web
