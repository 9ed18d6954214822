// SPDX-License-Identifier: Apache-2.0
// What the store tests share: a folder that goes away, keys that are always the same, and each place to store
// in.
#pragma once

#include "record/canonical_json.hpp"
#include "record/kind.hpp"
#include "record/store.hpp"

#include <filesystem>
#include <string>
#include <vector>

#include <gtest/gtest.h>
#include <stdlib.h>

#include "scratch_folder.hpp"

namespace guidepin::record::test {

using Folder = support::ScratchFolder;

inline StationKey key_number(std::uint8_t number)
{
    std::array<std::uint8_t, 32> seed{};
    seed[0] = number;
    return StationKey::from_seed(seed);
}

inline Maker const maker{"0.1.0", "facts-1"};
inline CreateOptions const create_options{maker, "job-1", "{}", {}, nullptr};

inline Draft draft(std::string_view kind, std::int64_t ms, std::string body)
{
    return {std::string(kind), Instant{ms, 60}, "A. Finn", std::move(body)};
}

inline Draft note(int number)
{
    return draft(kind::note, 1'772'000'000'000 + number * 1000,
                 "{\"number\":" + std::to_string(number) + ",\"text\":\"clean it\"}");
}

inline std::vector<Draft> notes(int first, int count)
{
    std::vector<Draft> drafts;
    for (int i = 0; i < count; ++i) drafts.push_back(note(first + i));
    return drafts;
}

inline std::unique_ptr<Store> opened(std::string const& path, StationKey const* key,
                                     OpenOptions::Access access = OpenOptions::Access::write,
                                     int wait_ms = 5000)
{
    auto store = open_sqlite(path, OpenOptions{maker, access, key, wait_ms});
    if (!store) {
        ADD_FAILURE() << store.error().message;
        return nullptr;
    }
    return std::move(store).value();
}

/// A place to store in, for the suite that runs on all of them.
struct SqlitePlace
{
    Folder folder;
    int made = 0;
    std::unique_ptr<Store> make(StationKey const* key, std::string const& job_id = "job-1")
    {
        std::string const path = folder.file(std::to_string(++made) + ".job");
        auto const created = create_sqlite(path, CreateOptions{maker, job_id, "{}", {}, nullptr});
        EXPECT_TRUE(created) << created.error().message;
        return opened(path, key);
    }
};

struct MemoryPlace
{
    std::unique_ptr<Store> make(StationKey const* key, std::string const& job_id = "job-1")
    {
        return make_memory_store(CreateOptions{maker, job_id, "{}", {}, nullptr},
                                 OpenOptions{maker, OpenOptions::Access::write, key, 0});
    }
};

using Places = ::testing::Types<SqlitePlace, MemoryPlace>;

} // namespace guidepin::record::test
