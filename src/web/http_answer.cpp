// SPDX-License-Identifier: Apache-2.0
#include "web/http_answer.hpp"

#include "base/hash.hpp"
#include "base/text.hpp"
#include "web/assets.hpp"
#include "web/compress.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

constexpr std::size_t small_body = 1'000; ///< compressing it saves no packet

constexpr std::array<std::pair<char const*, char const*>, 7> guards{{
    {"Content-Security-Policy",
     "default-src 'self'; img-src 'self' data: blob:; object-src 'self'; frame-src 'self'; base-uri 'none'; "
     "form-action 'self'; frame-ancestors 'self'"},
    {"X-Content-Type-Options", "nosniff"},
    {"X-Frame-Options", "SAMEORIGIN"},
    // Not "no-referrer": browsers then send "Origin: null" with our own forms, which are refused.
    {"Referrer-Policy", "same-origin"},
    {"Cross-Origin-Opener-Policy", "same-origin"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
    {"Permissions-Policy", "camera=(self), geolocation=(), microphone=()"},
}};

/// A value cannot begin another line.
std::string line(std::string_view name, std::string_view value)
{
    std::string text = fmt::format("{}: {}", name, value);
    std::replace_if(
        text.begin(), text.end(),
        [](char letter) { return letter == '\r' || letter == '\n' || letter == '\0'; }, ' ');
    return text + "\r\n";
}

} // namespace

bool takes_gzip(Request const& request)
{
    return request.header("accept-encoding").find("gzip") != std::string_view::npos;
}

namespace {

/// A body for which compressing is worth its time.
bool is_packed(Reply const& reply)
{
    return reply.body.size() >= small_body && reply.type != "application/pdf" &&
           reply.type.rfind("image/", 0) != 0;
}

/// All header lines of a reply but those that follow from its bytes.
std::string header_lines(Reply const& reply, bool pack)
{
    std::string lines;
    auto const has = [&](std::string_view name) {
        return std::any_of(reply.headers.begin(), reply.headers.end(),
                           [&](auto const& header) { return lowered(header.first) == lowered(name); });
    };
    for (auto const& [name, value] : guards) {
        if (!has(name)) lines += line(name, value);
    }
    if (!has("Cache-Control")) lines += line("Cache-Control", "no-cache, private");
    for (auto const& [name, value] : reply.headers) lines += line(name, value);
    lines += line("Content-Type", reply.type);
    if (!is_packed(reply)) return lines;
    lines += line("Vary", "Accept-Encoding");
    if (pack) lines += line("Content-Encoding", "gzip");
    return lines;
}

std::string tag_of(int status, std::uint64_t hash)
{
    return status == 200 ? fmt::format("\"{}-{:016x}\"", build_id(), hash) : std::string{};
}

std::vector<std::string_view> between(std::string_view text, std::string_view gap)
{
    std::vector<std::string_view> pieces;
    std::size_t from = 0;
    for (std::size_t at = text.find(gap); at != std::string_view::npos; at = text.find(gap, from)) {
        pieces.push_back(text.substr(from, at - from));
        from = at + gap.size();
    }
    pieces.push_back(text.substr(from));
    return pieces;
}

} // namespace

Finished finish(Reply reply, bool pack)
{
    Finished done;
    done.status = reply.status;
    done.tag = tag_of(reply.status, fast_hash(reply.body));
    Result<std::string> packed = pack && is_packed(reply) ? compressed(reply.body) : Result<std::string>{""};
    // A page that cannot be compressed goes out as it is.
    done.lines = header_lines(reply, pack && packed.has_value());
    if (packed && !packed->empty()) reply.body = std::move(*packed);
    done.body = std::make_shared<std::string const>(std::move(reply.body));
    return done;
}

SharedPage::SharedPage(Reply reply, std::string_view gap, bool pack)
    : status_(reply.status)
    , hash_(fast_hash(reply.body))
{
    auto const pieces = between(reply.body, gap);
    if (pack && is_packed(reply)) {
        if (auto packed = CompressedPieces::of(pieces)) compressed_ = std::move(*packed);
    }
    if (!compressed_) pieces_.assign(pieces.begin(), pieces.end());
    // A page that cannot be compressed goes out as it is.
    lines_ = header_lines(reply, compressed_.has_value());
}

Finished SharedPage::with(std::string_view token) const
{
    std::string body;
    if (compressed_) {
        body = compressed_->with(token);
    } else {
        for (std::string const& piece : pieces_) {
            if (&piece != pieces_.data()) body += token;
            body += piece;
        }
    }
    return {status_, lines_, tag_of(status_, hash_ ^ fast_hash(token)),
            std::make_shared<std::string const>(std::move(body))};
}

std::size_t SharedPage::bytes() const
{
    std::size_t sum = sizeof(*this) + lines_.size() + (compressed_ ? compressed_->bytes() : 0);
    for (std::string const& piece : pieces_) sum += piece.size();
    return sum;
}

Answer answer_of(Finished const& finished, Request const& request, std::string const& set_cookie)
{
    Answer answer{finished.status, finished.lines, finished.body, false};
    if (!set_cookie.empty()) answer.lines += line("Set-Cookie", set_cookie);
    if (finished.tag.empty() || request.method == "POST") return answer;
    answer.lines += line("ETag", finished.tag);
    if (request.header("if-none-match") == finished.tag) {
        answer.status = 304;
        answer.body = nullptr;
    }
    return answer;
}

Answer answer_of(Reply reply, Request const& request, std::string const& set_cookie)
{
    bool const pack = takes_gzip(request);
    return answer_of(finish(std::move(reply), pack), request, set_cookie);
}

Answer refusal_answer(int status, std::string words, int retry_after_s)
{
    Reply reply = Reply::text(std::move(words), status);
    if (retry_after_s > 0) reply.headers.emplace_back("Retry-After", fmt::format("{}", retry_after_s));
    Finished done = finish(std::move(reply), false);
    return {done.status, std::move(done.lines), std::move(done.body), true};
}

std::string status_line(int status)
{
    struct Phrase
    {
        int status;
        char const* words;
    };
    constexpr std::array phrases{
        Phrase{200, "OK"},
        Phrase{303, "See Other"},
        Phrase{304, "Not Modified"},
        Phrase{400, "Bad Request"},
        Phrase{401, "Unauthorized"},
        Phrase{403, "Forbidden"},
        Phrase{404, "Not Found"},
        Phrase{405, "Method Not Allowed"},
        Phrase{408, "Request Timeout"},
        Phrase{409, "Conflict"},
        Phrase{411, "Length Required"},
        Phrase{413, "Content Too Large"},
        Phrase{414, "URI Too Long"},
        Phrase{415, "Unsupported Media Type"},
        Phrase{417, "Expectation Failed"},
        Phrase{421, "Misdirected Request"},
        Phrase{422, "Unprocessable Content"},
        Phrase{429, "Too Many Requests"},
        Phrase{431, "Request Header Fields Too Large"},
        Phrase{500, "Internal Server Error"},
        Phrase{503, "Service Unavailable"},
        Phrase{505, "HTTP Version Not Supported"},
    };
    for (Phrase const& phrase : phrases) {
        if (phrase.status == status) return fmt::format("HTTP/1.1 {} {}\r\n", status, phrase.words);
    }
    return fmt::format("HTTP/1.1 {} Answer\r\n", status);
}

} // namespace guidepin::web
