// SPDX-License-Identifier: Apache-2.0
#include "web/server.hpp"

#include "base/hash.hpp"
#include "base/text.hpp"
#include "web/assets.hpp"
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
#include <unistd.h>

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

std::string cookie(httplib::Request const& request, std::string_view name)
{
    std::string const all = request.get_header_value("Cookie");
    for (std::string_view part : split(all, ';')) {
        part = trimmed(part);
        if (part.size() > name.size() && part.substr(0, name.size()) == name && part[name.size()] == '=')
            return std::string(part.substr(name.size() + 1));
    }
    return {};
}

/// The name in a Host header or an address, without the port.
std::string host_name(std::string_view host)
{
    if (!host.empty() && host.front() == '[') return std::string(host.substr(0, host.find(']') + 1));
    return lowered(host.substr(0, host.find(':')));
}

/// A name that another site made point here (DNS rebinding) is refused: numbers, "localhost" and the
/// machine's own name cannot be.
bool host_is_ours(std::string const& name)
{
    if (name == "localhost" || (!name.empty() && name.front() == '[')) return true;
    if (!name.empty() && name.find_first_not_of("0123456789.") == std::string::npos) return true;
    char own[256] = {};
    if (::gethostname(own, sizeof own - 1) != 0) return false;
    std::string const machine = lowered(own);
    return name == machine || name == machine + ".local";
}

} // namespace

bool is_loopback(std::string const& address)
{
    return address.rfind("127.", 0) == 0 || address == "::1" || address == "localhost" ||
           address == "::ffff:127.0.0.1";
}

struct Server::Inside
{
    ServerSettings settings;
    std::unique_ptr<Desk> desk;
    std::unique_ptr<httplib::Server> http;
    std::string address, first_code, cookie_name;
    int port = 0;
    bool tls = false;
    std::atomic<int> listeners{0};

    std::int64_t now_ms() const { return settings.desk.actor.clock->now_ms(); }

    bool from_machine(httplib::Request const& request) const
    {
        return is_loopback(request.remote_addr) && !request.has_header("X-Forwarded-For") &&
               !request.has_header("Forwarded");
    }

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

    /// Who asks; makes a session on the serving machine, where nobody logs in.
    Exchange exchange_of(httplib::Request const& request, httplib::Response& response)
    {
        Exchange exchange;
        exchange.method = request.method == "HEAD" ? "GET" : request.method;
        exchange.path = request.path;
        for (auto const& [name, value] : request.params) exchange.fields.emplace(name, value);
        for (auto const& [name, file] : request.files) {
            if (file.filename.empty()) {
                exchange.fields.emplace(name, file.content);
            } else {
                exchange.uploads[name] = {file.filename, file.content_type, file.content};
            }
        }
        exchange.part = request.has_header("HX-Request");
        exchange.json = request.has_header("X-Guidepin-Token");
        std::string const theme = cookie(request, "gp_theme");
        if (theme == "light" || theme == "dark") exchange.theme = theme;
        exchange.at_machine = from_machine(request);
        exchange.session = cookie(request, cookie_name);
        auto session = desk->sessions().find(exchange.session, now_ms());
        if (!session && exchange.at_machine && exchange.method == "GET") {
            exchange.session = desk->sessions().begin(settings.desk.actor.name, job::Role::lead, now_ms());
            session = desk->sessions().find(exchange.session, now_ms());
            give_cookie(response, exchange.session);
        }
        if (session) {
            exchange.person = session->person;
            exchange.role = session->role;
            exchange.token = session->token;
        } else {
            exchange.session.clear();
        }
        return exchange;
    }

    void give_cookie(httplib::Response& response, std::string const& session) const
    {
        response.set_header("Set-Cookie", fmt::format("{}={}; Path=/; HttpOnly; SameSite=Strict{}",
                                                      cookie_name, session, tls ? "; Secure" : ""));
    }

    /// Nothing when the request may go on.
    std::optional<Reply> refused(httplib::Request const& request) const
    {
        if (!host_is_ours(host_name(request.get_header_value("Host"))))
            return Reply::text("This name is not this machine's: open the workbench by its address.", 421);
        if (request.method != "GET" && request.method != "HEAD" && request.method != "POST")
            return Reply::text("Only GET and POST are answered.", 405);
        if (request.method != "POST") return std::nullopt;
        std::string const origin = request.get_header_value("Origin");
        std::string const ours =
            fmt::format("{}://{}", tls ? "https" : "http", request.get_header_value("Host"));
        std::string const site = request.get_header_value("Sec-Fetch-Site");
        if ((!origin.empty() && origin != ours) || (!site.empty() && site != "same-origin"))
            return Reply::text("A change has to come from the workbench's own pages.", 403);
        return std::nullopt;
    }

    Reply answer(Exchange const& exchange)
    {
        for (Page const& page : pages()) {
            if (page.method != exchange.method || page.path != exchange.path) continue;
            if (page.access != Access::anybody && exchange.session.empty()) {
                if (exchange.method == "GET" && !exchange.part) return Reply::see("/pair");
                return failure(
                    exchange,
                    Error{Errc::refused,
                          exchange.at_machine
                              ? "The workbench was started anew: go back, open the page again and "
                                "repeat."
                              : "This device is not paired, or its session has ended: pair it again."},
                    401);
            }
            if (!exchange.may(page.access))
                return failure(exchange,
                               Error{Errc::refused, fmt::format("A {} may not do this: {}",
                                                                job::name_of(exchange.role), page.help)},
                               403);
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
        Exchange exchange = exchange_of(request, response);
        if (request.path == "/events") return events(exchange, response);
        send(request, response, answer(exchange));
    }

    void post(httplib::Request const& request, httplib::Response& response)
    {
        Exchange exchange = exchange_of(request, response);
        bool const pairing = request.path == "/pair";
        std::string token = request.get_header_value("X-Guidepin-Token");
        if (token.empty()) token = exchange.text("token");
        if (!pairing && !exchange.session.empty() && (token.empty() || token != exchange.token))
            return send(
                request, response,
                failure(exchange,
                        Error{Errc::refused,
                              "The page is older than this session: go back, open it again and repeat."},
                        403));
        Reply reply = answer(exchange);
        if (pairing) {
            for (auto& [name, value] : reply.headers) {
                if (name != "X-Session") continue;
                give_cookie(response, value);
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
                if (desk->closing() || !desk->sessions().find(session, now_ms())) return false;
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
            if (auto reply = refused(request)) {
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
    inside.cookie_name = fmt::format("gp_{}", inside.port);
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
