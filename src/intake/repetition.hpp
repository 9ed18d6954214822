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

/// Rows are grouped by `owner(row)` < `owners`; within one, rows of equal `key(row)` and `time(row)` are the
/// same thing, and `same(a, b)` tells whether two of them say the same. One pass over small tables: rows of
/// an owner that stand together, as files have them, cost nothing to gather. Result in order of rows.
template <class Owner, class Key, class Time, class Same>
std::vector<Repetition> find_repetitions(std::size_t rows, std::size_t owners, Owner const& owner,
                                         Key const& key, Time const& time, Same const& same, int threads)
{
    // Gather rows by owner, in file order within each (counting sort), unless they stand together already.
    std::vector<std::uint32_t> start(owners + 1, 0);
    std::vector<std::uint32_t> order;
    for (std::size_t i = 0; i < rows; ++i) ++start[owner(i) + 1];
    for (std::size_t i = 0; i < owners; ++i) start[i + 1] += start[i];
    bool gathered = true;
    for (std::size_t i = 1; i < rows && gathered; ++i) gathered = owner(i) >= owner(i - 1);
    if (!gathered) {
        order.resize(rows);
        std::vector<std::uint32_t> next(start.begin(), start.end() - 1);
        for (std::size_t i = 0; i < rows; ++i) order[next[owner(i)]++] = static_cast<std::uint32_t>(i);
    }
    constexpr std::size_t parts = 16;
    std::vector<std::vector<Repetition>> found(parts);
    run_parallel(threads, parts, [&](std::size_t part) {
        struct Slot
        {
            std::uint64_t key = 0;
            std::int64_t time = 0;
            std::uint32_t stamp = 0; ///< of the owner that filled it
            std::uint32_t row = 0;
            bool contradicted = false;
            bool listed = false;
        };
        std::vector<Slot> table(64);
        std::vector<std::size_t> places; // of the repetitions of one owner
        std::uint32_t stamp = 0;
        for (std::size_t o = owners * part / parts; o < owners * (part + 1) / parts; ++o) {
            std::size_t const count = start[o + 1] - start[o];
            if (count < 2) continue;
            if (table.size() < count * 2) table.assign(std::bit_ceil(count * 2), Slot{});
            std::size_t const mask = table.size() - 1;
            ++stamp;
            std::size_t const before = found[part].size();
            places.clear();
            for (std::size_t at = start[o]; at < start[o + 1]; ++at) {
                std::uint32_t const row = order.empty() ? static_cast<std::uint32_t>(at) : order[at];
                std::uint64_t const k = key(row);
                std::int64_t const t = time(row);
                std::uint64_t hash =
                    (k * 0x9E3779B97F4A7C15ULL) ^ (static_cast<std::uint64_t>(t) * 0xC2B2AE3D27D4EB4FULL);
                hash ^= hash >> 32;
                std::size_t place = static_cast<std::size_t>(hash) & mask;
                while (table[place].stamp == stamp && !(table[place].key == k && table[place].time == t)) {
                    place = (place + 1) & mask;
                }
                Slot& slot = table[place];
                if (slot.stamp != stamp) {
                    slot = Slot{k, t, stamp, row, false, false};
                    continue;
                }
                slot.contradicted = slot.contradicted || !same(slot.row, row);
                found[part].push_back(Repetition{row, slot.row, false});
                places.push_back(place);
            }
            // Where one contradicts, none of them can be believed: the first is listed too.
            for (std::size_t i = 0; i < places.size(); ++i) {
                Slot& slot = table[places[i]];
                if (!slot.contradicted) continue;
                found[part][before + i].contradicts = true;
                if (!slot.listed) found[part].push_back(Repetition{slot.row, slot.row, true});
                slot.listed = true;
            }
        }
    });
    std::vector<Repetition> all;
    for (auto const& part : found) all.insert(all.end(), part.begin(), part.end());
    std::sort(all.begin(), all.end(), [](Repetition const& a, Repetition const& b) { return a.row < b.row; });
    return all;
}

} // namespace guidepin::intake
