// SPDX-License-Identifier: Apache-2.0
// The file system behind a few functions that say clearly what went wrong.
#pragma once

#include "base/result.hpp"

#include <string>
#include <string_view>

namespace guidepin::job {

Result<std::string> read_file(std::string const& path);

/// Written beside, synced and moved into place (job/writing.hpp): a reader never sees half a file, and after
/// a return without an error it is on the disk. Errors: invalid_input (a folder or device), environment.
Outcome write_file(std::string const& path, std::string_view bytes);

/// With those above it, as far as they are missing; they are on the disk when this returns.
Outcome make_folder(std::string const& path);

/// A whole file mapped into memory, read-only. Empty files are fine.
class MappedFile
{
  public:
    static Result<MappedFile> open(std::string const& path);
    MappedFile(MappedFile&& other) noexcept;
    MappedFile& operator=(MappedFile&& other) noexcept;
    MappedFile(MappedFile const&) = delete;
    MappedFile& operator=(MappedFile const&) = delete;
    ~MappedFile();

    std::string_view bytes() const { return {data_, size_}; }

  private:
    MappedFile() = default;
    char const* data_ = nullptr;
    std::size_t size_ = 0;
};

} // namespace guidepin::job
