// SPDX-License-Identifier: Apache-2.0
#include "web/server.hpp"

#include "base/hash.hpp"
#include "base/text.hpp"
#include "web/assets.hpp"
#include "web/door.hpp"
#include "web/frame.hpp"
#include "web/own_certificate.hpp"
#include "web/page.hpp"
#include "web/squeeze.hpp"

// The library's own build has TLS; a tool that reads this file alone has to be told so.
#ifndef CPPHTTPLIB_OPENSSL_SUPPORT
#define CPPHTTPLIB_OPENSSL_SUPPORT
#endif
#include <httplib.h>

#include <algorithm>
#include <array>
#include <cstring>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

constexpr std::size_t largest_body = 16U << 20U;
constexpr int listeners_at_most = 24; ///< open event streams; each holds a thread
constexpr std::size_t threads = 48;

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

/// What the library read, as our own pages know it.
Request request_of(httplib::Request const& from)
{
    Request request;
    request.method = from.method;
    request.path = from.path;
    for (auto const& [name, value] : from.params) request.fields.emplace(name, value);
    for (auto const& [name, file] : from.files) {
        if (file.filename.empty()) {
            request.fields.emplace(name, file.content);
        } else {
            request.uploads[name] = {file.filename, file.content_type, file.content};
        }
    }
    for (auto const& [name, value] : from.headers) {
        if (name == "REMOTE_ADDR" || name == "REMOTE_PORT" || name == "LOCAL_ADDR" || name == "LOCAL_PORT")
            continue; // the library's own, not the sender's
        request.headers.emplace(lowered(name), value);
    }
    request.peer = from.remote_addr;
    return request;
}

} // namespace

struct Server::Inside
{
    ServerSettings settings;
    std::unique_ptr<Desk> desk;
    std::unique_ptr<httplib::Server> http;
    std::unique_ptr<Door> door;
    std::string address, first_code;
    int port = 0;
    bool tls = false;
    std::atomic<int> listeners{0};

    std::int64_t now_ms() const { return settings.desk.actor.clock->now_ms(); }

    void send(httplib::Request const& request, httplib::Response& response, Reply reply) const
    {
        for (auto const& [name, value] : reply.headers) response.set_header(name, value);
        for (auto const& [name, value] : guards) {
            if (!response.has_header(name)) response.set_header(name, value);
        }
        if (!response.has_header("Cache-Control")) response.set_header("Cache-Control", "no-cache, private");
        response.status = reply.status;
        if (reply.status == 200 && request.method == "GET") {
            std::string const tag = fmt::format("\"{}-{:016x}\"", build_id(), fast_hash(reply.body));
            response.set_header("ETag", tag);
            if (request.get_header_value("If-None-Match") == tag) {
                response.status = 304;
                return;
            }
        }
        bool const small =
            reply.body.size() < 1000 || reply.type == "application/pdf" || reply.type.rfind("image/", 0) == 0;
        if (!small && request.get_header_value("Accept-Encoding").find("gzip") != std::string::npos) {
            reply.body = squeezed(reply.body);
            response.set_header("Content-Encoding", "gzip");
            response.set_header("Vary", "Accept-Encoding");
        }
        if (reply.body.empty()) {
            response.set_content("", reply.type);
            return;
        }
        // As a provider, so that the library does not compress it once more.
        auto const body = std::make_shared<std::string>(std::move(reply.body));
        response.set_content_provider(
            body->size(), reply.type,
            [body](std::size_t offset, std::size_t length, httplib::DataSink& sink) {
                return sink.write(body->data() + offset, length);
            });
    }

