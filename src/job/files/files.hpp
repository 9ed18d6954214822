// SPDX-License-Identifier: Apache-2.0
// The file system behind a few functions that say clearly what went wrong.
// Verified by: tests/unit/job/files.cpp, tests/cli/limits.py.
#pragma once

#include "base/result.hpp"

#include <string>
#include <string_view>

namespace guidepin::job {

/// The most that is read of one file. Line numbers have 32 bits; and what is read has to fit into memory.
constexpr std::size_t largest_file = std::size_t{4} << 30;
/// The most that is read of a file that reports no size but has content, as files in /proc do.
constexpr std::size_t largest_file_without_size = std::size_t{64} << 20;

/// Checks that `path` names a file that may be read. Errors: not_found, environment; invalid_input for a
/// folder, a pipe, a socket, a device, or a job file that this process has open.
Outcome require_file(std::string const& path);

/// Refuses what MappedFile::open() refuses.
Result<std::string> read_file(std::string const& path);

/// Writes the file beside its place, syncs it and moves it into place (job/files/writing.hpp): a reader never
/// sees half a file, and after a return without an error it is on the disk. Errors: invalid_input (a folder
/// or device), environment.
Outcome write_file(std::string const& path, std::string_view bytes);

/// Makes the folder and missing ones above it; they are on the disk when this returns.
Outcome make_folder(std::string const& path);

/// A whole file in memory. It is read, not mapped: a file that another program cuts short while it is mapped
/// ends this program (SIGBUS). Empty files are fine. Refused before a byte is read, each with what to do: a
/// folder, a pipe, a socket or a device (they may never end, and opening them may wait for ever); a file that
/// is too large; and a job file that this process has open, since closing it again would drop the locks of
/// the job. A file that changes while it is read is an error too.
class MappedFile
{
  public:
    static Result<MappedFile> open(std::string const& path);
    /// At most the first `most` bytes.
    static Result<MappedFile> open_beginning(std::string const& path, std::size_t most);
    MappedFile(MappedFile&& other) noexcept;
    MappedFile& operator=(MappedFile&& other) noexcept;
    MappedFile(MappedFile const&) = delete;
    MappedFile& operator=(MappedFile const&) = delete;
    ~MappedFile();

    std::string_view bytes() const { return {data_, size_}; }

  private:
    MappedFile() = default;
    char* data_ = nullptr; ///< of malloc: nothing fills it with zeros first
    std::size_t size_ = 0;
};

} // namespace guidepin::job
