// SPDX-License-Identifier: Apache-2.0
// Bytes to a request, without a socket: what is not plain HTTP/1.0 or 1.1 with a stated length is refused, so
// that nobody reads a request otherwise than we do.
// Verified by: tests/unit/web/http_request.cpp, tests/fuzz/http_request.cpp, tests/web/limits.test.mjs.
#pragma once

#include "web/request.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <variant>

namespace guidepin::web {

struct RequestLimits
{
    std::size_t request_line = 8'192;
    std::size_t head = 16'384; ///< the header block, without the request line
    std::size_t headers = 64;
    std::size_t body = 16U << 20U;
    std::size_t stranger_body = 1'024; ///< without a session, and for pairing alone
    std::size_t fields = 4'096;        ///< of a form
};

/// What is answered instead, before the connection is closed.
struct Refusal
{
    int status = 400;
    std::string words;
};

struct Head
{
    Request request; ///< without its form
    std::size_t body_length = 0;
    bool has_length = false;
    bool keep_alive = false;
    bool asks_to_continue = false; ///< "Expect: 100-continue"
};

/// The length of the head at the front of `bytes` with its empty line, 0 while it is not whole, or why it is
/// refused. `scanned` bytes were looked at before without an end in them.
std::variant<std::size_t, Refusal> head_length(std::string_view bytes, std::size_t scanned,
                                               RequestLimits const& limits);
/// A whole head, to its empty line.
std::variant<Head, Refusal> parse_head(std::string_view head, RequestLimits const& limits);

struct Form
{
    std::multimap<std::string, std::string> fields;
    std::map<std::string, Upload> uploads;
};
/// A body of the type its header states. A type that is no form gives none.
std::variant<Form, Refusal> parse_form(std::string_view type, std::string_view body,
                                       RequestLimits const& limits);

} // namespace guidepin::web
