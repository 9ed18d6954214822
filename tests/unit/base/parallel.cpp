// SPDX-License-Identifier: Apache-2.0
// Work shared by threads. Oracle: each piece counts its own calls.
#include "base/parallel.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <stdexcept>
#include <vector>

namespace guidepin {
namespace parallel_test {

TEST(Parallel, EachPieceIsDoneOnce)
{
    for (int const threads : {-1, 0, 1, 2, 7, 1000}) {
        for (std::size_t const pieces : {0U, 1U, 3U, 200U}) {
            std::vector<std::atomic<int>> calls(pieces);
            run_parallel(threads, pieces, [&](std::size_t i) { ++calls[i]; });
            for (auto const& count : calls) EXPECT_EQ(count.load(), 1) << threads << " threads";
        }
    }
}

TEST(Parallel, RangesCoverEverythingOnce)
{
    for (int const threads : {0, 1, 2, 5, 64, 65}) {
        for (std::size_t const count : {0U, 1U, 4U, 63U, 1001U}) {
            std::vector<std::atomic<int>> calls(count);
            run_in_ranges(threads, count, [&](std::size_t first, std::size_t last) {
                EXPECT_LT(first, last);
                for (std::size_t i = first; i < last; ++i) ++calls[i];
            });
            for (auto const& each : calls) EXPECT_EQ(each.load(), 1) << threads << " threads";
        }
    }
}

TEST(Parallel, WhatAPieceThrowsArrivesAfterTheOthersAreDone)
{
    for (int const threads : {1, 3}) {
        std::atomic<int> done{0};
        EXPECT_THROW(run_parallel(threads, 50,
                                  [&](std::size_t i) {
                                      if (i == 7) throw std::runtime_error("no memory");
                                      ++done;
                                  }),
                     std::runtime_error);
        EXPECT_EQ(done.load(), 49);
    }
}

} // namespace parallel_test
} // namespace guidepin
