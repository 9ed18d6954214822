// SPDX-License-Identifier: Apache-2.0
// Who sits behind a browser. A session belongs to a person; what that person may do is looked up in the job's
// people for each request. It begins with the one-time key of the serving machine, or on another device with
// a code, and ends by itself.
// All times here are milliseconds since the machine started (since_start_ms): they do not jump with the wall
// clock, and they go on while the machine sleeps.
// Verified by: tests/unit/web/session.cpp, tests/web/security.test.mjs, tests/web/pairing.test.mjs.
#pragma once

#include "job/entry/entries.hpp"
#include "web/guesses.hpp"

#include <cstdint>
#include <map>
#include <mutex>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace guidepin::web {

/// CLOCK_BOOTTIME: setting the wall clock does not move it, and it counts the time that a machine sleeps.
std::int64_t since_start_ms();

struct Session
{
    std::string person;
    bool at_machine = false; ///< begun with the one-time key of the serving machine
    std::string token;       ///< comes with every change
    std::int64_t begun_ms = 0, seen_ms = 0;
};

/// What this person may do now. The job's people decide; who started the workbench is a lead unless they are
/// named otherwise. Nothing: this person has no part in the job (any more).
std::optional<job::Role> role_of(std::span<job::Person const> people, std::string_view operator_name,
                                 std::string_view person);

/// The same for a session. A session of the serving machine is always a lead's: otherwise a lead who gives
/// the role away by mistake would leave a job in which nobody can name another.
std::optional<job::Role> role_of(std::span<job::Person const> people, std::string_view operator_name,
                                 Session const& session);

/// What became of a code that was typed.
struct Redeemed
{
    enum class Outcome {
        good,   ///< `person` holds
        wrong,  ///< no such code, or no longer
        wait,   ///< this address has tried too many: the code was not tried
        paused, ///< too many wrong codes came from everywhere: codes of eight digits are refused
    };
    Outcome outcome = Outcome::wrong;
    std::string person;
    std::int64_t wait_ms = 0; ///< for `wait` and `paused`; for `wrong`, what the address has to wait from now
};

class Sessions
{
  public:
    static constexpr std::int64_t code_lives_ms = 10 * 60'000;
    static constexpr std::int64_t idle_ms = 8 * 3'600'000;
    static constexpr std::int64_t longest_ms = 16 * 3'600'000;
    static constexpr std::size_t sessions_at_most = 256; ///< one more ends the one unused for longest
    static constexpr std::size_t codes_at_most = 32;     ///< one more voids the oldest

    /// A new session; its id goes into the cookie.
    std::string begin(std::string person, bool at_machine, std::int64_t now_ms);
    /// Nothing for one that is unknown or over. This is a use of it.
    std::optional<Session> find(std::string const& id, std::int64_t now_ms);
    /// Whether it still holds. This is no use of it: an open page alone keeps no session alive.
    bool holds(std::string const& id, std::int64_t now_ms);
    void end(std::string const& id);
    /// Forgets what is over.
    void purge(std::int64_t now_ms);
    std::size_t count() const;

    /// Digits, good once and for ten minutes, for this person: eight, or sixteen while somebody guesses.
    std::string code_for(std::string person, std::int64_t now_ms);
    /// Uses a code up. `address`: where it comes from, without a port.
    Redeemed redeem(std::string const& code, std::string const& address, std::int64_t now_ms);

  private:
    struct Code
    {
        std::string person;
        std::int64_t made_ms;
    };
    void purge_locked(std::int64_t now_ms);

    mutable std::mutex lock_;
    std::map<std::string, Session> sessions_;
    std::map<std::string, Code> codes_;
    Guesses guesses_;
};

/// "1234 5678": digits as people read them to each other.
std::string in_fours(std::string_view digits);

} // namespace guidepin::web
