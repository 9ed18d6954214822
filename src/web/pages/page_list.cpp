// SPDX-License-Identifier: Apache-2.0
// The registry of pages as data, for whoever visits them by a program.
#include "web/pages/pages.hpp"

#include <nlohmann/json.hpp>

namespace guidepin::web {

namespace {

std::string_view word_of(Access access)
{
    switch (access) {
    case Access::anybody:
        return "anybody";
    case Access::read:
        return "read";
    case Access::note:
        return "note";
    case Access::enter:
        return "enter";
    case Access::lead:
        break;
    }
    return "lead";
}

} // namespace

Result<Reply> page_list(Desk&, Exchange const&)
{
    nlohmann::ordered_json list = nlohmann::ordered_json::array();
    for (Page const& page : pages()) {
        list.push_back({{"method", page.method},
                        {"path", page.path},
                        {"title", page.title},
                        {"access", word_of(page.access)},
                        {"help", page.help},
                        {"in_menu", page.in_menu},
                        {"example", page.example}});
    }
    Reply reply;
    reply.type = "application/json";
    reply.body = nlohmann::ordered_json{{"pages", list}}.dump(1) + "\n";
    return reply;
}

} // namespace guidepin::web
