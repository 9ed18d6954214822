// SPDX-License-Identifier: Apache-2.0
#include "web/http_request.hpp"

#include "base/text.hpp"

#include <boost/beast/http/empty_body.hpp>
#include <boost/beast/http/parser.hpp>

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

namespace http = boost::beast::http;

Refusal refusal(int status, std::string words)
{
    return {status, std::move(words)};
}

std::string_view view(boost::beast::string_view text)
{
    return {text.data(), text.size()};
}

int hex_value(char digit)
{
    if (digit >= '0' && digit <= '9') return digit - '0';
    if (digit >= 'a' && digit <= 'f') return digit - 'a' + 10;
    if (digit >= 'A' && digit <= 'F') return digit - 'A' + 10;
    return -1;
}

/// "%41" as "A"; a sign that is not followed by two digits stays.
std::string decoded(std::string_view text, bool plus_is_space)
{
    std::string out;
    out.reserve(text.size());
    for (std::size_t i = 0; i < text.size(); ++i) {
        char letter = text[i];
        if (letter == '%' && i + 2 < text.size() && hex_value(text[i + 1]) >= 0 &&
            hex_value(text[i + 2]) >= 0) {
            letter = static_cast<char>(hex_value(text[i + 1]) * 16 + hex_value(text[i + 2]));
            i += 2;
        } else if (letter == '+' && plus_is_space) {
            letter = ' ';
        }
        out += letter;
    }
    return out;
}

/// False when there are more than `most`.
bool add_fields(std::string_view text, std::size_t most, std::multimap<std::string, std::string>& fields)
{
    while (!text.empty()) {
        auto const end = std::min(text.find('&'), text.size());
        std::string_view const pair = text.substr(0, end);
        text.remove_prefix(std::min(end + 1, text.size()));
        if (pair.empty()) continue;
        if (fields.size() >= most) return false;
        auto const equal = std::min(pair.find('='), pair.size());
        fields.emplace(decoded(pair.substr(0, equal), true),
                       decoded(pair.substr(std::min(equal + 1, pair.size())), true));
    }
    return true;
}

/// What the library's parser would take but another reader of the same bytes might understand otherwise.
std::optional<Refusal> doubtful_lines(std::string_view head, RequestLimits const& limits)
{
    std::size_t lines = 0;
    while (!head.empty()) {
        auto const end = head.find("\r\n");
        if (end == std::string_view::npos) return refusal(400, "A line of the head has no end.");
        std::string_view const line = head.substr(0, end);
        head.remove_prefix(end + 2);
        for (char const letter : line) {
            auto const byte = static_cast<unsigned char>(letter);
            if ((byte < 0x20 && byte != '\t') || byte == 0x7f)
                return refusal(400, "The head holds a control character.");
        }
        if (lines > 0 && !line.empty() && (line.front() == ' ' || line.front() == '\t'))
            return refusal(400, "A header runs over two lines: it has to be on one.");
        if (line.empty() && !head.empty()) return refusal(400, "The head has an empty line before its end.");
        if (++lines > limits.headers + 2)
            return refusal(431, fmt::format("The request has more than {} headers.", limits.headers));
    }
    return std::nullopt;
}

/// What the headers say of the body: one length in digits, and nothing that would change its meaning.
std::optional<Refusal> read_length(Head& head, RequestLimits const& limits)
{
    Request const& request = head.request;
    if (request.has_header("transfer-encoding"))
        return refusal(411, "A body has to state its length (Content-Length): it may not come in pieces.");
    if (request.has_header("content-encoding"))
        return refusal(415, "A body may not be compressed: send it as it is.");
    if (request.has_header("upgrade") &&
        lowered(request.header("connection")).find("upgrade") != std::string::npos)
        return refusal(400, "Only HTTP/1.1 is spoken here: there is nothing to change to.");
    auto const count = request.headers.count("content-length");
    if (count > 1) return refusal(400, "The request states its length twice.");
    if (count == 0) {
        if (request.method == "POST")
            return refusal(411, "A change has to state the length of its body (Content-Length).");
        return std::nullopt;
    }
    std::string_view const digits = request.header("content-length");
    if (digits.empty() || digits.find_first_not_of("0123456789") != std::string_view::npos)
        return refusal(400, "The length of the body (Content-Length) is no number.");
    if (digits.size() > 15)
        return refusal(413, fmt::format("This is too large: at most {} MB are taken.", limits.body >> 20U));
    head.has_length = true;
    head.body_length = static_cast<std::size_t>(parse_integer(digits).value_or(0));
    if (head.body_length > limits.body)
        return refusal(413, fmt::format("This is too large: at most {} MB are taken.", limits.body >> 20U));
    if (head.body_length > 0 && request.method != "POST")
        return refusal(400, "Only a change (POST) carries a body.");
    return std::nullopt;
}

