// SPDX-License-Identifier: Apache-2.0
#include "web/server.hpp"

#include "web/assets.hpp"
#include "web/frame.hpp"
#include "web/http_cache.hpp"
#include "web/http_engine.hpp"
#include "web/own_certificate.hpp"
#include "web/page.hpp"

#include <algorithm>
#include <array>
#include <map>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

/// Pages that follow from the job, the time and who asks alone. Others look at files or at what was stashed.
constexpr std::array<std::string_view, 8> rendered_once{
    {"/", "/links", "/link", "/findings", "/reference", "/site-map", "/set-up", "/about"}};
constexpr std::int64_t rendered_for_ms = 10'000; ///< pages tell the time that is left in minutes
constexpr std::size_t longest_key = 1'024;
constexpr std::size_t cache_bytes = 24U << 20U; ///< of either cache

Page const* page_of(std::string_view method, std::string_view path)
{
    auto const all = pages();
    auto const found = std::find_if(
        all.begin(), all.end(), [&](Page const& page) { return page.method == method && page.path == path; });
    return found == all.end() ? nullptr : &*found;
}

Reply bug_reply(char const* what)
{
    std::fprintf(stderr, "guidepin: This is a bug of ours, please report it with this line: %s\n", what);
    return Reply::text("This is a bug of ours; the terminal says more.", 500);
}

std::string without_brackets(std::string const& listen)
{
    bool const bracketed = listen.size() > 2 && listen.front() == '[' && listen.back() == ']';
    return bracketed ? listen.substr(1, listen.size() - 2) : listen;
}

} // namespace

struct Server::Inside final : Application
{
    ServerSettings settings;
    std::unique_ptr<Desk> desk;
    std::unique_ptr<Door> door;
    std::unique_ptr<Engine> engine;
    std::string address, first_code;
    RequestLimits const limits = EngineLimits{}.request;
    /// In a rendered page, where a session's token goes. Nobody can guess it, so no text of the job holds it.
    std::string const token_place = random_word(24);
    StampedCache<Reply> rendered{cache_bytes};    ///< by page and person, with token_place in it
    StampedCache<Finished> finished{cache_bytes}; ///< by page and session
    std::map<std::string, Finished> assets;       ///< used on the engine's thread alone

    std::int64_t now_ms() const { return settings.desk.actor.clock->now_ms(); }

    // ---- on the engine's thread ----

    Opinion look(Head const& head) override
    {
        Request const& request = head.request;
        Opinion opinion;
        if (auto no = door->refused(request)) {
            opinion.answer = answer_of(std::move(*no), request);
            opinion.answer->close = true; // a body that was refused is not read
            return opinion;
        }
        bool const session = door->has_session(request);
        opinion.known = session || door->from_machine(request);
        if (request.method != "POST") {
            if (auto answer = asset(request)) opinion.answer = std::move(*answer);
            if (request.path == "/events") look_at_events(request, opinion);
            return opinion;
        }
        if (page_of("POST", request.path) == nullptr) {
            opinion.answer = refusal_answer(404, "There is no such page.");
        } else if (!session && head.body_length > limits.stranger_body) {
            // Only pairing takes a body from who has no session, and a code is short.
            if (request.path == "/pair")
                opinion.answer = refusal_answer(413, "This is too large: a code has eight digits.");
            else
                opinion.without_body = true;
        }
        return opinion;
    }

    void look_at_events(Request const& request, Opinion& opinion)
    {
        auto const entered = door->enter(request);
        if (entered.exchange.session.empty()) {
            opinion.answer = refusal_answer(401, "This device is not paired, or its session has ended.");
            return;
        }
        std::string lines = "Content-Type: text/event-stream\r\nCache-Control: no-store\r\n"
                            "X-Content-Type-Options: nosniff\r\n";
        if (!entered.set_cookie.empty()) lines += fmt::format("Set-Cookie: {}\r\n", entered.set_cookie);
        opinion.stream = StreamAsked{entered.exchange.session, std::move(lines)};
    }

