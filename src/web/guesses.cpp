// SPDX-License-Identifier: Apache-2.0
#include "web/guesses.hpp"

#include <algorithm>

namespace guidepin::web {

std::int64_t Guesses::wait_of(std::string const& address, std::int64_t now_ms) const
{
    auto const found = known_.find(address);
    return found == known_.end() ? 0 : std::max<std::int64_t>(0, found->second.until_ms - now_ms);
}

std::int64_t Guesses::pause(std::int64_t now_ms)
{
    while (!spent_.empty() && now_ms - spent_.front() >= window_ms) spent_.pop_front();
    return spent_.size() < budget ? 0 : window_ms - (now_ms - spent_.front());
}

void Guesses::wrong(std::string const& address, bool from_budget, std::int64_t now_ms)
{
    if (from_budget && pause(now_ms) == 0) spent_.push_back(now_ms);
    auto found = known_.find(address);
    if (found == known_.end()) {
        make_room(now_ms);
        found = known_.try_emplace(address).first;
    }
    Address& entry = found->second;
    if (now_ms - std::max(entry.until_ms, entry.last_ms) >= forgotten_after_ms) entry = {};
    entry.last_ms = now_ms;
    int const paid = ++entry.wrong - free_tries;
    if (paid <= 0) return;
    // 2, 4, 8 … seconds; the shift stays far from the width of the number.
    std::int64_t const wait = first_wait_ms << std::min(paid - 1, 20);
    entry.until_ms = now_ms + std::min(wait, longest_wait_ms);
}

void Guesses::right(std::string const& address)
{
    known_.erase(address);
}

void Guesses::make_room(std::int64_t now_ms)
{
    if (known_.size() < addresses_at_most) return;
    std::erase_if(known_, [&](auto const& entry) {
        return now_ms - std::max(entry.second.until_ms, entry.second.last_ms) >= forgotten_after_ms;
    });
    if (known_.size() < addresses_at_most) return;
    // The address with the shortest wait gains least by being forgotten; the budget holds in any case.
    known_.erase(std::min_element(known_.begin(), known_.end(), [](auto const& a, auto const& b) {
        return std::max(a.second.until_ms, a.second.last_ms) < std::max(b.second.until_ms, b.second.last_ms);
    }));
}

} // namespace guidepin::web
