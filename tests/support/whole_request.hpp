// SPDX-License-Identifier: Apache-2.0
// A request read in one step from bytes that hold all of it, for tests and the fuzzer. The server reads the
// same parts one after the other as they come in.
#pragma once

#include "web/http_request.hpp"

#include <string>
#include <string_view>
#include <utility>
#include <variant>

namespace guidepin::web {

inline std::variant<Request, Refusal> parse_request(std::string_view bytes, RequestLimits const& limits)
{
    auto const length = head_length(bytes, 0, limits);
    if (auto const* no = std::get_if<Refusal>(&length)) return *no;
    std::size_t const whole = std::get<std::size_t>(length);
    if (whole == 0) return Refusal{400, "The head of the request is not whole."};
    auto read = parse_head(bytes.substr(0, whole), limits);
    if (auto* no = std::get_if<Refusal>(&read)) return std::move(*no);
    Head& head = std::get<Head>(read);
    if (bytes.size() - whole < head.body_length) return Refusal{400, "The body is not whole."};
    std::string_view const body = bytes.substr(whole, head.body_length);
    auto parsed = parse_form(head.request.header("content-type"), body, limits);
    if (auto* no = std::get_if<Refusal>(&parsed)) return std::move(*no);
    Form& form = std::get<Form>(parsed);
    head.request.fields.merge(form.fields);
    head.request.uploads = std::move(form.uploads);
    head.request.body = std::string(body);
    return std::move(head.request);
}

} // namespace guidepin::web
