// SPDX-License-Identifier: Apache-2.0
// A new, empty folder for one test, in the system's folder for temporary files. It goes away with the object.
#pragma once

#include <filesystem>
#include <stdexcept>
#include <string>
#include <system_error>

#include <stdlib.h>

namespace guidepin::support {

class ScratchFolder
{
  public:
    ScratchFolder()
    {
        std::string pattern = (std::filesystem::temp_directory_path() / "guidepin-test-XXXXXX").string();
        if (::mkdtemp(pattern.data()) == nullptr)
            throw std::runtime_error("no folder for the test can be made: " + pattern);
        path_ = pattern;
    }
    ~ScratchFolder()
    {
        std::error_code left; // a test that made the folder unreadable has said so itself
        std::filesystem::remove_all(path_, left);
    }
    ScratchFolder(ScratchFolder const&) = delete;
    ScratchFolder& operator=(ScratchFolder const&) = delete;

    std::filesystem::path const& path() const { return path_; }

  private:
    std::filesystem::path path_;
};

} // namespace guidepin::support
