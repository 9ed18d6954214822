// SPDX-License-Identifier: Apache-2.0
#include "job/files.hpp"

#include <cerrno>
#include <cstring>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

namespace guidepin::job {

namespace {

Error file_error(std::string const& path, char const* what, int number)
{
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

} // namespace

Result<std::string> read_file(std::string const& path)
{
    TRY_ASSIGN(MappedFile const file, MappedFile::open(path));
    return std::string(file.bytes());
}

Result<MappedFile> MappedFile::open(std::string const& path)
{
    Descriptor const in{::open(path.c_str(), O_RDONLY | O_CLOEXEC)};
    if (in.value < 0) return file_error(path, "open", errno);
    struct stat status = {};
    if (::fstat(in.value, &status) != 0) return file_error(path, "look at", errno);
    if (S_ISDIR(status.st_mode))
        return Error{Errc::invalid_input, fmt::format("{}: this is a folder, a file is wanted", path)};
    MappedFile file;
    file.size_ = static_cast<std::size_t>(status.st_size);
    if (file.size_ > 0) {
        void* const data = ::mmap(nullptr, file.size_, PROT_READ, MAP_PRIVATE | MAP_POPULATE, in.value, 0);
        if (data == MAP_FAILED) return file_error(path, "map", errno);
        file.data_ = static_cast<char const*>(data);
    }
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
    if (data_) ::munmap(const_cast<char*>(data_), size_);
}

} // namespace guidepin::job
