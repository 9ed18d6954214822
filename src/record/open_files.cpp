// SPDX-License-Identifier: Apache-2.0
#include "record/open_files.hpp"

#include <cassert>
#include <map>
#include <mutex>
#include <utility>

namespace guidepin::record {

namespace {

struct OpenFiles
{
    std::mutex guard;
    std::map<std::pair<std::uint64_t, std::uint64_t>, int> count;
};

/// Never destroyed: a store may be closed while the process ends.
OpenFiles& open_files()
{
    static OpenFiles& files = *new OpenFiles;
    return files;
}

} // namespace

void note_open(std::uint64_t device, std::uint64_t inode)
{
    OpenFiles& files = open_files();
    std::lock_guard const lock(files.guard);
    ++files.count[{device, inode}];
}

void note_closed(std::uint64_t device, std::uint64_t inode)
{
    OpenFiles& files = open_files();
    std::lock_guard const lock(files.guard);
    auto const found = files.count.find({device, inode});
    assert(found != files.count.end());
    if (found == files.count.end()) return;
    if (--found->second == 0) files.count.erase(found);
}

bool is_open_here(std::uint64_t device, std::uint64_t inode)
{
    OpenFiles& files = open_files();
    std::lock_guard const lock(files.guard);
    return files.count.contains({device, inode});
}

} // namespace guidepin::record