    std::optional<Answer> asset(Request const& request)
    {
        std::string const path = request.path == "/favicon.ico" ? asset_path("mark.svg") : request.path;
        bool const pack = takes_gzip(request);
        std::string const key = fmt::format("{} {}", pack, path);
        if (auto const found = assets.find(key); found != assets.end())
            return answer_of(found->second, request);
        auto reply = asset_reply(path);
        if (!reply) return std::nullopt;
        // Any other name of the same file is answered, but not kept: there is no end of such names.
        bool const keep = reply->status == 200 && path.rfind(fmt::format("/assets/{}/", build_id()), 0) == 0;
        if (!keep) return answer_of(finish(std::move(*reply), false), request);
        return answer_of(assets.emplace(key, finish(std::move(*reply), pack)).first->second, request);
    }

    bool is_open(std::string const& session) override { return door->is_open(session); }

    std::uint64_t wait_for_change(std::uint64_t seen, int milliseconds) override
    {
        return desk->wait_for_change(seen, milliseconds);
    }

    // ---- on a worker ----

    Answer answer(Request request, bool without_body) override
    {
        Answer made;
        try {
            made = request.method == "POST" ? post(request, without_body) : get(request);
        } catch (std::exception const& error) {
            made = answer_of(bug_reply(error.what()), request);
        } catch (...) {
            made = answer_of(bug_reply("unknown"), request);
        }
        made.close = made.close || without_body;
        return made;
    }

    Answer get(Request const& request)
    {
        auto const [exchange, set_cookie] = door->enter(request);
        Page const* const page = page_of("GET", exchange.path);
        if (page == nullptr) return answer_of(no_page(exchange), request, set_cookie);
        if (auto no = page_refused(*page, exchange)) return answer_of(std::move(*no), request, set_cookie);
        if (auto const kept = kept_page(*page, request, exchange))
            return answer_of(*kept, request, set_cookie);
        return answer_of(show(*page, exchange), request, set_cookie);
    }

    Answer post(Request& request, bool without_body)
    {
        auto [exchange, set_cookie] = door->enter(request);
        if (!without_body) {
            auto parsed = parse_form(request.header("content-type"), request.body, limits);
            request.body = {};
            if (auto* no = std::get_if<Refusal>(&parsed))
                return answer_of(Reply::text(std::move(no->words), no->status), request, set_cookie);
            Form& form = std::get<Form>(parsed);
            exchange.fields.merge(form.fields);
            exchange.uploads = std::move(form.uploads);
        }
        Page const* const page = page_of("POST", exchange.path);
        if (page == nullptr) return answer_of(no_page(exchange), request, set_cookie);
        if (auto const no = door->token_refused(request, exchange))
            return answer_of(failure(exchange, *no, 403), request, set_cookie);
        if (auto no = page_refused(*page, exchange)) return answer_of(std::move(*no), request, set_cookie);
        Reply reply = show(*page, exchange);
        if (exchange.path == "/pair") {
            for (auto& [name, value] : reply.headers) {
                if (name != "X-Session") continue;
                set_cookie = door->cookie_of(value);
                name = "X-Paired";
                value = "yes";
            }
        }
        return answer_of(std::move(reply), request, set_cookie);
    }

    Reply no_page(Exchange const& exchange)
    {
        return failure(exchange, Error{Errc::not_found, fmt::format("There is no page {}", exchange.path)},
                       404);
    }

    std::optional<Reply> page_refused(Page const& page, Exchange const& exchange)
    {
        auto const no = door->page_refused(page, exchange);
        if (!no) return std::nullopt;
        if (no->second == 401 && exchange.method == "GET" && !exchange.part) return Reply::see("/pair");
        return failure(exchange, no->first, no->second);
    }

    Reply failure(Exchange const& exchange, Error const& error, int status)
    {
        std::lock_guard const guard(desk->lock());
        return failure_page(*desk, exchange, error, status);
    }

    Reply show(Page const& page, Exchange const& exchange)
    {
        std::lock_guard const guard(desk->lock());
        return show_locked(page, exchange);
    }

    Reply show_locked(Page const& page, Exchange const& exchange)
    {
        desk->job().act_as(exchange.person.empty() ? settings.desk.actor.name : exchange.person);
        std::string const before = desk->job().version();
        auto reply = page.show(*desk, exchange);
        if (desk->job().version() != before) desk->job_changed();
        if (reply) return std::move(*reply);
        return failure_page(*desk, exchange, reply.error(), http_status(reply.error().code));
    }

    // ---- pages that are rendered once ----

