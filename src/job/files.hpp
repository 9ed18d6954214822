// SPDX-License-Identifier: Apache-2.0
// The file system behind a few functions that say clearly what went wrong.
#pragma once

#include "base/result.hpp"

#include <string>
#include <string_view>

namespace guidepin::job {

Result<std::string> read_file(std::string const& path);

/// Written beside and moved into place, so that a reader never sees half a file.
Outcome write_file(std::string const& path, std::string_view bytes);

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
