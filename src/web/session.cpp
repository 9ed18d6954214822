// SPDX-License-Identifier: Apache-2.0
#include "web/session.hpp"

#include "web/desk.hpp"

#include <openssl/rand.h>

#include <cstdlib>

#include <fmt/format.h>

namespace guidepin::web {

std::string random_word(std::size_t bytes)
{
    std::string raw(bytes, '\0');
    // Without randomness there is no security to give: stop rather than go on.
    if (RAND_bytes(reinterpret_cast<unsigned char*>(raw.data()), static_cast<int>(bytes)) != 1) std::abort();
    std::string word;
    for (char const byte : raw) word += fmt::format("{:02x}", static_cast<unsigned char>(byte));
    return word;
}

std::string Sessions::begin(std::string person, job::Role role, std::int64_t now_ms)
{
    std::lock_guard const guard(lock_);
    std::string id = random_word(24);
    sessions_[id] = {std::move(person), role, random_word(24), now_ms, now_ms};
    return id;
}

std::optional<Session> Sessions::find(std::string const& id, std::int64_t now_ms)
{
    std::lock_guard const guard(lock_);
    auto const found = sessions_.find(id);
    if (found == sessions_.end()) return std::nullopt;
    if (now_ms - found->second.seen_ms > idle_ms || now_ms - found->second.begun_ms > longest_ms) {
        sessions_.erase(found);
        return std::nullopt;
    }
    found->second.seen_ms = now_ms;
    return found->second;
}

void Sessions::end(std::string const& id)
{
    std::lock_guard const guard(lock_);
    sessions_.erase(id);
}

void Sessions::end_all_of(std::string const& person)
{
    std::lock_guard const guard(lock_);
    std::erase_if(sessions_, [&](auto const& entry) { return entry.second.person == person; });
}

std::string Sessions::code_for(std::string person, job::Role role, std::int64_t now_ms)
{
    std::lock_guard const guard(lock_);
    std::string code;
    do {
        code = fmt::format("{:08}", std::strtoull(random_word(8).c_str(), nullptr, 16) % 100'000'000);
    } while (codes_.contains(code));
    codes_[code] = {std::move(person), role, now_ms};
    return code;
}

std::optional<std::string> Sessions::pair(std::string const& code, std::int64_t now_ms)
{
    Code good;
    {
        std::lock_guard const guard(lock_);
        std::erase_if(codes_,
                      [&](auto const& entry) { return now_ms - entry.second.made_ms > code_lives_ms; });
        auto const found = codes_.find(code);
        if (found == codes_.end()) {
            if (++wrong_ >= wrong_codes) {
                codes_.clear();
                wrong_ = 0;
            }
            return std::nullopt;
        }
        good = found->second;
        codes_.erase(found);
        wrong_ = 0;
    }
    return begin(good.person, good.role, now_ms);
}

} // namespace guidepin::web
