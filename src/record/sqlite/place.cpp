// SPDX-License-Identifier: Apache-2.0
#include "record/sqlite/place.hpp"

#include "record/open_files.hpp"

#include <chrono>
#include <filesystem>
#include <mutex>
#include <thread>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

namespace guidepin::record::sqlite {

namespace {

constexpr std::array endings{"", "-wal", "-shm"};
constexpr int looks_for_a_log = 15; ///< 0.3 s

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
    std::error_code none;
    own_path_ = std::filesystem::canonical(path_, none).string();
    if (own_path_.empty()) own_path_ = path_;
    struct stat log = {};
    if (::stat((own_path_ + "-wal").c_str(), &log) == 0) log_bytes_ = static_cast<std::uint64_t>(log.st_size);
    if (known_[0]) note_open(known_[0]->device, known_[0]->inode);
}

Result<Place> Place::of(std::string const& path)
{
    // No other thread may open the file through SQLite between the look and the note: the look would take its
    // locks away.
    static std::mutex one_at_a_time;
    std::lock_guard const guard(one_at_a_time);
    auto const identity = identity_of(path);
    bool const ours = identity && is_open_here(identity->device, identity->inode);
    Place place(path);
    if (!ours) TRY(place.not_open_by_another_name());
    return place;
}

Place::Place(Place&& other) noexcept
    : known_(std::exchange(other.known_, {}))
    , path_(std::move(other.path_))
    , own_path_(std::move(other.own_path_))
    , content_(other.content_)
    , largest_(other.largest_)
    , log_bytes_(other.log_bytes_)
{
}

Place& Place::operator=(Place&& other) noexcept
{
    if (this == &other) return *this;
    forget();
    known_ = std::exchange(other.known_, {});
    path_ = std::move(other.path_);
    own_path_ = std::move(other.own_path_);
    content_ = other.content_;
    largest_ = other.largest_;
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
            if (known_[which] && identity_of(own_path_ + endings[which]) == known_[which])
                ::unlink((own_path_ + endings[which]).c_str());
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

std::string Place::mark() const
{
    struct stat folder = {};
    std::filesystem::path const path(own_path_);
    std::string const parent = path.parent_path().string();
    ::stat(parent.empty() ? "." : parent.c_str(), &folder);
    return fmt::format("{} {} {}", known_[0] ? known_[0]->inode : 0,
                       static_cast<std::uint64_t>(folder.st_ino), path.filename().string());
}

Outcome Place::not_open_by_another_name() const
{
    // Who opens the job by this name makes the log at once; who ends takes it away a moment before the lock.
    for (int look = 0; look < looks_for_a_log; ++look) {
        if (identity_of(own_path_ + "-wal")) return {};
        int const file = ::open(own_path_.c_str(), O_RDONLY | O_CLOEXEC);
        if (file < 0) return {};
        // The bytes that every connection of a job keeps locked for reading
        // (sqlite.org/fileformat2.html, 1.4).
        struct flock asked = {};
        asked.l_type = F_WRLCK;
        asked.l_whence = SEEK_SET;
        asked.l_start = 0x40000002;
        asked.l_len = 510;
        bool const locked = ::fcntl(file, F_GETLK, &asked) == 0 && asked.l_type != F_UNLCK;
        ::close(file);
        if (!locked) return {};
        std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
    return Error{Errc::refused,
                 fmt::format("{} has another name (a hard link, or a file that is mounted elsewhere), and "
                             "another program has it open by that name. Two programs that use two names lose "
                             "records. Open the job by the same name, or end the other program first",
                             path_)};
}

namespace {

struct stat about(std::string const& path)
{
    struct stat found = {};
    ::stat(path.c_str(), &found);
    return found;
}

} // namespace

void Place::remember_content(std::function<std::int64_t()> const& version)
{
    content_.reset();
    if (!known_[0]) return;
    std::int64_t const before = version();
    struct stat log = {};
    bool const is_empty = ::stat((own_path_ + "-wal").c_str(), &log) != 0 || log.st_size == 0;
    struct stat const file = about(own_path_);
    // What somebody wrote in between may reach the file at any time: then there is nothing to compare with.
    if (!is_empty || version() != before) return;
    content_ = Content{file.st_size, file.st_mtim.tv_sec, file.st_mtim.tv_nsec, before};
}

Outcome Place::not_overwritten(std::function<std::int64_t()> const& version)
{
    if (!known_[0]) return {};
    struct stat const file = about(own_path_);
    // A job never becomes smaller, whatever is in its log: nothing of ours gives pages back.
    bool const is_cut = file.st_size < largest_;
    if (!is_cut) largest_ = file.st_size;
    if (!is_cut && !content_) return {};
    if (!is_cut && file.st_size == content_->bytes && file.st_mtim.tv_sec == content_->seconds &&
        file.st_mtim.tv_nsec == content_->nanoseconds)
        return {};
    // Asked after the look at the file: whoever changed it through SQLite had a higher number before.
    if (!is_cut && version() != content_->version) return {};
    return Error{
        Errc::environment,
        fmt::format("{} was written over by another program while Guidepin had it open (a copy onto it, "
                    "a program that synchronises or restores files). Guidepin keeps nothing more. End "
                    "this program and every other one that uses the job, check the records, and "
                    "take another copy if they are damaged",
                    path_)};
}

Outcome Place::require(std::size_t which)
{
    std::string const path = own_path_ + endings[which];
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
                    "again and check its records",
                    path, now ? "replaced" : "removed", path_)};
}

} // namespace guidepin::record::sqlite