std::optional<Refusal> read_target(std::string_view target, Request& request, RequestLimits const& limits)
{
    if (target.empty() || target.front() != '/')
        return refusal(400, "The address of a page begins with a slash.");
    target = target.substr(0, target.find('#'));
    auto const mark = target.find('?');
    request.path = decoded(target.substr(0, mark), false);
    if (mark != std::string_view::npos) request.query = std::string(target.substr(mark + 1));
    if (!add_fields(request.query, limits.fields, request.fields))
        return refusal(400, fmt::format("The address has more than {} fields.", limits.fields));
    return std::nullopt;
}

/// `name="…"` of a header's value; a backslash goes with the letter that follows it.
std::optional<std::string> parameter(std::string_view value, std::string_view name)
{
    std::string const lower = lowered(value);
    for (std::size_t at = lower.find(';'); at != std::string::npos; at = lower.find(';', at)) {
        ++at;
        while (at < lower.size() && (lower[at] == ' ' || lower[at] == '\t')) ++at;
        bool const here = std::string_view(lower).substr(at, name.size()) == name &&
                          at + name.size() < lower.size() && lower[at + name.size()] == '=';
        while (at < value.size() && value[at] != '=' && value[at] != ';') ++at;
        if (at >= value.size() || value[at] == ';') continue;
        ++at;
        std::string text;
        if (at < value.size() && value[at] == '"') {
            for (++at; at < value.size() && value[at] != '"'; ++at) {
                if (value[at] == '\\' && at + 1 < value.size() &&
                    (value[at + 1] == '"' || value[at + 1] == '\\'))
                    ++at;
                text += value[at];
            }
        } else {
            for (; at < value.size() && value[at] != ';'; ++at) text += value[at];
            text = std::string(trimmed(text));
        }
        if (here) return text;
        if (at >= value.size()) break;
    }
    return std::nullopt;
}

struct PartHead
{
    std::string name, type;
    std::optional<std::string> file;
};

std::optional<PartHead> part_head(std::string_view head)
{
    PartHead part;
    bool named = false;
    while (!head.empty()) {
        auto const end = std::min(head.find("\r\n"), head.size());
        std::string_view const line = head.substr(0, end);
        head.remove_prefix(std::min(end + 2, head.size()));
        auto const colon = line.find(':');
        if (colon == std::string_view::npos) return std::nullopt;
        std::string const name = lowered(trimmed(line.substr(0, colon)));
        std::string_view const value = trimmed(line.substr(colon + 1));
        if (name == "content-type") part.type = std::string(value);
        if (name != "content-disposition") continue;
        auto field = parameter(value, "name");
        if (!field) return std::nullopt;
        named = true;
        part.name = std::move(*field);
        part.file = parameter(value, "filename");
    }
    if (!named) return std::nullopt;
    return part;
}

std::variant<Form, Refusal> parse_parts(std::string_view boundary, std::string_view body,
                                        RequestLimits const& limits)
{
    constexpr std::size_t longest_boundary = 70, longest_part_head = 4'096; // RFC 2046 says 70
    Refusal const broken = refusal(400, "The form is not whole: send it again.");
    if (boundary.empty() || boundary.size() > longest_boundary) return broken;
    std::string const first = fmt::format("--{}", boundary), between = "\r\n" + first;
    if (body.substr(0, first.size()) != first) return broken;
    body.remove_prefix(first.size());
    Form form;
    while (body.substr(0, 2) == "\r\n") {
        body.remove_prefix(2);
        auto const head_end = body.substr(0, longest_part_head).find("\r\n\r\n");
        if (head_end == std::string_view::npos) return broken;
        auto part = part_head(body.substr(0, head_end));
        if (!part) return broken;
        body.remove_prefix(head_end + 4);
        auto const end = body.find(between);
        if (end == std::string_view::npos) return broken;
        if (form.fields.size() + form.uploads.size() >= limits.fields)
            return refusal(413, fmt::format("The form has more than {} fields.", limits.fields));
        std::string value(body.substr(0, end));
        if (part->file && !part->file->empty())
            form.uploads[part->name] = {std::move(*part->file), std::move(part->type), std::move(value)};
        else
            form.fields.emplace(std::move(part->name), std::move(value));
        body.remove_prefix(end + between.size());
    }
    if (body.substr(0, 2) != "--") return broken;
    return form;
}

} // namespace

