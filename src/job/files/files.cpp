// SPDX-License-Identifier: Apache-2.0
#include "job/files/files.hpp"

#include "record/open_files.hpp"

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

namespace guidepin::job {

namespace {

Error file_error(std::string const& path, char const* what, int number)
{
    if (number == EFBIG) {
        return Error{Errc::environment,
                     fmt::format("{}: cannot {}: the file would grow beyond the limit on the "
                                 "size of a file (ulimit -f); raise that limit and repeat",
                                 path, what)};
    }
    Errc const code = number == ENOENT ? Errc::not_found : Errc::environment;
    return Error{code, fmt::format("{}: cannot {}: {}", path, what, std::strerror(number))};
}

/// Closes what it holds.
struct Descriptor
{
    int value = -1;
    ~Descriptor()
    {
        if (value >= 0) ::close(value);
    }
};

/// Nullptr for a file; otherwise what it is in place of one.
char const* other_than_a_file(mode_t mode)
{
    if (S_ISREG(mode)) return nullptr;
    if (S_ISDIR(mode)) return "a folder";
    if (S_ISFIFO(mode)) return "a pipe";
    if (S_ISSOCK(mode)) return "a socket";
    return "a device";
}

Outcome require_plain_file(std::string const& path, struct stat const& status)
{
    if (char const* const what = other_than_a_file(status.st_mode)) {
        char const* const remedy =
            S_ISDIR(status.st_mode) ? "name a file in it" : "save what it gives to a file first";
        return Error{Errc::invalid_input, fmt::format("{}: this is {}, not a file; {}", path, what, remedy)};
    }
    if (record::is_open_here(status.st_dev, status.st_ino)) {
        return Error{Errc::invalid_input,
                     fmt::format("{}: this is the job file itself, or a file that belongs to it; name "
                                 "the file that you want to read",
                                 path)};
    }
    return {};
}

Error too_large(std::string const& path, std::size_t most)
{
    return Error{Errc::invalid_input, fmt::format("{}: this file holds more than {} MiB, the most that is "
                                                  "read of one; split it into smaller files",
                                                  path, most >> 20)};
}

Error changed(std::string const& path)
{
    return Error{Errc::busy, fmt::format("{}: another program changed this file while it was read; wait "
                                         "until it is written, and repeat",
                                         path)};
}

bool same_moment(struct stat const& a, struct stat const& b)
{
    return a.st_mtim.tv_sec == b.st_mtim.tv_sec && a.st_mtim.tv_nsec == b.st_mtim.tv_nsec;
}

} // namespace

Outcome require_file(std::string const& path)
{
    struct stat status = {};
    if (::stat(path.c_str(), &status) != 0) return file_error(path, "open", errno);
    return require_plain_file(path, status);
}

Result<std::string> read_file(std::string const& path)
{
    TRY_ASSIGN(MappedFile const file, MappedFile::open(path));
    return std::string(file.bytes());
}

Result<MappedFile> MappedFile::open(std::string const& path)
{
    return open_beginning(path, std::size_t{0} - 1);
}

Result<MappedFile> MappedFile::open_beginning(std::string const& path, std::size_t most)
{
    TRY(require_file(path));
    // Should a pipe take the file's place just now, O_NONBLOCK keeps us from waiting for its other end.
    Descriptor in{::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY)};
    if (in.value < 0) return file_error(path, "open", errno);
    struct stat status = {};
    if (::fstat(in.value, &status) != 0) return file_error(path, "look at", errno);
    if (auto const plain = require_plain_file(path, status); !plain) {
        // A job file that took the file's place just now stays open for good: closing it would drop the job's
        // locks.
        if (record::is_open_here(status.st_dev, status.st_ino)) in.value = -1;
        return plain.error();
    }
    auto const stated = static_cast<std::size_t>(status.st_size);
    std::size_t const limit = stated > 0 ? largest_file : largest_file_without_size;
    if (stated > limit && most > limit) return too_large(path, limit);
    MappedFile file;
    // One byte more than stated, so that the end of the file shows without a second allocation.
    std::size_t room = 0;
    std::size_t wanted = std::min(stated > 0 ? stated + 1 : std::size_t{64} << 10, most);
    while (file.size_ < most) {
        if (file.size_ == room) {
            room = std::max(wanted, room * 2);
            void* const grown = std::realloc(file.data_, room);
            if (grown == nullptr) return file_error(path, "read", ENOMEM);
            file.data_ = static_cast<char*>(grown);
        }
        auto const got = ::read(in.value, file.data_ + file.size_, std::min(room, most) - file.size_);
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) return file_error(path, "read", errno);
        if (got == 0) break;
        file.size_ += static_cast<std::size_t>(got);
        if (file.size_ > limit) return too_large(path, limit);
    }
    struct stat after = {};
    if (::fstat(in.value, &after) != 0) return file_error(path, "look at", errno);
    bool const whole = stated == 0 || file.size_ == std::min(stated, most);
    if (after.st_size != status.st_size || !same_moment(after, status) || !whole) return changed(path);
    return file;
}

MappedFile::MappedFile(MappedFile&& other) noexcept
    : data_(std::exchange(other.data_, nullptr))
    , size_(std::exchange(other.size_, 0))
{
}

MappedFile& MappedFile::operator=(MappedFile&& other) noexcept
{
    std::swap(data_, other.data_);
    std::swap(size_, other.size_);
    return *this;
}

MappedFile::~MappedFile()
{
    std::free(data_);
}

} // namespace guidepin::job