    Reply answer(Exchange const& exchange)
    {
        for (Page const& page : pages()) {
            if (page.method != exchange.method || page.path != exchange.path) continue;
            if (auto const no = door->page_refused(page, exchange)) {
                if (no->second == 401 && exchange.method == "GET" && !exchange.part)
                    return Reply::see("/pair");
                return failure(exchange, no->first, no->second);
            }
            std::lock_guard const guard(desk->lock());
            desk->job().act_as(exchange.person.empty() ? settings.desk.actor.name : exchange.person);
            std::string const before = desk->job().version();
            auto reply = page.show(*desk, exchange);
            if (desk->job().version() != before) desk->job_changed();
            if (reply) return std::move(*reply);
            return failure_page(*desk, exchange, reply.error(), http_status(reply.error().code));
        }
        return failure(exchange, Error{Errc::not_found, fmt::format("There is no page {}", exchange.path)},
                       404);
    }

    Reply failure(Exchange const& exchange, Error const& error, int status)
    {
        std::lock_guard const guard(desk->lock());
        return failure_page(*desk, exchange, error, status);
    }

    void get(httplib::Request const& request, httplib::Response& response)
    {
        if (auto asset = asset_reply(request.path == "/favicon.ico" ? asset_path("mark.svg") : request.path))
            return send(request, response, std::move(*asset));
        auto const [exchange, set_cookie] = door->enter(request_of(request));
        if (!set_cookie.empty()) response.set_header("Set-Cookie", set_cookie);
        if (request.path == "/events") return events(exchange, response);
        send(request, response, answer(exchange));
    }

    void post(httplib::Request const& request, httplib::Response& response)
    {
        Request const asked = request_of(request);
        auto const [exchange, set_cookie] = door->enter(asked);
        bool const pairing = request.path == "/pair";
        if (auto const no = door->token_refused(asked, exchange))
            return send(request, response, failure(exchange, *no, 403));
        Reply reply = answer(exchange);
        if (pairing) {
            for (auto& [name, value] : reply.headers) {
                if (name != "X-Session") continue;
                response.set_header("Set-Cookie", door->cookie_of(value));
                name = "X-Paired";
                value = "yes";
            }
        }
        send(request, response, std::move(reply));
    }

