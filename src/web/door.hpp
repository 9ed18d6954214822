// SPDX-License-Identifier: Apache-2.0
// The door of the workbench: who asks, and may they. It knows names of hosts, origins, cookies, sessions and
// tokens; it knows no socket and no page.
// Verified by: tests/unit/web/door.cpp, tests/web/security.test.mjs, tests/web/pairing.test.mjs.
#pragma once

#include "web/own_addresses.hpp"
#include "web/page.hpp"
#include "web/reach.hpp"
#include "web/request.hpp"
#include "web/session.hpp"

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace guidepin::web {

/// What every answer over TLS carries. A browser heeds it only for a host *name* whose certificate it trusts;
/// for an address, or for a certificate of our own, it ignores it. One day, for this name alone: if somebody
/// later serves under the same name without TLS, or with a certificate of our own, the browser refuses for a
/// day at most and not for a year. It is renewed by each visit.
inline constexpr char const* strict_transport = "max-age=86400";

struct DoorSettings
{
    std::string operator_name; ///< who started the workbench
    int port = 0;              ///< names the cookies: workbenches on one machine do not share sessions
    bool tls = false;
    std::function<std::int64_t()> now_ms; ///< since the machine started; not the wall clock
    /// What the session's person may do now; nothing when they have no part in the job. May wait for the job.
    std::function<std::optional<job::Role>(Session const&)> role_of;
    /// Whether this is the one-time key; it is void afterwards.
    std::function<bool(std::string const&)> use_key;
    std::function<std::shared_ptr<Reach const>()> reach;
};

class Door
{
  public:
    Door(Sessions& sessions, DoorSettings settings);

    /// What is answered instead of the page; nothing when the request may go on.
    std::optional<Reply> refused(Request const& request) const;
    /// Whether the request's cookie names a session that lives. The head of a request is enough for this; it
    /// does not wait for the job.
    bool has_session(Request const& request) const { return !open_session(request).empty(); }
    /// The same, with its id; empty when there is none.
    std::string open_session(Request const& request) const;
    /// Whether a session lives that began before. This is no use of it.
    bool is_open(std::string const& session) const;

    struct Entered
    {
        Exchange exchange;
        std::vector<std::string> cookies; ///< each the value of a Set-Cookie
        std::optional<Reply> reply;       ///< instead of the page: where a one-time address leads
    };
    /// Who asks, with the role of this moment. Where a request comes from proves nothing: a tunnel or a proxy
    /// looks local, and other people may be logged in here. Only a session counts; it begins with the
    /// one-time key, or with a code (pages/kit.cpp).
    Entered enter(Request const& request);
    /// Puts the cookies into the answer: those of `entered`, and those that a page asked for.
    void finish(Entered const& entered, Reply& reply) const;
    /// A change must carry its session's token. Returns nothing if it does.
    std::optional<Error> token_refused(Request const& request, Exchange const& exchange) const;
    /// Why this page is not for who asks, with the status of the answer; nothing when it is.
    std::optional<std::pair<Error, int>> page_refused(Page const& page, Exchange const& exchange) const;

  private:
    std::string session_of(Request const& request) const;
    void open_with_key(Request const& request, Entered& entered);
    void compare_certificate(Request const& request, Entered& entered) const;
    /// The value of Set-Cookie.
    std::string session_cookie(std::string const& session) const;
    std::string certificate_cookie(std::string const& fingerprint) const;

    Sessions& sessions_;
    DoorSettings settings_;
    std::string cookie_name_, certificate_name_;
};

} // namespace guidepin::web