std::variant<std::size_t, Refusal> head_length(std::string_view bytes, std::size_t scanned,
                                               RequestLimits const& limits)
{
    auto const too_long =
        refusal(414, fmt::format("The address of the page is over {} kB.", limits.request_line / 1024));
    auto const line = bytes.substr(0, limits.request_line + 2).find("\r\n");
    if (line == std::string_view::npos) {
        if (bytes.size() > limits.request_line) return too_long;
        return std::size_t{0};
    }
    auto const end = bytes.find("\r\n\r\n", std::max(line, scanned < 3 ? 0 : scanned - 3));
    std::size_t const whole = end == std::string_view::npos ? bytes.size() : end + 4;
    if (whole - line > limits.head + 4)
        return refusal(431, fmt::format("The headers of the request are over {} kB.", limits.head / 1024));
    return end == std::string_view::npos ? std::size_t{0} : whole;
}

std::variant<Head, Refusal> parse_head(std::string_view bytes, RequestLimits const& limits)
{
    if (auto doubt = doubtful_lines(bytes, limits)) return std::move(*doubt);
    http::request_parser<http::empty_body> parser;
    parser.header_limit(static_cast<std::uint32_t>(limits.request_line + limits.head + 16));
    parser.body_limit(boost::none); // the length is judged below
    parser.skip(true);              // the head alone
    boost::beast::error_code error;
    parser.put(boost::asio::buffer(bytes.data(), bytes.size()), error);
    if (error == http::error::bad_version) return refusal(505, "Only HTTP/1.0 and 1.1 are spoken here.");
    if (error && error != http::error::need_more)
        return refusal(400, fmt::format("The request is not understood: {}.", error.message()));
    if (!parser.is_header_done()) return refusal(400, "The head of the request is not whole.");
    auto const& message = parser.get();
    if (message.version() != 10 && message.version() != 11)
        return refusal(505, "Only HTTP/1.0 and 1.1 are spoken here.");
    Head head;
    Request& request = head.request;
    request.method = std::string(view(message.method_string()));
    for (auto const& field : message) {
        std::string_view const name = view(field.name_string());
        request.headers.emplace(lowered(name), std::string(trimmed(view(field.value()))));
    }
    auto const hosts = request.headers.count("host");
    if (hosts > 1 || (hosts == 0 && message.version() == 11))
        return refusal(400, "The request has to name its host once.");
    if (auto no = read_target(view(message.target()), request, limits)) return std::move(*no);
    if (auto no = read_length(head, limits)) return std::move(*no);
    std::string const expected = lowered(request.header("expect"));
    if (!expected.empty() && expected != "100-continue")
        return refusal(417, "Only \"Expect: 100-continue\" is known.");
    head.asks_to_continue = !expected.empty() && message.version() == 11;
    std::string const connection = lowered(request.header("connection"));
    bool const close = connection.find("close") != std::string::npos;
    bool const keep = connection.find("keep-alive") != std::string::npos;
    head.keep_alive = !close && (message.version() == 11 || keep);
    return head;
}

std::variant<Form, Refusal> parse_form(std::string_view type, std::string_view body,
                                       RequestLimits const& limits)
{
    std::string const kind = lowered(trimmed(type.substr(0, type.find(';'))));
    Form form;
    if (kind == "multipart/form-data") {
        auto const boundary = parameter(type, "boundary");
        return parse_parts(boundary ? *boundary : std::string{}, body, limits);
    }
    if (kind == "application/x-www-form-urlencoded" && !add_fields(body, limits.fields, form.fields))
        return refusal(413, fmt::format("The form has more than {} fields.", limits.fields));
    return form;
}

} // namespace guidepin::web
