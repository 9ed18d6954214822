// SPDX-License-Identifier: Apache-2.0
#include "web/private_file.hpp"

#include "web/desk.hpp"

#include <cerrno>
#include <cstring>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

namespace guidepin::web {

namespace {

constexpr std::size_t largest = 1U << 20U;

struct Descriptor
{
    int value = -1;
    ~Descriptor()
    {
        if (value >= 0) ::close(value);
    }
};

Error trouble(std::string const& path, char const* what, int number)
{
    return {number == ENOENT ? Errc::not_found : Errc::environment,
            fmt::format("{}: cannot {}: {}", path, what, std::strerror(number))};
}

/// errno, or 0.
int write_all(int file, std::string_view bytes)
{
    while (!bytes.empty()) {
        auto const written = ::write(file, bytes.data(), bytes.size());
        if (written < 0 && errno == EINTR) continue;
        if (written < 0) return errno;
        bytes.remove_prefix(static_cast<std::size_t>(written));
    }
    return ::fsync(file) == 0 ? 0 : errno;
}

} // namespace

Outcome make_private_folder(std::string const& path)
{
    for (std::size_t end = path.find('/', 1);; end = path.find('/', end + 1)) {
        std::string const part = path.substr(0, end);
        if (!part.empty() && ::mkdir(part.c_str(), S_IRWXU) != 0 && errno != EEXIST)
            return trouble(part, "make this folder", errno);
        if (end == std::string::npos) return {};
    }
}

Outcome write_private_file(std::string const& path, std::string_view bytes)
{
    std::string const beside = path + "." + random_word(8);
    {
        Descriptor const file{
            ::open(beside.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, S_IRUSR | S_IWUSR)};
        if (file.value < 0) return trouble(path, "write", errno);
        if (int const number = write_all(file.value, bytes); number != 0) {
            ::unlink(beside.c_str());
            return trouble(path, "write", number);
        }
    }
    if (::rename(beside.c_str(), path.c_str()) != 0) {
        int const number = errno;
        ::unlink(beside.c_str());
        return trouble(path, "move into place", number);
    }
    auto const slash = path.find_last_of('/');
    Descriptor const folder{::open(slash == std::string::npos ? "." : path.substr(0, slash + 1).c_str(),
                                   O_RDONLY | O_DIRECTORY | O_CLOEXEC)};
    // The file holds either way; this keeps its name over a power cut where the folder allows it.
    if (folder.value >= 0) ::fsync(folder.value);
    return {};
}

Result<std::string> read_private_file(std::string const& path)
{
    // Not blocking: a FIFO at this place must not hold the program.
    Descriptor const file{::open(path.c_str(), O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC)};
    if (file.value < 0 && errno == ELOOP)
        return Error{Errc::refused, fmt::format("{} is a symbolic link, which is not followed", path)};
    if (file.value < 0) return trouble(path, "open", errno);
    struct stat status = {};
    if (::fstat(file.value, &status) != 0) return trouble(path, "look at", errno);
    if (!S_ISREG(status.st_mode)) return Error{Errc::refused, fmt::format("{} is no plain file", path)};
    if (status.st_uid != ::geteuid())
        return Error{Errc::refused, fmt::format("{} belongs to another user", path)};
    if ((status.st_mode & (S_IRWXG | S_IRWXO)) != 0)
        return Error{Errc::refused, fmt::format("Others may read or write {}", path)};
    if (static_cast<std::size_t>(status.st_size) > largest)
        return Error{Errc::refused,
                     fmt::format("{} has {} bytes, at most {} are read", path, status.st_size, largest)};
    std::string bytes;
    char part[4096];
    for (;;) {
        auto const got = ::read(file.value, part, sizeof part);
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) return trouble(path, "read", errno);
        if (got == 0 || bytes.size() > largest) return bytes;
        bytes.append(part, static_cast<std::size_t>(got));
    }
}

} // namespace guidepin::web
