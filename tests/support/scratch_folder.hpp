// SPDX-License-Identifier: Apache-2.0
// A new, empty folder for one test, in the system's folder for temporary files or in memory. It goes away
// with the object, unless GUIDEPIN_KEEP_TEST_FOLDERS is set.
#pragma once

#include <cstdlib>
#include <filesystem>
#include <stdexcept>
#include <string>
#include <system_error>

#include <stdlib.h>
#include <unistd.h>

namespace guidepin::support {

class ScratchFolder
{
  public:
    enum class Place {
        disk,
        memory ///< if the machine has such a place: for thousands of small files
    };

    explicit ScratchFolder(Place place = Place::disk)
    {
        bool const memory = place == Place::memory && ::access("/dev/shm", W_OK) == 0;
        std::filesystem::path const base =
            memory ? std::filesystem::path("/dev/shm") : std::filesystem::temp_directory_path();
        std::string pattern = (base / "guidepin-test-XXXXXX").string();
        if (::mkdtemp(pattern.data()) == nullptr)
            throw std::runtime_error("no folder for the test can be made: " + pattern);
        path_ = pattern;
    }
    ~ScratchFolder()
    {
        std::error_code left; // a test that made the folder unreadable has said so itself
        if (std::getenv("GUIDEPIN_KEEP_TEST_FOLDERS") == nullptr) std::filesystem::remove_all(path_, left);
    }
    ScratchFolder(ScratchFolder const&) = delete;
    ScratchFolder& operator=(ScratchFolder const&) = delete;

    std::filesystem::path const& path() const { return path_; }
    std::string file(std::string const& name) const { return (path_ / name).string(); }

  private:
    std::filesystem::path path_;
};

} // namespace guidepin::support
