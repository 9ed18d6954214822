// SPDX-License-Identifier: Apache-2.0
#include "job/files/writing.hpp"

#include "job/files/files.hpp"

#include <atomic>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <memory>
#include <utility>
#include <vector>

#include <dirent.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

namespace guidepin::job {

namespace {

std::atomic<FileWatch> file_watch{nullptr};

/// Makes the call unless the watch makes it fail. Returns -1 and sets errno as the call itself does.
template <class Call>
auto watched(FileCall kind, std::string const& path, Call call) -> decltype(call())
{
    if (FileWatch const watch = file_watch.load(std::memory_order_relaxed)) {
        if (int const number = watch(kind, path); number != 0) {
            errno = number;
            return -1;
        }
    }
    return call();
}

char const* remedy_of(int number)
{
    switch (number) {
    case ENOSPC:
    case EDQUOT:
        return ". Free some space and repeat";
    case EFBIG:
        return ": it would grow beyond the limit on the size of a file (ulimit -f). Raise that limit and "
               "repeat";
    case EROFS:
    case EACCES:
    case EPERM:
        return ". Choose a folder that you may write, or give yourself the right to it";
    case ENOENT:
        return ". Its folder has to exist as long as this takes";
    case EIO:
        return ". See to the disk (cable, health) and repeat";
    default:
        return "";
    }
}

Error cannot(std::string const& path, char const* what, int number)
{
    return Error{Errc::environment,
                 fmt::format("{}: cannot {}: {}{}", path, what, std::strerror(number), remedy_of(number))};
}

int make_one_folder(std::string const& path)
{
    return watched(FileCall::make_folder, path, [&] { return ::mkdir(path.c_str(), 0777); });
}

int remove_one(std::string const& path, int flags)
{
    return watched(FileCall::remove, path, [&] { return ::unlinkat(AT_FDCWD, path.c_str(), flags); });
}

int move(std::string const& from, std::string const& to)
{
    return watched(FileCall::rename, to, [&] { return ::rename(from.c_str(), to.c_str()); });
}

int swap_names(std::string const& one, std::string const& other)
{
    return watched(FileCall::exchange, other, [&] {
        return ::renameat2(AT_FDCWD, one.c_str(), AT_FDCWD, other.c_str(), RENAME_EXCHANGE);
    });
}

int sync_open(std::string const& path, int handle)
{
    return watched(FileCall::sync, path, [&] { return ::fsync(handle); });
}

int sync_folder(std::string const& path)
{
    FileHandle const folder(::open(path.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    if (folder.value() < 0) return -1;
    // Some file systems know no sync of a folder, and need none.
    if (sync_open(path, folder.value()) == 0 || errno == EINVAL || errno == ENOTSUP) return 0;
    return -1;
}

/// Folder and name of a path; the folder is "." where the path names none.
std::pair<std::string, std::string> split(std::string const& path)
{
    auto const slash = path.find_last_of('/');
    if (slash == std::string::npos) return {".", path};
    return {slash == 0 ? "/" : path.substr(0, slash), path.substr(slash + 1)};
}

std::string within(std::string const& folder, std::string const& name)
{
    return folder.ends_with('/') ? folder + name : folder + "/" + name;
}

/// Returns the name under which `name` is written until it is whole. It contains the process id for a person
/// who looks; the lock says whether that process still runs.
std::string beside_name(std::string const& name)
{
    static std::atomic<unsigned> number{0};
    return fmt::format(".{}.part-{}-{}", name, ::getpid(), ++number);
}

std::string older_name(std::string const& name)
{
    return "." + name + ".older";
}

/// A file, or a folder with the files in it. Best effort: what stays is removed the next time.
void remove_whole(std::string const& path)
{
    struct stat about = {};
    if (::lstat(path.c_str(), &about) != 0) return;
    if (!S_ISDIR(about.st_mode)) {
        [[maybe_unused]] int const gone = remove_one(path, 0);
        return;
    }
    std::error_code trouble;
    std::vector<std::filesystem::path> inside;
    for (auto const& entry : std::filesystem::directory_iterator(path, trouble))
        inside.push_back(entry.path());
    for (auto const& entry : inside) {
        if (remove_one(entry.string(), 0) != 0) return;
    }
    [[maybe_unused]] int const gone = remove_one(path, AT_REMOVEDIR);
}

/// Nobody who lives works on it, and it is ours to remove. Where the file system has no locks nobody can say
/// so, and it stays.
bool is_left_over(std::string const& path)
{
    FileHandle const found(::open(path.c_str(), O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC));
    struct stat about = {};
    return found.value() >= 0 && ::fstat(found.value(), &about) == 0 && about.st_uid == ::geteuid() &&
           (S_ISDIR(about.st_mode) || S_ISREG(about.st_mode)) &&
           ::flock(found.value(), LOCK_EX | LOCK_NB) == 0;
}

/// What killed processes left beside `name`: their unfinished work is removed; an older folder that was moved
/// aside goes back where nothing took its place.
void set_right(std::string const& folder, std::string const& name)
{
    std::string const older = within(folder, older_name(name));
    std::string const place = within(folder, name);
    if (::access(older.c_str(), F_OK) == 0 && is_left_over(older)) {
        if (::access(place.c_str(), F_OK) == 0)
            remove_whole(older);
        else [[maybe_unused]]
            int const back = move(older, place);
    }
    std::error_code trouble;
    std::vector<std::string> found;
    std::string const opening = "." + name + ".part-";
    for (auto const& entry : std::filesystem::directory_iterator(folder, trouble)) {
        if (entry.path().filename().string().starts_with(opening)) found.push_back(entry.path().string());
    }
    for (std::string const& path : found) {
        if (is_left_over(path)) remove_whole(path);
    }
}

/// Locked, and still what its name says: another process may have taken it for left over before it was
/// locked.
bool is_locked_in_place(int handle, std::string const& path)
{
    if (::flock(handle, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK) return false;
    struct stat open = {};
    struct stat named = {};
    return ::fstat(handle, &open) == 0 && ::lstat(path.c_str(), &named) == 0 && open.st_ino == named.st_ino &&
           open.st_dev == named.st_dev;
}

std::string real_path(std::string const& path)
{
    std::unique_ptr<char, void (*)(void*)> const real(::realpath(path.c_str(), nullptr), &std::free);
    return real ? real.get() : "";
}

/// A folder that is there: whether another may be put in its place.
Outcome require_movable(std::string const& given, std::string const& real, struct stat const& about)
{
    if (!S_ISDIR(about.st_mode))
        return Error{Errc::invalid_input, fmt::format("{}: this is a file; name a folder", given)};
    std::string const here = real_path(".");
    if (here == real || here.starts_with(within(real, "")))
        return Error{
            Errc::invalid_input,
            fmt::format("{}: this is the folder that you work in, or one above it; a whole new folder "
                        "takes the place of what is named. Name a folder in it, such as {}",
                        given, within(given, "package"))};
    struct stat parent = {};
    if (::stat(split(real).first.c_str(), &parent) == 0 && parent.st_dev != about.st_dev)
        return Error{Errc::invalid_input,
                     fmt::format("{}: a disk is mounted here; a whole new folder takes the place of what is "
                                 "named. Name a folder on that disk, such as {}",
                                 given, within(given, "package"))};
    return {};
}

/// The place without links on its way, its parents made.
Result<std::string> place_of(std::string given)
{
    while (given.size() > 1 && given.back() == '/') given.pop_back();
    struct stat about = {};
    if (::stat(given.c_str(), &about) == 0) {
        std::string real = real_path(given);
        if (real.empty()) return cannot(given, "look at this folder", errno);
        TRY(require_movable(given, real, about));
        return real;
    }
    int const number = errno;
    if (::lstat(given.c_str(), &about) == 0)
        return Error{
            Errc::invalid_input,
            fmt::format("{}: this link leads nowhere; remove it, or make the folder it leads to", given)};
    if (number != ENOENT) return cannot(given, "write to this folder", number);
    auto const [folder, name] = split(given);
    if (name.empty() || name == "." || name == "..")
        return Error{Errc::invalid_input, fmt::format("\"{}\" names no folder to write", given)};
    TRY(make_folder(folder));
    std::string const real = real_path(folder);
    if (real.empty()) return cannot(folder, "look at this folder", errno);
    return within(real, name);
}

} // namespace

void watch_files(FileWatch watch)
{
    file_watch.store(watch);
}

FileHandle::FileHandle(FileHandle&& other) noexcept
    : value_(std::exchange(other.value_, -1))
{
}

FileHandle& FileHandle::operator=(FileHandle&& other) noexcept
{
    std::swap(value_, other.value_);
    return *this;
}

FileHandle::~FileHandle()
{
    if (value_ >= 0) ::close(value_);
}

NewFile::NewFile(std::string shown, FileHandle handle)
    : shown_(std::move(shown))
    , handle_(std::move(handle))
{
}

Result<NewFile> NewFile::make(std::string const& path, std::string shown)
{
    FileHandle handle(watched(FileCall::make, path, [&] {
        return ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
    }));
    if (handle.value() < 0) return cannot(shown, "make this file", errno);
    // The lock shows other programs that the writer still runs.
    [[maybe_unused]] int const locked = ::flock(handle.value(), LOCK_EX | LOCK_NB);
    return NewFile(std::move(shown), std::move(handle));
}

bool NewFile::write(std::string_view bytes)
{
    constexpr std::size_t piece = 1 << 18;
    if (failure_) return false;
    waiting_.append(bytes);
    if (waiting_.size() < piece) return true;
    auto flushed = flush();
    if (!flushed) failure_ = std::move(flushed).error();
    return !failure_;
}

Outcome NewFile::flush()
{
    std::string_view rest = waiting_;
    while (!rest.empty()) {
        auto const written = watched(FileCall::write, shown_, [&] {
            return static_cast<long>(::write(handle_.value(), rest.data(), rest.size()));
        });
        if (written < 0 && errno == EINTR) continue;
        if (written < 0) return cannot(shown_, "write", errno);
        rest.remove_prefix(static_cast<std::size_t>(written));
    }
    waiting_.clear();
    return {};
}

Outcome NewFile::finish()
{
    if (!failure_) {
        if (auto flushed = flush(); !flushed) failure_ = std::move(flushed).error();
    }
    if (!failure_ && sync_open(shown_, handle_.value()) != 0)
        failure_ = cannot(shown_, "bring it onto the disk", errno);
    if (failure_) return *failure_;
    return {};
}

Outcome sync_file(std::string const& path, std::string const& shown)
{
    FileHandle const file(::open(path.c_str(), O_RDONLY | O_NOFOLLOW | O_CLOEXEC));
    if (file.value() < 0) return cannot(shown, "open", errno);
    if (sync_open(path, file.value()) != 0) return cannot(shown, "bring it onto the disk", errno);
    return {};
}

Outcome write_file(std::string const& path, std::string_view bytes)
{
    auto const [folder, name] = split(path);
    struct stat about = {};
    if (name.empty() || (::stat(path.c_str(), &about) == 0 && S_ISDIR(about.st_mode)))
        return Error{Errc::invalid_input, fmt::format("{}: this is a folder; name a file", path)};
    if (about.st_mode != 0 && !S_ISREG(about.st_mode))
        return Error{Errc::invalid_input,
                     fmt::format("{}: this is a device or pipe, and would be replaced; name a file", path)};
    set_right(folder, name);
    std::string const beside = within(folder, beside_name(name));
    TRY_ASSIGN(auto file, NewFile::make(beside, path));
    file.write(bytes);
    Outcome outcome = file.finish();
    if (outcome && move(beside, path) != 0) outcome = cannot(path, "move it into place", errno);
    if (!outcome) {
        remove_whole(beside);
        return outcome;
    }
    if (sync_folder(folder) != 0) return cannot(folder, "bring it onto the disk", errno);
    return {};
}

Outcome make_folder(std::string const& path)
{
    struct stat about = {};
    if (::stat(path.c_str(), &about) == 0) {
        if (S_ISDIR(about.st_mode)) return {};
        return cannot(path, "make this folder", ENOTDIR);
    }
    std::string shorter = path;
    while (shorter.size() > 1 && shorter.back() == '/') shorter.pop_back();
    std::string const folder = split(shorter).first;
    if (folder != shorter) TRY(make_folder(folder));
    if (make_one_folder(shorter) != 0) {
        int const number = errno;
        bool const there = number == EEXIST && ::stat(path.c_str(), &about) == 0 && S_ISDIR(about.st_mode);
        return there ? Outcome{} : cannot(path, "make this folder", number);
    }
    if (sync_folder(folder) != 0) return cannot(folder, "bring it onto the disk", errno);
    return {};
}

Result<FolderBeside> FolderBeside::make(std::string const& place, MayReplace may_replace)
{
    FolderBeside made;
    made.given_ = place;
    made.may_replace_ = std::move(may_replace);
    TRY_ASSIGN(made.place_, place_of(place));
    auto const [folder, name] = split(made.place_);
    set_right(folder, name);
    if (::access(made.place_.c_str(), F_OK) == 0) TRY(made.may_replace_(made.place_));
    constexpr int tries = 100;
    for (int i = 0; i < tries; ++i) {
        std::string beside = within(folder, beside_name(name));
        if (make_one_folder(beside) != 0) {
            if (errno == EEXIST) continue;
            int const number = errno;
            return Error{
                Errc::environment,
                fmt::format("{}: cannot be written: it is made beside its place, and in {} no folder can "
                            "be made: {}{}",
                            place, folder, std::strerror(number), remedy_of(number))};
        }
        made.lock_ = FileHandle(::open(beside.c_str(), O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC));
        if (made.lock_.value() >= 0 && is_locked_in_place(made.lock_.value(), beside)) {
            made.beside_ = std::move(beside);
            return made;
        }
    }
    return Error{Errc::environment,
                 fmt::format("{}: cannot be written: other programs work on the same folder", place)};
}

FolderBeside::~FolderBeside()
{
    if (!beside_.empty()) remove_whole(beside_);
}

Outcome FolderBeside::exchange_in_two_steps()
{
    auto const [folder, name] = split(place_);
    std::string const older = within(folder, older_name(name));
    if (move(place_, older) != 0) return cannot(given_, "move the older one aside", errno);
    if (move(beside_, place_) == 0) {
        // From here on it is what the exchange would have left; where this fails the next run removes it.
        [[maybe_unused]] int const moved = move(older, beside_);
        return {};
    }
    int const number = errno;
    if (move(older, place_) == 0) return cannot(given_, "move it into place", number);
    return Error{
        Errc::environment,
        fmt::format("{}: cannot move it into place: {}. The older one is whole in {}; the next run puts "
                    "it back",
                    given_, std::strerror(number), older)};
}

Outcome FolderBeside::take_the_place(bool over_another)
{
    if (!over_another) {
        if (move(beside_, place_) == 0) return {};
        return cannot(given_, "move it into place", errno);
    }
    if (swap_names(beside_, place_) == 0) return {};
    // Not every file system can, nor every kernel.
    if (errno == EINVAL || errno == ENOSYS || errno == EOPNOTSUPP) return exchange_in_two_steps();
    return cannot(given_, "put it in the place of the older one", errno);
}

Outcome FolderBeside::put_in_place()
{
    auto const [folder, name] = split(place_);
    if (sync_open(beside_, lock_.value()) != 0 && errno != EINVAL && errno != ENOTSUP)
        return cannot(given_, "bring it onto the disk", errno);
    struct stat older = {};
    bool const over_another = ::lstat(place_.c_str(), &older) == 0;
    if (over_another) {
        TRY(may_replace_(place_));
        // Who may look into it stays as it was.
        [[maybe_unused]] int const same = ::fchmod(lock_.value(), older.st_mode & 07777);
    }
    TRY(take_the_place(over_another));
    if (sync_folder(folder) != 0) {
        int const number = errno;
        // Until the new name is on the disk the older folder must stay whole.
        if (over_another && swap_names(beside_, place_) != 0) beside_.clear();
        return cannot(given_, "bring it onto the disk", number);
    }
    if (over_another) remove_whole(beside_);
    beside_.clear();
    return {};
}

} // namespace guidepin::job