    Stamp stamp() const { return {desk->changes(), now_ms() / rendered_for_ms}; }

    /// Null when this page, or this answer of it, is not one to be kept.
    std::shared_ptr<Finished const> kept_page(Page const& page, Request const& request,
                                              Exchange const& exchange)
    {
        if (std::find(rendered_once.begin(), rendered_once.end(), page.path) == rendered_once.end() ||
            request.query.size() > longest_key)
            return nullptr;
        // Whatever a page is given but the session itself. No part can hold a line end: the person's name
        // goes last.
        std::string const key = fmt::format(
            "{}\n{}\n{}{}{}{}{}\n{}\n{}", page.path, request.query, static_cast<int>(exchange.role),
            exchange.session.empty() ? 'n' : 'y', exchange.at_machine ? 'm' : 'd', exchange.part ? 'p' : 'w',
            exchange.json ? 'j' : 'h', exchange.theme, exchange.person);
        bool const pack = takes_gzip(request);
        std::string const own_key = fmt::format("{}\n{}\n{}", exchange.token, pack, key);
        Stamp const now = stamp();
        if (auto done = finished.get(own_key, now)) return done;
        Stamp of = now;
        auto const shared = rendered_page(page, exchange, key, of);
        if (!shared) return nullptr;
        Reply own = *shared;
        put_token(own.body, exchange.token);
        std::size_t const bytes = own.body.size() / (pack ? 4 : 1);
        auto done = std::make_shared<Finished const>(finish(std::move(own), pack));
        finished.put(own_key, of, done, std::max(bytes, done->body->size()));
        return done;
    }

    std::shared_ptr<Reply const> rendered_page(Page const& page, Exchange const& exchange,
                                               std::string const& key, Stamp& of)
    {
        if (auto found = rendered.get(key, of)) return found;
        std::lock_guard const guard(desk->lock());
        // Read before the page is: what changes meanwhile has another number.
        of = stamp();
        if (auto found = rendered.get(key, of)) return found;
        Exchange shared = exchange;
        shared.token = token_place;
        shared.session = exchange.session.empty() ? "" : "kept";
        auto reply = std::make_shared<Reply const>(show_locked(page, shared));
        if (reply->status != 200) return nullptr;
        rendered.put(key, of, reply, reply->body.size());
        return reply;
    }

    void put_token(std::string& body, std::string const& token) const
    {
        std::string out;
        out.reserve(body.size());
        std::size_t from = 0;
        for (std::size_t at = body.find(token_place); at != std::string::npos;
             at = body.find(token_place, from)) {
            out.append(body, from, at - from);
            out += token;
            from = at + token_place.size();
        }
        out.append(body, from);
        body = std::move(out);
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
    settings.listen = without_brackets(settings.listen);
    bool const network = !is_loopback(settings.listen);
    bool const tls = settings.tls || network || !settings.certificate.empty();
    if (tls && settings.certificate.empty()) {
        TRY_ASSIGN(auto const files, own_certificate(settings.own_folder, settings.listen));
        settings.certificate = files.certificate;
        settings.private_key = files.private_key;
    }
    std::string const host = settings.listen == "localhost" ? "127.0.0.1" : settings.listen;
    TRY_ASSIGN(inside.engine, Engine::open(host, settings.port));
    if (tls) TRY(inside.engine->use_certificate(settings.certificate, settings.private_key));
    TRY_ASSIGN(inside.desk, Desk::open(settings.desk));
    inside.settings = std::move(settings);
    int const port = inside.engine->port();
    inside.door = std::make_unique<Door>(
        inside.desk->sessions(),
        DoorSettings{inside.settings.desk.actor.name, port, tls, [raw = &inside] { return raw->now_ms(); }});
    bool const six = host.find(':') != std::string::npos;
    inside.address =
        fmt::format("{}://{}{}{}:{}/", tls ? "https" : "http", six ? "[" : "", host, six ? "]" : "", port);
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

Outcome Server::use_certificate(std::string const& certificate, std::string const& private_key)
{
    return inside_->engine->use_certificate(certificate, private_key);
}

Outcome Server::run()
{
    inside_->engine->run(*inside_);
    return {};
}

void Server::stop()
{
    if (inside_->desk) inside_->desk->close();
    if (inside_->engine) inside_->engine->stop();
}

} // namespace guidepin::web
