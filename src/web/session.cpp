// SPDX-License-Identifier: Apache-2.0
#include "web/session.hpp"

#include "web/desk.hpp"

#include <openssl/rand.h>

#include <algorithm>
#include <cstdlib>
#include <ctime>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

constexpr std::size_t short_code = 8;

/// Eight digits. 2^64 is so much more than 10^8 that the remainder is even to one in 10^11.
std::string eight_digits()
{
    return fmt::format("{:08}", std::strtoull(random_word(8).c_str(), nullptr, 16) % 100'000'000);
}

bool is_over(Session const& session, std::int64_t now_ms)
{
    return now_ms - session.seen_ms > Sessions::idle_ms || now_ms - session.begun_ms > Sessions::longest_ms;
}

} // namespace

std::string random_word(std::size_t bytes)
{
    std::string raw(bytes, '\0');
    // Without randomness there is no security to give: stop rather than go on.
    if (RAND_bytes(reinterpret_cast<unsigned char*>(raw.data()), static_cast<int>(bytes)) != 1) std::abort();
    std::string word;
    for (char const byte : raw) word += fmt::format("{:02x}", static_cast<unsigned char>(byte));
    return word;
}

std::int64_t since_start_ms()
{
    timespec now{};
    ::clock_gettime(CLOCK_BOOTTIME, &now);
    return static_cast<std::int64_t>(now.tv_sec) * 1000 + now.tv_nsec / 1'000'000;
}

std::optional<job::Role> role_of(std::span<job::Person const> people, std::string_view operator_name,
                                 std::string_view person)
{
    for (job::Person const& known : people) {
        if (known.name == person) return known.role;
    }
    if (person == operator_name) return job::Role::lead;
    return std::nullopt;
}

std::optional<job::Role> role_of(std::span<job::Person const> people, std::string_view operator_name,
                                 Session const& session)
{
    if (session.at_machine) return job::Role::lead;
    return role_of(people, operator_name, session.person);
}

std::string Sessions::begin(std::string person, bool at_machine, std::int64_t now_ms)
{
    std::lock_guard const guard(lock_);
    purge_locked(now_ms);
    if (sessions_.size() >= sessions_at_most) {
        sessions_.erase(
            std::min_element(sessions_.begin(), sessions_.end(), [](auto const& a, auto const& b) {
                return a.second.seen_ms < b.second.seen_ms;
            }));
    }
    std::string id = random_word(24);
    sessions_[id] = {std::move(person), at_machine, random_word(24), now_ms, now_ms};
    return id;
}

std::optional<Session> Sessions::find(std::string const& id, std::int64_t now_ms)
{
    std::lock_guard const guard(lock_);
    auto const found = sessions_.find(id);
    if (found == sessions_.end()) return std::nullopt;
    if (is_over(found->second, now_ms)) {
        sessions_.erase(found);
        return std::nullopt;
    }
    found->second.seen_ms = now_ms;
    return found->second;
}

bool Sessions::holds(std::string const& id, std::int64_t now_ms)
{
    std::lock_guard const guard(lock_);
    auto const found = sessions_.find(id);
    return found != sessions_.end() && !is_over(found->second, now_ms);
}

void Sessions::end(std::string const& id)
{
    std::lock_guard const guard(lock_);
    sessions_.erase(id);
}

void Sessions::purge(std::int64_t now_ms)
{
    std::lock_guard const guard(lock_);
    purge_locked(now_ms);
}

void Sessions::purge_locked(std::int64_t now_ms)
{
    std::erase_if(sessions_, [&](auto const& entry) { return is_over(entry.second, now_ms); });
    std::erase_if(codes_, [&](auto const& entry) { return now_ms - entry.second.made_ms > code_lives_ms; });
}

std::size_t Sessions::count() const
{
    std::lock_guard const guard(lock_);
    return sessions_.size();
}

std::string Sessions::code_for(std::string person, std::int64_t now_ms)
{
    std::lock_guard const guard(lock_);
    purge_locked(now_ms);
    if (codes_.size() >= codes_at_most) {
        codes_.erase(std::min_element(codes_.begin(), codes_.end(), [](auto const& a, auto const& b) {
            return a.second.made_ms < b.second.made_ms;
        }));
    }
    bool const guessed_at = guesses_.pause(now_ms) > 0;
    std::string code;
    do {
        code = guessed_at ? eight_digits() + eight_digits() : eight_digits();
    } while (codes_.contains(code));
    codes_[code] = {std::move(person), now_ms};
    return code;
}

Redeemed Sessions::redeem(std::string const& code, std::string const& address, std::int64_t now_ms)
{
    using Outcome = Redeemed::Outcome;
    std::lock_guard const guard(lock_);
    purge_locked(now_ms);
    if (auto const wait = guesses_.wait_of(address, now_ms); wait > 0) return {Outcome::wait, {}, wait};
    // What is no code at all (too short, too long) cannot be a lucky guess, but it costs a wait like one.
    bool const can_be_guessed = code.size() == short_code;
    if (auto const pause = can_be_guessed ? guesses_.pause(now_ms) : 0; pause > 0)
        return {Outcome::paused, {}, pause};
    auto const found = codes_.find(code);
    if (found == codes_.end()) {
        guesses_.wrong(address, can_be_guessed, now_ms);
        return {Outcome::wrong, {}, guesses_.wait_of(address, now_ms)};
    }
    std::string person = std::move(found->second.person);
    codes_.erase(found);
    guesses_.right(address);
    return {Outcome::good, std::move(person), 0};
}

std::string in_fours(std::string_view digits)
{
    std::string text;
    for (std::size_t i = 0; i < digits.size(); i += 4) {
        if (i > 0) text += ' ';
        text += digits.substr(i, 4);
    }
    return text;
}

} // namespace guidepin::web
