// SPDX-License-Identifier: Apache-2.0
// Rows about the same thing at the same moment: said twice, or said differently. Room-private.
// Verified by: tests/unit/intake/repetition.cpp (against all pairs).
#pragma once

#include "base/parallel.hpp"

#include <algorithm>
#include <bit>
#include <cstdint>
#include <vector>

namespace guidepin::intake {

struct Repetition
{
    std::uint32_t row = 0;
    std::uint32_t first = 0; ///< the row that said it first
    bool contradicts =
        false; ///< one of the rows about it says something else: then all of them, the first too, are listed
};

/// What find_repetitions() asks about rows, which have numbers below `size`.
template <class Owner, class Key, class Time, class Same>
struct ComparedRows
{
    std::size_t size = 0;
    std::size_t owners = 0;
    Owner owner; ///< of a row, below `owners`
    Key key;     ///< rows of one owner with equal key and equal time are about the same thing
    Time time;
    Same same; ///< whether two such rows say the same
};
template <class Owner, class Key, class Time, class Same>
ComparedRows(std::size_t, std::size_t, Owner, Key, Time, Same) -> ComparedRows<Owner, Key, Time, Same>;

namespace detail {

/// Rows by owner, in file order within each: of owner o, those from start[o] up to start[o + 1].
struct RowsByOwner
{
    std::vector<std::uint32_t> start;
    std::vector<std::uint32_t> order; ///< empty: the rows of each owner are together already

    std::uint32_t row(std::size_t at) const
    {
        return order.empty() ? static_cast<std::uint32_t>(at) : order[at];
    }
};

template <class Rows>
RowsByOwner rows_by_owner(Rows const& rows)
{
    RowsByOwner by;
    by.start.assign(rows.owners + 1, 0);
    for (std::size_t i = 0; i < rows.size; ++i) ++by.start[rows.owner(i) + 1];
    for (std::size_t i = 0; i < rows.owners; ++i) by.start[i + 1] += by.start[i];
    bool together = true;
    for (std::size_t i = 1; i < rows.size && together; ++i) together = rows.owner(i) >= rows.owner(i - 1);
    if (together) return by;
    by.order.resize(rows.size);
    std::vector<std::uint32_t> next(by.start.begin(), by.start.end() - 1);
    for (std::size_t i = 0; i < rows.size; ++i)
        by.order[next[rows.owner(i)]++] = static_cast<std::uint32_t>(i);
    return by;
}

/// The repetitions among the rows of one owner after another, by a small hash table that is used again for
/// each.
template <class Rows>
class OwnerTable
{
  public:
    OwnerTable(Rows const& rows, RowsByOwner const& by)
        : rows_(rows)
        , by_(by)
        , slots_(64)
    {
    }

    void look_at(std::size_t owner, std::vector<Repetition>& found)
    {
        std::size_t const count = by_.start[owner + 1] - by_.start[owner];
        if (count < 2) return;
        if (slots_.size() < count * 2) slots_.assign(std::bit_ceil(count * 2), Slot{});
        ++stamp_;
        places_.clear();
        std::size_t const before = found.size();
        for (std::size_t at = by_.start[owner]; at < by_.start[owner + 1]; ++at) {
            std::uint32_t const row = by_.row(at);
            std::size_t const place = place_of(row);
            Slot& slot = slots_[place];
            if (slot.stamp != stamp_) {
                slot = Slot{rows_.key(row), rows_.time(row), stamp_, row, false, false};
                continue;
            }
            slot.contradicted = slot.contradicted || !rows_.same(slot.row, row);
            found.push_back(Repetition{row, slot.row, false});
            places_.push_back(place);
        }
        // Where one contradicts, none of them can be believed: the first is listed too.
        for (std::size_t i = 0; i < places_.size(); ++i) {
            Slot& slot = slots_[places_[i]];
            if (!slot.contradicted) continue;
            found[before + i].contradicts = true;
            if (!slot.listed) found.push_back(Repetition{slot.row, slot.row, true});
            slot.listed = true;
        }
    }

  private:
    struct Slot
    {
        std::uint64_t key = 0;
        std::int64_t time = 0;
        std::uint32_t stamp = 0; ///< of the owner that filled it
        std::uint32_t row = 0;
        bool contradicted = false;
        bool listed = false;
    };

    /// The slot of this key and time, or the free one for them.
    std::size_t place_of(std::uint32_t row) const
    {
        std::uint64_t const key = rows_.key(row);
        std::int64_t const time = rows_.time(row);
        std::size_t const mask = slots_.size() - 1;
        std::uint64_t hash =
            (key * 0x9E3779B97F4A7C15ULL) ^ (static_cast<std::uint64_t>(time) * 0xC2B2AE3D27D4EB4FULL);
        hash ^= hash >> 32;
        std::size_t place = static_cast<std::size_t>(hash) & mask;
        while (slots_[place].stamp == stamp_ && !(slots_[place].key == key && slots_[place].time == time))
            place = (place + 1) & mask;
        return place;
    }

    Rows const& rows_;
    RowsByOwner const& by_;
    std::vector<Slot> slots_;
    std::vector<std::size_t> places_; ///< of the repetitions of one owner
    std::uint32_t stamp_ = 0;
};

} // namespace detail

/// One pass over small tables: rows of an owner that are together, as files have them, cost nothing to
/// gather. Returns the repetitions in the order of rows.
template <class Rows>
std::vector<Repetition> find_repetitions(Rows const& rows, int threads)
{
    detail::RowsByOwner const by = detail::rows_by_owner(rows);
    constexpr std::size_t parts = 16;
    std::vector<std::vector<Repetition>> found(parts);
    run_parallel(threads, parts, [&](std::size_t part) {
        detail::OwnerTable<Rows> table(rows, by);
        for (std::size_t o = rows.owners * part / parts; o < rows.owners * (part + 1) / parts; ++o)
            table.look_at(o, found[part]);
    });
    std::vector<Repetition> all;
    for (auto const& part : found) all.insert(all.end(), part.begin(), part.end());
    std::sort(all.begin(), all.end(), [](Repetition const& a, Repetition const& b) { return a.row < b.row; });
    return all;
}

} // namespace guidepin::intake
