// SPDX-License-Identifier: Apache-2.0
// Wrong pairing codes cost the address that sends them a wait, and all addresses together have a budget. No
// thread sleeps for it: whoever has to wait is answered at once.
//
// How likely is a lucky guess? A code of eight digits is one of 10^8 and lives ten minutes. In any ten
// minutes at most `budget` (100) wrong codes of eight digits are tried, from all addresses together. So
// the chance to hit one given code during its life is at most 100 / 10^8 = 1 in a million; with all 32 codes
// that may be good at one time, at most 32 x 100 / 10^8 = 3.2 in 100,000 to hit any of them. Somebody who
// guesses all day (24 h, one code always open) has 144 x 100 / 10^8 = 1.4 in 10,000. When the budget is
// spent, codes of eight digits are refused, and new codes have sixteen digits: 10^16 are too many to
// guess at any speed (5,000 a second for ten minutes: 3 in 10^10), so a stranger who spends the budget on
// purpose locks nobody out. Verified by: tests/unit/web/guesses.cpp, tests/web/pairing.test.mjs.
#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <map>
#include <string>

namespace guidepin::web {

/// Not safe for several threads at once: Sessions holds its lock around each call.
class Guesses
{
  public:
    static constexpr int free_tries = 2; ///< a person mistypes: these cost nothing
    static constexpr std::int64_t first_wait_ms = 2'000;
    static constexpr std::int64_t longest_wait_ms = 15 * 60'000;
    /// An address that stays quiet so long after its wait begins with nothing against it.
    static constexpr std::int64_t forgotten_after_ms = 60 * 60'000;
    static constexpr std::size_t addresses_at_most = 1024;
    static constexpr std::size_t budget = 100;
    static constexpr std::int64_t window_ms = 10 * 60'000;

    /// How long this address has to wait before its next code is tried; 0: it need not wait.
    std::int64_t wait_of(std::string const& address, std::int64_t now_ms) const;
    /// How long until a code of eight digits is tried again, from any address; 0: the budget is not
    /// spent.
    std::int64_t pause(std::int64_t now_ms);
    /// A code was tried and is wrong. `from_budget`: it was one that can be guessed (eight digits).
    void wrong(std::string const& address, bool from_budget, std::int64_t now_ms);
    /// A code was right: clears the record of the address.
    void right(std::string const& address);

    std::size_t addresses() const { return known_.size(); }

  private:
    struct Address
    {
        int wrong = 0;
        std::int64_t until_ms = 0, last_ms = 0;
    };
    void make_room(std::int64_t now_ms);

    std::map<std::string, Address> known_;
    std::deque<std::int64_t> spent_; ///< when each of the last wrong codes came; at most `budget`
};

} // namespace guidepin::web
