// SPDX-License-Identifier: Apache-2.0
// Who sits behind a browser. On the serving machine nobody logs in; elsewhere a device is paired once with a
// code shown on the serving machine, and its session ends by itself.
// Verified by: tests/unit/web/session.cpp, tests/web.
#pragma once

#include "job/entries.hpp"

#include <cstdint>
#include <map>
#include <mutex>
#include <optional>
#include <string>

namespace guidepin::web {

struct Session
{
    std::string person;
    job::Role role = job::Role::reviewer;
    std::string token; ///< comes with every change
    std::int64_t begun_ms = 0, seen_ms = 0;
};

class Sessions
{
  public:
    static constexpr std::int64_t code_lives_ms = 10 * 60'000;
    static constexpr std::int64_t idle_ms = 8 * 3'600'000;
    static constexpr std::int64_t longest_ms = 16 * 3'600'000;
    static constexpr int wrong_codes = 10; ///< after so many all codes are void

    /// A new session; its id goes into the cookie.
    std::string begin(std::string person, job::Role role, std::int64_t now_ms);
    /// Nothing for one that is unknown or over.
    std::optional<Session> find(std::string const& id, std::int64_t now_ms);
    void end(std::string const& id);
    void end_all_of(std::string const& person);

    /// Eight digits, good once and for ten minutes, for this person.
    std::string code_for(std::string person, job::Role role, std::int64_t now_ms);
    /// The session's id, or nothing for a wrong code.
    std::optional<std::string> pair(std::string const& code, std::int64_t now_ms);

  private:
    struct Code
    {
        std::string person;
        job::Role role;
        std::int64_t made_ms;
    };
    std::mutex lock_;
    std::map<std::string, Session> sessions_;
    std::map<std::string, Code> codes_;
    int wrong_ = 0;
};

} // namespace guidepin::web
