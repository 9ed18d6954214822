// SPDX-License-Identifier: Apache-2.0
// One request as it came, whatever library read it.
// Verified by: tests/web (the real server, attacked and used).
#pragma once

#include "web/page.hpp"

#include <map>
#include <string>
#include <string_view>

namespace guidepin::web {

struct Request
{
    std::string method, path;                       ///< the path is decoded
    std::string query;                              ///< as it came, without "?"
    std::multimap<std::string, std::string> fields; ///< of the query, then of the form
    std::map<std::string, Upload> uploads;
    std::multimap<std::string, std::string, std::less<>> headers; ///< names in lower case
    std::string peer;                                             ///< the address that asks, without a port
    std::string body;

    bool has_header(std::string_view name) const { return headers.find(name) != headers.end(); }
    /// The first of this name; empty when there is none. `name` in lower case.
    std::string_view header(std::string_view name) const
    {
        auto const found = headers.find(name);
        return found == headers.end() ? std::string_view{} : std::string_view{found->second};
    }
};

} // namespace guidepin::web
