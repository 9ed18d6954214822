// SPDX-License-Identifier: Apache-2.0
// room: web
// Any bytes are a request or a refusal with a status and words; a request holds its limits, and cut anywhere
// its head is the same head.
#include "web/http_request.hpp"
#include "whole_request.hpp"

#include <cstdint>
#include <cstdlib>

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    using namespace guidepin::web;
    RequestLimits limits;
    limits.request_line = 256; // small, so that they are met
    limits.head = 512;
    limits.headers = 8;
    limits.body = 1'024;
    limits.fields = 16;
    std::string_view const bytes(reinterpret_cast<char const*>(data), size);
    auto const parsed = parse_request(bytes, limits);
    if (auto const* no = std::get_if<Refusal>(&parsed)) {
        if (no->status < 400 || no->status > 599 || no->words.empty()) std::abort();
        return 0;
    }
    Request const& request = std::get<Request>(parsed);
    if (request.path.empty() || request.path.front() != '/' || request.body.size() > limits.body ||
        request.headers.size() > limits.headers || request.fields.size() > 2 * limits.fields ||
        request.headers.count("content-length") > 1 || request.has_header("transfer-encoding"))
        std::abort();
    // However the bytes come in, the head ends at the same place.
    auto const whole = std::get<std::size_t>(head_length(bytes, 0, limits));
    for (std::size_t cut = 1; cut < whole; cut += 7) {
        auto const part = head_length(bytes.substr(0, cut), 0, limits);
        if (!std::holds_alternative<std::size_t>(part) || std::get<std::size_t>(part) != 0) std::abort();
        if (std::get<std::size_t>(head_length(bytes, cut, limits)) != whole) std::abort();
    }
    return 0;
}
