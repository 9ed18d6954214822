// SPDX-License-Identifier: Apache-2.0
#include "web/server.hpp"

#include "web/assets.hpp"
#include "web/frame.hpp"
#include "web/http_cache.hpp"
#include "web/http_engine.hpp"
#include "web/page.hpp"
#include "web/welcome.hpp"

#include <algorithm>
#include <array>
#include <map>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

/// Pages that follow from the job, the time and who asks alone. Others look at files or at what was stashed.
constexpr std::array<std::string_view, 8> rendered_once{
    {"/", "/links", "/link", "/findings", "/reference", "/site-map", "/set-up", "/about"}};
/// The page that also shows whether the findings are being updated.
constexpr std::string_view page_of_findings = "/findings";
constexpr std::int64_t rendered_for_ms = 10'000; ///< pages show the time that is left in minutes
constexpr std::size_t longest_key = 1'024;
constexpr std::size_t cache_bytes = 48U << 20U;

Page const* page_of(std::string_view method, std::string_view path)
{
    auto const all = pages();
    auto const found = std::find_if(
        all.begin(), all.end(), [&](Page const& page) { return page.method == method && page.path == path; });
    return found == all.end() ? nullptr : &*found;
}

Reply bug_reply(char const* what)
{
    std::fprintf(stderr, "guidepin: This is a bug in guidepin; please report it with this line: %s\n", what);
    return Reply::text("This is a bug in guidepin; the terminal says more.", 500);
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
    std::unique_ptr<Welcome> welcome;
    std::unique_ptr<Door> door;
    std::unique_ptr<Engine> engine;
    std::string address, first_code;
    bool tls = false;
    RequestLimits const limits = EngineLimits{}.request;
    /// In a rendered page, where a session's token goes. Nobody can guess it, so no text of the job holds it.
    std::string const token_place = random_word(24);
    StampedCache<SharedPage> rendered{cache_bytes}; ///< by page and person, for all sessions
    std::map<std::string, Finished> assets;         ///< used on the engine's thread alone

    std::int64_t now_ms() const { return settings.desk.actor.clock->now_ms(); }

    void make_door(int port)
    {
        DoorSettings at;
        at.operator_name = settings.desk.actor.name;
        at.port = port;
        at.tls = tls;
        at.now_ms = &since_start_ms;
        at.role_of = [this](Session const& session) {
            return role_of(*desk->people(), settings.desk.actor.name, session);
        };
        at.use_key = [this](std::string const& key) { return welcome->use_key(key); };
        at.reach = [this] { return welcome->reach(); };
        door = std::make_unique<Door>(desk->sessions(), std::move(at));
    }

    // ---- on the engine's thread ----

    Opinion look(Head const& head) override
    {
        Opinion opinion = looked_at(head);
        if (opinion.answer) opinion.answer = guarded(std::move(*opinion.answer));
        return opinion;
    }

    /// What every answer over TLS carries.
    Answer guarded(Answer answer) const
    {
        if (tls) answer.lines += fmt::format("Strict-Transport-Security: {}\r\n", strict_transport);
        return answer;
    }

    Opinion looked_at(Head const& head)
    {
        Request const& request = head.request;
        Opinion opinion;
        if (auto no = door->refused(request)) {
            opinion.answer = answer_of(std::move(*no), request);
            opinion.answer->close = true; // a body that was refused is not read
            return opinion;
        }
        bool const session = door->has_session(request);
        opinion.known = session; // where a request comes from proves nothing
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
                opinion.answer = refusal_answer(413, "This is too large for a pairing code.");
            else
                opinion.without_body = true;
        }
        return opinion;
    }

    void look_at_events(Request const& request, Opinion& opinion)
    {
        std::string session = door->open_session(request);
        if (session.empty()) {
            opinion.answer = refusal_answer(401, "This device is not paired, or its session has ended.");
            return;
        }
        std::string lines = guarded({200,
                                     "Content-Type: text/event-stream\r\nCache-Control: "
                                     "no-store\r\nX-Content-Type-Options: nosniff\r\n",
                                     nullptr})
                                .lines;
        opinion.stream = StreamAsked{std::move(session), std::move(lines)};
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
        return guarded(std::move(made));
    }

    Answer get(Request const& request)
    {
        auto const entered = door->enter(request);
        Exchange const& exchange = entered.exchange;
        if (entered.reply) return answer_with(entered, *entered.reply, request);
        Page const* const page = page_of("GET", exchange.path);
        if (page == nullptr) return answer_with(entered, no_page(exchange), request);
        if (auto no = page_refused(*page, exchange)) return answer_with(entered, std::move(*no), request);
        if (auto const kept = kept_page(*page, request, exchange)) {
            Answer made = answer_of(*kept, request);
            for (std::string const& one : entered.cookies)
                made.lines += fmt::format("Set-Cookie: {}\r\n", one);
            return made;
        }
        return answer_with(entered, show(*page, exchange), request);
    }

    Answer post(Request& request, bool without_body)
    {
        auto entered = door->enter(request);
        Exchange& exchange = entered.exchange;
        if (!without_body) {
            auto parsed = parse_form(request.header("content-type"), request.body, limits);
            request.body = {};
            if (auto* no = std::get_if<Refusal>(&parsed))
                return answer_with(entered, Reply::text(std::move(no->words), no->status), request);
            Form& form = std::get<Form>(parsed);
            exchange.fields.merge(form.fields);
            exchange.uploads = std::move(form.uploads);
        }
        Page const* const page = page_of("POST", exchange.path);
        if (page == nullptr) return answer_with(entered, no_page(exchange), request);
        if (auto const no = door->token_refused(request, exchange))
            return answer_with(entered, failure(exchange, *no, 403), request);
        if (auto no = page_refused(*page, exchange)) return answer_with(entered, std::move(*no), request);
        return answer_with(entered, show(*page, exchange), request);
    }

    Answer answer_with(Door::Entered const& entered, Reply reply, Request const& request) const
    {
        door->finish(entered, reply);
        return answer_of(std::move(reply), request);
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

    Stamp stamp(Page const& page) const
    {
        std::uint64_t const changes =
            page.path == page_of_findings ? desk->changes() : desk->changes_of_job();
        return {changes, now_ms() / rendered_for_ms};
    }

    /// Nothing when this page, or this answer of it, is not one to be kept.
    std::optional<Finished> kept_page(Page const& page, Request const& request, Exchange const& exchange)
    {
        if (std::find(rendered_once.begin(), rendered_once.end(), page.path) == rendered_once.end() ||
            request.query.size() > longest_key)
            return std::nullopt;
        bool const pack = takes_gzip(request);
        // Whatever a page is given but the session itself. No part can hold a line end: the person's name
        // goes last.
        std::string const certificates =
            exchange.old_certificate.empty() ? "" : exchange.old_certificate + exchange.reach->fingerprint;
        std::string const key = fmt::format(
            "{}\n{}\n{}{}{}{}{}{}\n{}\n{}\n{}", page.path, request.query, static_cast<int>(exchange.role),
            exchange.session.empty() ? 'n' : 'y', exchange.at_machine ? 'm' : 'd', exchange.part ? 'p' : 'w',
            exchange.json ? 'j' : 'h', pack ? 'g' : 't', exchange.theme, certificates, exchange.person);
        auto found = rendered.get(key, stamp(page));
        if (!found) found = render(page, exchange, key, pack);
        if (!found) return std::nullopt;
        return found->with(exchange.token);
    }

    std::shared_ptr<SharedPage const> render(Page const& page, Exchange const& exchange,
                                             std::string const& key, bool pack)
    {
        Stamp of;
        Reply reply;
        {
            std::lock_guard const guard(desk->lock());
            // Read before the page is: what changes meanwhile has another number.
            of = stamp(page);
            if (auto found = rendered.get(key, of)) return found;
            Exchange shared = exchange;
            shared.token = token_place;
            shared.session = exchange.session.empty() ? "" : "kept";
            reply = show_locked(page, shared);
        }
        if (reply.status != 200) return nullptr;
        auto made = std::make_shared<SharedPage const>(std::move(reply), token_place, pack);
        rendered.put(key, of, made, made->bytes());
        return made;
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
    std::string const host = settings.listen == "localhost" ? "127.0.0.1" : settings.listen;
    TRY_ASSIGN(inside.engine, Engine::open(host, settings.port));
    WelcomeSettings at;
    at.listen = settings.listen;
    at.tls = inside.tls = tls;
    at.certificate = settings.certificate;
    at.private_key = settings.private_key;
    at.own_folder = settings.own_folder;
    at.clock = settings.desk.actor.clock;
    at.terminal = settings.terminal;
    at.announce = settings.announce;
    at.use_certificate = [engine = inside.engine.get()](std::string const& certificate,
                                                        std::string const& key) {
        return engine->use_certificate(certificate, key);
    };
    TRY_ASSIGN(inside.welcome, Welcome::open(std::move(at)));
    TRY_ASSIGN(inside.desk, Desk::open(settings.desk));
    inside.settings = std::move(settings);
    int const port = inside.engine->port();
    inside.make_door(port);
    inside.welcome->listening(port);
    inside.address = address_of(tls, host, port);
    if (network)
        inside.first_code =
            inside.desk->sessions().code_for(inside.settings.desk.actor.name, since_start_ms());
    return server;
}

std::string const& Server::address() const
{
    return inside_->address;
}
std::string Server::one_time_address() const
{
    return inside_->welcome->one_time_address();
}
std::string Server::greeting() const
{
    return inside_->welcome->greeting(inside_->first_code, inside_->settings.desk.actor.name);
}
void Server::look_after()
{
    inside_->desk->sessions().purge(since_start_ms());
    if (inside_->welcome->look_after()) inside_->desk->changed();
}
Desk& Server::desk()
{
    return *inside_->desk;
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