    void events(Exchange const& exchange, httplib::Response& response)
    {
        if (exchange.session.empty()) {
            response.status = 401;
            return;
        }
        if (listeners.fetch_add(1) >= listeners_at_most) {
            --listeners;
            response.status = 503;
            response.set_header("Retry-After", "5");
            return;
        }
        response.set_header("Cache-Control", "no-store");
        response.set_header("X-Content-Type-Options", "nosniff");
        auto const seen = std::make_shared<std::uint64_t>(0);
        std::string const session = exchange.session;
        response.set_chunked_content_provider(
            "text/event-stream",
            [this, seen, session](std::size_t, httplib::DataSink& sink) {
                std::uint64_t const now = desk->wait_for_change(*seen, 10'000);
                if (desk->closing() || !door->is_open(session)) return false;
                std::string const line = now == *seen ? std::string{": still here\n\n"}
                                                      : fmt::format("event: changed\ndata: {}\n\n", now);
                *seen = now;
                return sink.write(line.data(), line.size());
            },
            [this](bool) { --listeners; });
    }

    void route()
    {
        http->new_task_queue = [] { return new httplib::ThreadPool(threads); };
        http->set_payload_max_length(largest_body);
        // Head and body of an answer are written apart: waiting to join them costs 40 ms each time.
        http->set_tcp_nodelay(true);
        http->set_keep_alive_max_count(1000);
        http->set_keep_alive_timeout(10);
        http->set_read_timeout(20);
        http->set_write_timeout(20);
        http->set_pre_routing_handler([this](httplib::Request const& request, httplib::Response& response) {
            if (auto reply = door->refused(request_of(request))) {
                send(request, response, std::move(*reply));
                response.set_header("Connection", "close"); // a body that was refused is not read
                return httplib::Server::HandlerResponse::Handled;
            }
            if (request.method == "POST") return httplib::Server::HandlerResponse::Unhandled;
            get(request, response);
            return httplib::Server::HandlerResponse::Handled;
        });
        for (Page const& page : pages()) {
            if (page.method != "POST") continue;
            http->Post(std::string(page.path),
                       [this](httplib::Request const& request, httplib::Response& response) {
                           post(request, response);
                       });
        }
        http->set_exception_handler(
            [this](httplib::Request const& request, httplib::Response& response, std::exception_ptr thrown) {
                std::string what = "unknown";
                try {
                    std::rethrow_exception(thrown);
                } catch (std::exception const& error) {
                    what = error.what();
                } catch (...) {
                }
                std::fprintf(stderr, "guidepin: This is a bug of ours, please report it with this line: %s\n",
                             what.c_str());
                send(request, response, Reply::text("This is a bug of ours; the terminal says more.", 500));
            });
        http->set_error_handler([this](httplib::Request const& request, httplib::Response& response) {
            if (!response.body.empty() || response.content_length_ > 0) return;
            char const* const words = response.status == 413   ? "This is too large: at most 16 MB are taken."
                                      : response.status == 404 ? "There is no such page."
                                                               : "This request cannot be answered.";
            send(request, response, Reply::text(words, response.status));
        });
    }
};

Server::Server()
    : inside_(std::make_unique<Inside>())
{
}
Server::~Server()
{
    stop();
}

Result<std::unique_ptr<Server>> Server::open(ServerSettings settings)
{
    std::unique_ptr<Server> server(new Server);
    Inside& inside = *server->inside_;
    bool const network = !is_loopback(settings.listen);
    inside.tls = settings.tls || network || !settings.certificate.empty();
    if (inside.tls) {
        if (settings.certificate.empty()) {
            TRY_ASSIGN(auto const files, own_certificate(settings.own_folder, settings.listen));
            settings.certificate = files.certificate;
            settings.private_key = files.private_key;
        }
        inside.http =
            std::make_unique<httplib::SSLServer>(settings.certificate.c_str(), settings.private_key.c_str());
    } else {
        inside.http = std::make_unique<httplib::Server>();
    }
    if (!inside.http->is_valid())
        return Error{Errc::environment, fmt::format("{} and {} are no certificate with its key (PEM)",
                                                    settings.certificate, settings.private_key)};
    TRY_ASSIGN(inside.desk, Desk::open(settings.desk));
    inside.settings = std::move(settings);
    inside.route();
    std::string const host = inside.settings.listen == "localhost" ? "127.0.0.1" : inside.settings.listen;
    if (inside.settings.port == 0) {
        inside.port = inside.http->bind_to_any_port(host);
    } else if (inside.http->bind_to_port(host, inside.settings.port)) {
        inside.port = inside.settings.port;
    } else {
        inside.port = -1;
    }
    if (inside.port <= 0)
        return Error{
            Errc::environment,
            fmt::format("{} port {} cannot be opened: is another program using it? Try another --port", host,
                        inside.settings.port)};
    inside.door = std::make_unique<Door>(inside.desk->sessions(),
                                         DoorSettings{inside.settings.desk.actor.name, inside.port,
                                                      inside.tls, [raw = &inside] { return raw->now_ms(); }});
    inside.address = fmt::format("{}://{}:{}/", inside.tls ? "https" : "http", host, inside.port);
    if (network)
        inside.first_code = inside.desk->sessions().code_for(inside.settings.desk.actor.name, job::Role::lead,
                                                             inside.now_ms());
    return server;
}

std::string const& Server::address() const
{
    return inside_->address;
}
std::string const& Server::first_code() const
{
    return inside_->first_code;
}
Desk& Server::desk()
{
    return *inside_->desk;
}

Outcome Server::run()
{
    if (!inside_->http->listen_after_bind() && !inside_->desk->closing())
        return Error{Errc::environment, "The workbench stopped listening"};
    return {};
}

void Server::stop()
{
    if (inside_->desk) inside_->desk->close();
    if (inside_->http) inside_->http->stop();
}

} // namespace guidepin::web
