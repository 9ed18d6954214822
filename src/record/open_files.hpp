// SPDX-License-Identifier: Apache-2.0
// Which job files this process has open, by device and inode. POSIX drops every lock that a process holds on
// a file as soon as the process closes any descriptor of that file. So whoever is about to open a file that a
// person named asks here first, and refuses a file that a store of this process has open (the job itself, its
// -wal, its -shm). Verified by: tests/unit/record/open_files.cpp.
#pragma once

#include <cstdint>

namespace guidepin::record {

/// One more store of this process has this file open. Call it before the file is opened.
void note_open(std::uint64_t device, std::uint64_t inode);

/// One store fewer has it open. Call it after the file is closed; a file that was never noted is a bug.
void note_closed(std::uint64_t device, std::uint64_t inode);

/// True from the first note_open() to the note_closed() that matches it. Safe from any thread.
bool is_open_here(std::uint64_t device, std::uint64_t inode);

} // namespace guidepin::record
