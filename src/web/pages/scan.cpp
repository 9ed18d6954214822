// SPDX-License-Identifier: Apache-2.0
// A link found by the code on its label: the device sends what its camera sees, small and grey.
#include "base/text.hpp"
#include "job/plan/scanned_code.hpp"
#include "web/code_reader.hpp"
#include "web/desk.hpp"
#include "web/frame.hpp"
#include "web/pages/pages.hpp"

#include <nlohmann/json.hpp>

namespace guidepin::web {

Result<Reply> read_label(Desk& desk, Exchange const& exchange)
{
    auto const picture = exchange.uploads.find("picture");
    if (picture == exchange.uploads.end())
        return Error{Errc::invalid_input, "There is no picture to look at"};
    TRY_ASSIGN(auto const text,
               read_code(parse_integer(exchange.text("width")).value_or(0),
                         parse_integer(exchange.text("height")).value_or(0), picture->second.bytes));
    nlohmann::json said = nlohmann::json::object();
    if (text) {
        said["text"] = *text;
        if (auto const found = job::meaning_of_code(desk.job().state(), *text))
            said["address"] = found->link.empty() ? "/set-up?id=" + found->setup : link_address(found->link);
    }
    Reply reply;
    reply.type = "application/json";
    // The content of a code need not be text.
    reply.body = said.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
    return reply;
}

} // namespace guidepin::web
