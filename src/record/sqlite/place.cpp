// SPDX-License-Identifier: Apache-2.0
#include "record/sqlite/place.hpp"

#include "record/open_files.hpp"

#include <utility>

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

namespace guidepin::record::sqlite {

namespace {

constexpr std::array endings{"", "-wal", "-shm"};

} // namespace

std::optional<FileIdentity> identity_of(std::string const& path)
{
    struct stat about = {};
    if (::stat(path.c_str(), &about) != 0 || !S_ISREG(about.st_mode)) return std::nullopt;
    return FileIdentity{static_cast<std::uint64_t>(about.st_dev), static_cast<std::uint64_t>(about.st_ino)};
}

Place::Place(std::string path)
    : path_(std::move(path))
{
    known_[0] = identity_of(path_);
    struct stat log = {};
    if (::stat((path_ + "-wal").c_str(), &log) == 0) log_bytes_ = static_cast<std::uint64_t>(log.st_size);
    if (known_[0]) note_open(known_[0]->device, known_[0]->inode);
}

Place::Place(Place&& other) noexcept
    : known_(std::exchange(other.known_, {}))
    , path_(std::move(other.path_))
    , log_bytes_(other.log_bytes_)
{
}

Place& Place::operator=(Place&& other) noexcept
{
    if (this == &other) return *this;
    forget();
    known_ = std::exchange(other.known_, {});
    path_ = std::move(other.path_);
    log_bytes_ = other.log_bytes_;
    return *this;
}

Place::~Place()
{
    forget();
}

void Place::forget()
{
    for (auto& known : known_) {
        if (known) note_closed(known->device, known->inode);
        known.reset();
    }
}

Outcome Place::still_there()
{
    if (!known_[0]) return {};
    auto const now = identity_of(path_);
    if (!now)
        return Error{
            Errc::environment,
            fmt::format("{} is gone: it was removed or moved, or its disk was taken away, while Guidepin had "
                        "it open. Guidepin keeps nothing more. Put the file back where it was, or end this "
                        "program and open the job where it is now",
                        path_)};
    if (*now != *known_[0]) {
        // An old log beside a new job file would be read into it. The log is ours, so it is ours to remove.
        for (std::size_t which = 1; which < endings.size(); ++which) {
            if (known_[which] && identity_of(path_ + endings[which]) == known_[which])
                ::unlink((path_ + endings[which]).c_str());
        }
        return Error{
            Errc::environment,
            fmt::format("{} was replaced by another file while Guidepin had it open (a program that "
                        "synchronises folders may do that). Guidepin keeps nothing more and leaves the new "
                        "file as it is. End this program, find out which of the two files is the right one, "
                        "and open that one",
                        path_)};
    }
    for (std::size_t which = 1; which < endings.size(); ++which) TRY(require(which));
    return {};
}

Outcome Place::require(std::size_t which)
{
    std::string const path = path_ + endings[which];
    auto const now = identity_of(path);
    if (!known_[which]) {
        known_[which] = now;
        if (now) note_open(now->device, now->inode);
        return {};
    }
    if (now == known_[which]) return {};
    return Error{
        Errc::environment,
        fmt::format("{} was {} while Guidepin had {} open; what is written now could be lost. Guidepin keeps "
                    "nothing more. End this program and every other one that uses the job, then open the job "
                    "again; \"guidepin check\" says what is in it",
                    path, now ? "replaced" : "removed", path_)};
}

} // namespace guidepin::record::sqlite
