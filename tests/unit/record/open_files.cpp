// SPDX-License-Identifier: Apache-2.0
#include "record/open_files.hpp"

#include <gtest/gtest.h>

#include <thread>
#include <vector>

namespace guidepin::record {
namespace open_files_test {

TEST(OpenFiles, a_file_is_open_until_the_last_store_closes_it)
{
    EXPECT_FALSE(is_open_here(1, 7));
    note_open(1, 7);
    note_open(1, 7);
    EXPECT_TRUE(is_open_here(1, 7));
    EXPECT_FALSE(is_open_here(2, 7)) << "the same inode number on another device is another file";
    EXPECT_FALSE(is_open_here(1, 8));
    note_closed(1, 7);
    EXPECT_TRUE(is_open_here(1, 7)) << "one of two stores still has it open";
    note_closed(1, 7);
    EXPECT_FALSE(is_open_here(1, 7));
}

TEST(OpenFiles, threads_count_together)
{
    constexpr int rounds = 2000;
    std::vector<std::thread> threads;
    for (int t = 0; t < 4; ++t) {
        threads.emplace_back([] {
            for (int i = 0; i < rounds; ++i) {
                note_open(3, 1);
                EXPECT_TRUE(is_open_here(3, 1));
                note_closed(3, 1);
            }
        });
    }
    for (std::thread& thread : threads) thread.join();
    EXPECT_FALSE(is_open_here(3, 1));
}

} // namespace open_files_test
} // namespace guidepin::record
