// SPDX-License-Identifier: Apache-2.0
// Values by a key, each good for one moment of the job only: who asks with another stamp gets nothing. The
// bytes that are kept have a limit; what was used longest ago goes first.
// Verified by: tests/unit/web/http_cache.cpp, tests/web/limits.test.mjs (whose page is whose).
#pragma once

#include <cstddef>
#include <cstdint>
#include <list>
#include <memory>
#include <mutex>
#include <string>
#include <unordered_map>

namespace guidepin::web {

/// When something was rendered: after so many changes, in this span of the clock.
struct Stamp
{
    std::uint64_t changes = 0;
    std::int64_t span = 0;
    bool operator==(Stamp const&) const = default;
};

template <class T>
class StampedCache
{
  public:
    explicit StampedCache(std::size_t bytes_at_most)
        : bytes_at_most_(bytes_at_most)
    {
    }

    /// Null when there is none of this stamp.
    std::shared_ptr<T const> get(std::string const& key, Stamp const& stamp)
    {
        std::lock_guard const guard(lock_);
        auto const found = index_.find(key);
        if (found == index_.end()) return nullptr;
        if (found->second->stamp != stamp) {
            // An older reader must not throw away what is newer.
            if (found->second->stamp.changes <= stamp.changes) drop(found->second);
            return nullptr;
        }
        entries_.splice(entries_.begin(), entries_, found->second);
        return found->second->value;
    }

    void put(std::string const& key, Stamp const& stamp, std::shared_ptr<T const> value, std::size_t bytes)
    {
        bytes += key.size() + overhead;
        std::lock_guard const guard(lock_);
        if (bytes > bytes_at_most_ / 8) return;
        if (auto const found = index_.find(key); found != index_.end()) {
            if (found->second->stamp.changes > stamp.changes) return;
            drop(found->second);
        }
        while (bytes_ + bytes > bytes_at_most_ && !entries_.empty()) drop(std::prev(entries_.end()));
        entries_.push_front({key, stamp, std::move(value), bytes});
        index_[key] = entries_.begin();
        bytes_ += bytes;
    }

    std::size_t bytes() const
    {
        std::lock_guard const guard(lock_);
        return bytes_;
    }

  private:
    static constexpr std::size_t overhead = 256; ///< of the list and the index, about

    struct Entry
    {
        std::string key;
        Stamp stamp;
        std::shared_ptr<T const> value;
        std::size_t bytes = 0;
    };
    using Place = typename std::list<Entry>::iterator;

    void drop(Place place)
    {
        bytes_ -= place->bytes;
        index_.erase(place->key);
        entries_.erase(place);
    }

    mutable std::mutex lock_;
    std::size_t bytes_at_most_, bytes_ = 0;
    std::list<Entry> entries_; ///< used last at the front
    std::unordered_map<std::string, Place> index_;
};

} // namespace guidepin::web
