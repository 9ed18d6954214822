// SPDX-License-Identifier: Apache-2.0
// The door of the workbench: who asks, and may they. It knows names of hosts, origins, cookies, sessions and
// tokens; it knows no socket and no page.
// Verified by: tests/web/security.test.mjs.
#pragma once

#include "web/page.hpp"
#include "web/request.hpp"
#include "web/session.hpp"

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

namespace guidepin::web {

/// Loopback addresses need no pairing.
bool is_loopback(std::string const& address);

struct DoorSettings
{
    std::string operator_name; ///< who sits at the serving machine
    int port = 0;              ///< names the cookie: workbenches on one machine do not share sessions
    bool tls = false;
    std::function<std::int64_t()> now_ms;
};

class Door
{
  public:
    Door(Sessions& sessions, DoorSettings settings);

    /// What is answered instead of the page; nothing when the request may go on.
    std::optional<Reply> refused(Request const& request) const;
    /// Whether the request's cookie names a session that lives. The head of a request is enough for this.
    bool has_session(Request const& request) const;
    /// Whether a session lives that began before.
    bool is_open(std::string const& session) const;
    /// Asked on the serving machine itself, and not by way of a proxy.
    bool from_machine(Request const& request) const;

    struct Entered
    {
        Exchange exchange;
        std::string set_cookie; ///< where a session began just now: the value of Set-Cookie
    };
    /// Who asks; begins a session on the serving machine, where nobody logs in.
    Entered enter(Request const& request);
    /// A change has to bring its session's token. Nothing when it may go on.
    std::optional<Error> token_refused(Request const& request, Exchange const& exchange) const;
    /// Why this page is not for who asks, with the status of the answer; nothing when it is.
    std::optional<std::pair<Error, int>> page_refused(Page const& page, Exchange const& exchange) const;
    /// The value of Set-Cookie.
    std::string cookie_of(std::string const& session) const;

  private:
    std::string session_of(Request const& request) const;

    Sessions& sessions_;
    DoorSettings settings_;
    std::string cookie_name_;
};

} // namespace guidepin::web
