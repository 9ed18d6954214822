// SPDX-License-Identifier: Apache-2.0
#include "web/door.hpp"

#include "base/text.hpp"

#include <fmt/format.h>
#include <unistd.h>

namespace guidepin::web {

namespace {

std::string cookie(Request const& request, std::string_view name)
{
    std::string const all(request.header("cookie"));
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

Door::Door(Sessions& sessions, DoorSettings settings)
    : sessions_(sessions)
    , settings_(std::move(settings))
    , cookie_name_(fmt::format("gp_{}", settings_.port))
    , certificate_name_(fmt::format("gp_certificate_{}", settings_.port))
{
}

std::optional<Reply> Door::refused(Request const& request) const
{
    if (!host_is_ours(host_name(request.header("host"))))
        return Reply::text("This name is not this machine's: open the workbench by its address.", 421);
    if (request.method != "GET" && request.method != "HEAD" && request.method != "POST")
        return Reply::text("Only GET and POST are answered.", 405);
    if (request.method != "POST") return std::nullopt;
    std::string_view const origin = request.header("origin");
    std::string const ours = fmt::format("{}://{}", settings_.tls ? "https" : "http", request.header("host"));
    std::string_view const site = request.header("sec-fetch-site");
    if ((!origin.empty() && origin != ours) || (!site.empty() && site != "same-origin"))
        return Reply::text("A change has to come from the workbench's own pages.", 403);
    return std::nullopt;
}

std::string Door::session_of(Request const& request) const
{
    return cookie(request, cookie_name_);
}

std::string Door::open_session(Request const& request) const
{
    std::string session = session_of(request);
    return is_open(session) ? session : std::string{};
}

bool Door::is_open(std::string const& session) const
{
    return !session.empty() && sessions_.holds(session, settings_.now_ms());
}

Door::Entered Door::enter(Request const& request)
{
    Entered entered;
    Exchange& exchange = entered.exchange;
    exchange.method = request.method == "HEAD" ? "GET" : request.method;
    exchange.path = request.path;
    exchange.fields = request.fields;
    exchange.uploads = request.uploads;
    exchange.part = request.has_header("hx-request");
    exchange.json = request.has_header("x-guidepin-token");
    std::string const theme = cookie(request, "gp_theme");
    if (theme == "light" || theme == "dark") exchange.theme = theme;
    exchange.peer = request.peer;
    exchange.now_ms = settings_.now_ms();
    exchange.reach = settings_.reach();
    exchange.session = session_of(request);
    auto session = sessions_.find(exchange.session, exchange.now_ms);
    // The role is the one of this moment: a change of it holds from the next request on.
    auto const role = session ? settings_.role_of(*session) : std::nullopt;
    if (session && !role) {
        sessions_.end(exchange.session);
        session.reset();
    }
    if (session) {
        exchange.person = session->person;
        exchange.role = *role;
        exchange.token = session->token;
        exchange.at_machine = session->at_machine;
    } else {
        exchange.session.clear();
    }
    if (request.method == "GET" && request.path == "/" && exchange.has("key"))
        open_with_key(request, entered);
    compare_certificate(request, entered);
    return entered;
}

/// Leads to the address without the key in any case, so that it stays in no address line.
void Door::open_with_key(Request const& request, Entered& entered)
{
    Exchange const& exchange = entered.exchange;
    bool good = exchange.at_machine; // opened twice by the same browser: the key is left to be used
    // Only from this machine: a key that somebody saw over a shoulder is of no use elsewhere.
    if (!good && is_own_address(request.peer) && settings_.use_key(exchange.text("key"))) {
        entered.cookies.push_back(
            session_cookie(sessions_.begin(settings_.operator_name, true, exchange.now_ms)));
        good = true;
    }
    entered.reply = Reply::see(good || !exchange.session.empty() ? "/" : "/pair?key=void");
    entered.reply->headers.emplace_back("Cache-Control", "no-store");
}

void Door::compare_certificate(Request const& request, Entered& entered) const
{
    Exchange& exchange = entered.exchange;
    if (!exchange.reach || exchange.reach->fingerprint.empty()) return;
    std::string const known = cookie(request, certificate_name_);
    bool const is_one = known.size() == exchange.reach->fingerprint.size() &&
                        known.find_first_not_of("0123456789ABCDEF:") == std::string::npos;
    if (is_one && known != exchange.reach->fingerprint)
        exchange.old_certificate = known;
    else if (!is_one && !exchange.session.empty())
        entered.cookies.push_back(certificate_cookie(exchange.reach->fingerprint));
}

void Door::finish(Entered const& entered, Reply& reply) const
{
    for (std::string const& one : entered.cookies) reply.headers.emplace_back("Set-Cookie", one);
    std::string const fingerprint =
        entered.exchange.reach ? entered.exchange.reach->fingerprint : std::string{};
    bool seen = false;
    std::vector<std::string> more;
    std::erase_if(reply.headers, [&](auto const& header) {
        if (header.first == "X-Session") more.push_back(session_cookie(header.second));
        bool const ours = header.first == "X-Session" || header.first == "X-Certificate-Seen";
        seen = seen || ours;
        return ours;
    });
    // Who paired was asked to compare the certificate, and knows it from now on.
    if (seen && !fingerprint.empty()) more.push_back(certificate_cookie(fingerprint));
    for (std::string& one : more) reply.headers.emplace_back("Set-Cookie", std::move(one));
}

std::optional<Error> Door::token_refused(Request const& request, Exchange const& exchange) const
{
    if (exchange.method != "POST" || exchange.path == "/pair" || exchange.session.empty())
        return std::nullopt;
    std::string token(request.header("x-guidepin-token"));
    if (token.empty()) token = exchange.text("token");
    if (!token.empty() && token == exchange.token) return std::nullopt;
    return Error{Errc::refused, "The page is older than this session: go back, open it again and repeat."};
}

std::optional<std::pair<Error, int>> Door::page_refused(Page const& page, Exchange const& exchange) const
{
    if (page.access != Access::anybody && exchange.session.empty())
        return std::pair{Error{Errc::refused,
                               "This device is not paired, or its session has ended: pair it again. On the "
                               "serving machine, open the next one-time address."},
                         401};
    if (!exchange.may(page.access))
        return std::pair{
            Error{
                Errc::refused,
                fmt::format("Only {} may do this, and you are a {} in this job. A lead can change your role "
                            "under Kit and people.",
                            page.access == Access::lead ? "a lead" : "a technician or a lead",
                            job::name_of(exchange.role))},
            403};
    return std::nullopt;
}

std::string Door::session_cookie(std::string const& session) const
{
    return fmt::format("{}={}; Path=/; HttpOnly; SameSite=Strict{}", cookie_name_, session,
                       settings_.tls ? "; Secure" : "");
}

std::string Door::certificate_cookie(std::string const& fingerprint) const
{
    // The longest time that browsers keep a cookie: a device that comes back next season sees the banner too.
    return fmt::format("{}={}; Path=/; Max-Age=34560000; HttpOnly; SameSite=Strict; Secure",
                       certificate_name_, fingerprint);
}

} // namespace guidepin::web
