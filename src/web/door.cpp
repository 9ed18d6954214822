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

bool is_loopback(std::string const& address)
{
    return address.rfind("127.", 0) == 0 || address == "::1" || address == "localhost" ||
           address == "::ffff:127.0.0.1";
}

Door::Door(Sessions& sessions, DoorSettings settings)
    : sessions_(sessions)
    , settings_(std::move(settings))
    , cookie_name_(fmt::format("gp_{}", settings_.port))
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

bool Door::has_session(Request const& request) const
{
    return is_open(session_of(request));
}

bool Door::is_open(std::string const& session) const
{
    return !session.empty() && sessions_.find(session, settings_.now_ms()).has_value();
}

bool Door::from_machine(Request const& request) const
{
    return is_loopback(request.peer) && !request.has_header("x-forwarded-for") &&
           !request.has_header("forwarded");
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
    exchange.at_machine = from_machine(request);
    exchange.session = session_of(request);
    auto session = sessions_.find(exchange.session, settings_.now_ms());
    if (!session && exchange.at_machine && exchange.method == "GET") {
        exchange.session = sessions_.begin(settings_.operator_name, job::Role::lead, settings_.now_ms());
        session = sessions_.find(exchange.session, settings_.now_ms());
        entered.set_cookie = cookie_of(exchange.session);
    }
    if (session) {
        exchange.person = session->person;
        exchange.role = session->role;
        exchange.token = session->token;
    } else {
        exchange.session.clear();
    }
    return entered;
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
        return std::pair{Error{Errc::refused, exchange.at_machine
                                                  ? "The workbench was started anew: go back, open the page "
                                                    "again and repeat."
                                                  : "This device is not paired, or its session has ended: "
                                                    "pair it again."},
                         401};
    if (!exchange.may(page.access))
        return std::pair{Error{Errc::refused, fmt::format("A {} may not do this: {}",
                                                          job::name_of(exchange.role), page.help)},
                         403};
    return std::nullopt;
}

std::string Door::cookie_of(std::string const& session) const
{
    return fmt::format("{}={}; Path=/; HttpOnly; SameSite=Strict{}", cookie_name_, session,
                       settings_.tls ? "; Secure" : "");
}

} // namespace guidepin::web
