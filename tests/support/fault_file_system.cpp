// SPDX-License-Identifier: Apache-2.0
#include "fault_file_system.hpp"

#include <algorithm>
#include <cassert>
#include <list>
#include <random>
#include <string_view>
#include <vector>

#include <fcntl.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <unistd.h>

namespace guidepin::support {

namespace {

struct Change
{
    bool truncates = false;
    std::int64_t at = 0; ///< where it writes, or the new size
    std::string bytes;
};

/// What is known of one file: of its inode, whatever its name is by now.
struct Shadow
{
    int handle = -1; ///< kept open, for closing one would drop the process's locks on the file
    dev_t device = 0;
    ino_t inode = 0;
    std::string path; ///< under which SQLite opened it
    bool is_main = false;
    bool name_synced = false; ///< a file that was made and never synced may be gone after a power cut
    bool deleted = false, deletion_synced = false;
    std::string synced;
    std::vector<Change> changes;
};

struct State
{
    FaultPlan plan;
    int counted = 0;
    bool struck = false, no_power = false;
    std::list<Shadow> shadows;
    sqlite3_vfs* ordinary = nullptr;
    sqlite3_vfs own = {};
};
State state;

struct File
{
    sqlite3_file base;
    Shadow* shadow; ///< none for temporary files
};

sqlite3_file* real(sqlite3_file* file)
{
    return reinterpret_cast<sqlite3_file*>(reinterpret_cast<File*>(file) + 1);
}
Shadow* shadow_of(sqlite3_file* file)
{
    return reinterpret_cast<File*>(file)->shadow;
}

enum class Verdict { go_on, fails, full, torn, lost };

/// Counts the operation and says what becomes of it.
Verdict judge(FileOperation kind)
{
    if (state.no_power) return Verdict::fails;
    FaultPlan const& plan = state.plan;
    if (plan.at == 0 || (plan.kind && *plan.kind != kind)) return Verdict::go_on;
    ++state.counted;
    if (state.counted < plan.at || (state.counted > plan.at && !plan.lasting)) return Verdict::go_on;
    state.struck = true;
    switch (plan.how) {
    case FaultPlan::How::full:
        return Verdict::full;
    case FaultPlan::How::torn:
        return Verdict::torn;
    case FaultPlan::How::lost:
        state.no_power = true;
        return Verdict::lost;
    case FaultPlan::How::crash:
        state.no_power = true;
        return Verdict::fails;
    case FaultPlan::How::error:
        break;
    }
    return Verdict::fails;
}

void apply(std::string& content, Change const& change)
{
    auto const at = static_cast<std::size_t>(change.at);
    if (change.truncates) {
        content.resize(at);
        return;
    }
    if (content.size() < at + change.bytes.size()) content.resize(at + change.bytes.size());
    content.replace(at, change.bytes.size(), change.bytes);
}

int close_file(sqlite3_file* file)
{
    return real(file)->pMethods == nullptr ? SQLITE_OK : real(file)->pMethods->xClose(real(file));
}
int read(sqlite3_file* file, void* bytes, int size, sqlite3_int64 at)
{
    if (state.no_power) return SQLITE_IOERR_READ;
    return real(file)->pMethods->xRead(real(file), bytes, size, at);
}
int write(sqlite3_file* file, void const* bytes, int size, sqlite3_int64 at)
{
    Shadow* const shadow = shadow_of(file);
    Verdict const verdict = shadow ? judge(FileOperation::write) : Verdict::go_on;
    if (verdict == Verdict::fails) return SQLITE_IOERR_WRITE;
    if (verdict == Verdict::full) return SQLITE_FULL;
    if (verdict == Verdict::lost) return SQLITE_OK;
    int const part = verdict == Verdict::torn ? size / 2 : size;
    int const code = real(file)->pMethods->xWrite(real(file), bytes, part, at);
    if (code == SQLITE_OK && shadow)
        shadow->changes.push_back(
            {false, at, std::string(static_cast<char const*>(bytes), static_cast<std::size_t>(part))});
    return verdict == Verdict::torn ? SQLITE_IOERR_WRITE : code;
}
int truncate(sqlite3_file* file, sqlite3_int64 size)
{
    Shadow* const shadow = shadow_of(file);
    if (shadow) {
        Verdict const verdict = judge(FileOperation::truncate);
        if (verdict == Verdict::lost) return SQLITE_OK;
        if (verdict != Verdict::go_on) return SQLITE_IOERR_TRUNCATE;
    }
    int const code = real(file)->pMethods->xTruncate(real(file), size);
    if (code == SQLITE_OK && shadow) shadow->changes.push_back({true, size, {}});
    return code;
}
int sync(sqlite3_file* file, int flags)
{
    Shadow* const shadow = shadow_of(file);
    if (!shadow) return real(file)->pMethods->xSync(real(file), flags);
    if (judge(FileOperation::sync) != Verdict::go_on) {
        // As Linux does it: what could not be written is forgotten, and a later sync says nothing of it.
        if (!state.no_power) shadow->changes.clear();
        return SQLITE_IOERR_FSYNC;
    }
    for (Change const& change : shadow->changes) apply(shadow->synced, change);
    shadow->changes.clear();
    shadow->name_synced = true;
    return SQLITE_OK;
}
int file_size(sqlite3_file* file, sqlite3_int64* size)
{
    if (state.no_power) return SQLITE_IOERR_FSTAT;
    return real(file)->pMethods->xFileSize(real(file), size);
}
int lock(sqlite3_file* file, int level)
{
    if (state.no_power) return SQLITE_IOERR_LOCK;
    return real(file)->pMethods->xLock(real(file), level);
}
int unlock(sqlite3_file* file, int level)
{
    return real(file)->pMethods->xUnlock(real(file), level);
}
int check_reserved_lock(sqlite3_file* file, int* answer)
{
    if (state.no_power) return SQLITE_IOERR_CHECKRESERVEDLOCK;
    return real(file)->pMethods->xCheckReservedLock(real(file), answer);
}
int control(sqlite3_file* file, int operation, void* argument)
{
    return real(file)->pMethods->xFileControl(real(file), operation, argument);
}
int sector_size(sqlite3_file* file)
{
    return real(file)->pMethods->xSectorSize(real(file));
}
int characteristics(sqlite3_file* file)
{
    return real(file)->pMethods->xDeviceCharacteristics(real(file));
}
int map_shared(sqlite3_file* file, int page, int size, int extend, void volatile** memory)
{
    if (judge(FileOperation::map) != Verdict::go_on) return SQLITE_IOERR_SHMMAP;
    return real(file)->pMethods->xShmMap(real(file), page, size, extend, memory);
}
int lock_shared(sqlite3_file* file, int offset, int count, int flags)
{
    if (state.no_power && (flags & SQLITE_SHM_LOCK) != 0) return SQLITE_IOERR_SHMLOCK;
    return real(file)->pMethods->xShmLock(real(file), offset, count, flags);
}
void barrier(sqlite3_file* file)
{
    real(file)->pMethods->xShmBarrier(real(file));
}
int unmap_shared(sqlite3_file* file, int remove)
{
    return real(file)->pMethods->xShmUnmap(real(file), state.no_power ? 0 : remove);
}

// Version 2: shared memory, but no mapped file, so that every byte comes by here.
sqlite3_io_methods const methods{2,
                                 &close_file,
                                 &read,
                                 &write,
                                 &truncate,
                                 &sync,
                                 &file_size,
                                 &lock,
                                 &unlock,
                                 &check_reserved_lock,
                                 &control,
                                 &sector_size,
                                 &characteristics,
                                 &map_shared,
                                 &lock_shared,
                                 &barrier,
                                 &unmap_shared,
                                 nullptr,
                                 nullptr};

Shadow* known_shadow(char const* path)
{
    struct stat about = {};
    if (::stat(path, &about) != 0) return nullptr;
    for (Shadow& shadow : state.shadows) {
        if (shadow.device == about.st_dev && shadow.inode == about.st_ino) return &shadow;
    }
    return nullptr;
}

std::string content_of(int handle)
{
    struct stat about = {};
    std::string bytes;
    if (::fstat(handle, &about) != 0) return bytes;
    bytes.resize(static_cast<std::size_t>(about.st_size));
    std::size_t done = 0;
    while (done < bytes.size()) {
        ssize_t const got =
            ::pread(handle, bytes.data() + done, bytes.size() - done, static_cast<off_t>(done));
        if (got <= 0) break;
        done += static_cast<std::size_t>(got);
    }
    return bytes;
}

Shadow* new_shadow(char const* path, bool was_there, bool is_main)
{
    Shadow shadow;
    shadow.handle = ::open(path, O_RDWR | O_CLOEXEC);
    if (shadow.handle < 0) shadow.handle = ::open(path, O_RDONLY | O_CLOEXEC);
    struct stat about = {};
    if (shadow.handle < 0 || ::fstat(shadow.handle, &about) != 0) return nullptr;
    shadow.device = about.st_dev;
    shadow.inode = about.st_ino;
    shadow.path = path;
    shadow.is_main = is_main;
    shadow.name_synced = was_there;
    shadow.synced = content_of(shadow.handle);
    state.shadows.push_back(std::move(shadow));
    return &state.shadows.back();
}

int open_file(sqlite3_vfs*, char const* name, sqlite3_file* file, int flags, int* given)
{
    auto* const own = reinterpret_cast<File*>(file);
    own->base.pMethods = nullptr;
    own->shadow = nullptr;
    real(file)->pMethods = nullptr;
    bool const is_main = (flags & SQLITE_OPEN_MAIN_DB) != 0;
    bool const followed =
        name != nullptr && (is_main || (flags & (SQLITE_OPEN_MAIN_JOURNAL | SQLITE_OPEN_WAL)) != 0);
    if (followed && judge(FileOperation::open) != Verdict::go_on) return SQLITE_CANTOPEN;
    bool const was_there = followed && ::access(name, F_OK) == 0;
    int const code = state.ordinary->xOpen(state.ordinary, name, real(file), flags, given);
    if (code != SQLITE_OK) return code;
    if (followed) {
        own->shadow = known_shadow(name);
        if (!own->shadow) own->shadow = new_shadow(name, was_there, is_main);
    }
    own->base.pMethods = &methods;
    return SQLITE_OK;
}
int delete_file(sqlite3_vfs*, char const* name, int sync_the_folder)
{
    Verdict const verdict = judge(FileOperation::remove);
    if (verdict == Verdict::lost) return SQLITE_OK;
    if (verdict != Verdict::go_on) return SQLITE_IOERR_DELETE;
    Shadow* const shadow = known_shadow(name);
    int const code = state.ordinary->xDelete(state.ordinary, name, 0);
    if (code == SQLITE_OK && shadow) {
        shadow->deleted = true;
        shadow->deletion_synced = sync_the_folder != 0;
        shadow->path = name;
    }
    return code;
}
int access_file(sqlite3_vfs*, char const* name, int flags, int* answer)
{
    if (state.no_power) return SQLITE_IOERR_ACCESS;
    return state.ordinary->xAccess(state.ordinary, name, flags, answer);
}

void forget()
{
    for (Shadow const& shadow : state.shadows) ::close(shadow.handle);
    state.shadows.clear();
}

/// The change as far as it survives; sectors of a write one by one.
void apply_some(std::string& content, Change const& change, std::mt19937_64& dice)
{
    constexpr std::size_t sector = 512;
    auto const throw_of = dice() % 3;
    if (throw_of == 0) return;
    if (throw_of == 1 || change.truncates) {
        apply(content, change);
        return;
    }
    std::size_t done = 0;
    while (done < change.bytes.size()) {
        auto const at = static_cast<std::size_t>(change.at) + done;
        std::size_t const size = std::min(sector - at % sector, change.bytes.size() - done);
        if (dice() % 2 == 0)
            apply(content, {false, static_cast<std::int64_t>(at), change.bytes.substr(done, size)});
        done += size;
    }
}

void put(int handle, std::string_view content)
{
    [[maybe_unused]] bool good = ::ftruncate(handle, static_cast<off_t>(content.size())) == 0;
    std::size_t done = 0;
    while (done < content.size()) {
        ssize_t const put =
            ::pwrite(handle, content.data() + done, content.size() - done, static_cast<off_t>(done));
        if (put <= 0) {
            good = false;
            break;
        }
        done += static_cast<std::size_t>(put);
    }
    assert(good);
}

bool is_at_its_path(Shadow const& shadow)
{
    struct stat about = {};
    return ::stat(shadow.path.c_str(), &about) == 0 && about.st_dev == shadow.device &&
           about.st_ino == shadow.inode;
}

void settle_one(Shadow const& shadow, Survival survival, std::mt19937_64& dice)
{
    if (shadow.is_main) ::unlink((shadow.path + "-shm").c_str());
    std::string content = shadow.synced;
    for (Change const& change : shadow.changes) {
        if (survival == Survival::everything) apply(content, change);
        if (survival == Survival::some) apply_some(content, change, dice);
    }
    bool const coin = survival == Survival::everything || (survival == Survival::some && dice() % 2 == 0);
    if (shadow.deleted) {
        if (shadow.deletion_synced || coin || !shadow.name_synced || ::access(shadow.path.c_str(), F_OK) == 0)
            return;
        int const again = ::open(shadow.path.c_str(), O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
        put(again, content);
        ::close(again);
        return;
    }
    put(shadow.handle, content);
    if (!shadow.name_synced && !coin && is_at_its_path(shadow)) ::unlink(shadow.path.c_str());
}

} // namespace

char const* name_of(FileOperation operation)
{
    switch (operation) {
    case FileOperation::write:
        return "write";
    case FileOperation::sync:
        return "sync";
    case FileOperation::truncate:
        return "truncate";
    case FileOperation::open:
        return "open";
    case FileOperation::remove:
        return "remove";
    case FileOperation::map:
        return "map";
    }
    return "";
}

void FaultFileSystem::install()
{
    if (!state.ordinary) {
        state.ordinary = sqlite3_vfs_find(nullptr);
        state.own = *state.ordinary;
        state.own.zName = "faults";
        state.own.pNext = nullptr;
        state.own.szOsFile = static_cast<int>(sizeof(File)) + state.ordinary->szOsFile;
        state.own.xOpen = &open_file;
        state.own.xDelete = &delete_file;
        state.own.xAccess = &access_file;
    }
    sqlite3_vfs_register(&state.own, 1);
}

void FaultFileSystem::uninstall()
{
    forget();
    sqlite3_vfs_register(state.ordinary, 1);
    sqlite3_vfs_unregister(&state.own);
}

void FaultFileSystem::begin(FaultPlan const& plan)
{
    forget();
    state.plan = plan;
    state.counted = 0;
    state.struck = state.no_power = false;
}

int FaultFileSystem::counted()
{
    return state.counted;
}
bool FaultFileSystem::struck()
{
    return state.struck;
}
void FaultFileSystem::cut_power()
{
    state.no_power = true;
}

void FaultFileSystem::settle(Survival survival, std::uint64_t seed)
{
    std::mt19937_64 dice(seed);
    for (Shadow const& shadow : state.shadows) settle_one(shadow, survival, dice);
    begin({});
}

} // namespace guidepin::support
