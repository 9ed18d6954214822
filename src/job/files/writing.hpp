// SPDX-License-Identifier: Apache-2.0
// Files and folders that are there whole and on the disk, or not at all: each is written beside its place
// under a name of its own, synced, and moved into place. A program that is killed leaves what was there
// before. Verified by: tests/store/job/package.cpp (each call fails once, or from then on; kill -9 before
// each call).
#pragma once

#include "base/result.hpp"

#include <functional>
#include <optional>
#include <string>
#include <string_view>

namespace guidepin::job {

/// A call to the operating system by which files are written.
enum class FileCall { make, write, sync, rename, exchange, remove, make_folder };

/// Sees each such call before it is made. Returns 0 to allow it, or the errno with which it must fail. For
/// tests; the program sets none.
using FileWatch = int (*)(FileCall call, std::string const& path);
void watch_files(FileWatch watch);

/// An open file or folder, closed with its object.
class FileHandle
{
  public:
    FileHandle() = default;
    explicit FileHandle(int value)
        : value_(value)
    {
    }
    FileHandle(FileHandle&& other) noexcept;
    FileHandle& operator=(FileHandle&& other) noexcept;
    FileHandle(FileHandle const&) = delete;
    FileHandle& operator=(FileHandle const&) = delete;
    ~FileHandle();
    int value() const { return value_; }

  private:
    int value_ = -1;
};

/// A file that was not there before, written piece by piece; never through a link. Errors: environment.
class NewFile
{
  public:
    /// `shown` is what errors call it.
    static Result<NewFile> make(std::string const& path, std::string shown);

    /// False after a failure, which failure() says and finish() returns.
    bool write(std::string_view bytes);
    std::optional<Error> const& failure() const { return failure_; }
    /// All bytes are on the disk when this returns without an error; its name is when its folder is synced.
    Outcome finish();

  private:
    NewFile(std::string shown, FileHandle handle);
    Outcome flush();

    std::string shown_;
    FileHandle handle_;
    std::string waiting_; ///< not yet given to the operating system
    std::optional<Error> failure_;
};

/// Syncs what another library wrote at `path`, which errors call `shown`.
Outcome sync_file(std::string const& path, std::string const& shown);

/// A folder that is filled beside its place and put there as a whole, in one step, over what is there.
class FolderBeside
{
  public:
    /// Says whether the folder that is at the place may go; called at the start and just before it goes.
    using MayReplace = std::function<Outcome(std::string const& folder)>;

    /// Missing parents are made; what dead processes left beside the place is removed. A link to a folder is
    /// followed. Errors: invalid_input (a file; the working folder or one above it; where a disk is mounted),
    /// environment, and those of `may_replace`.
    static Result<FolderBeside> make(std::string const& place, MayReplace may_replace);
    FolderBeside(FolderBeside&&) noexcept = default;
    FolderBeside& operator=(FolderBeside&&) = delete;
    /// Removes what is beside: the unfinished folder, or the older one after put_in_place().
    ~FolderBeside();

    /// Where to write: a folder that nobody else looks into.
    std::string const& path() const { return beside_; }
    /// Files in it have to be synced already. Where the file system cannot exchange two names, the older
    /// folder is moved aside first; what is killed between the two moves is set right by the next make().
    Outcome put_in_place();

  private:
    FolderBeside() = default;
    Outcome take_the_place(bool over_another);
    Outcome exchange_in_two_steps();

    std::string given_, place_, beside_;
    MayReplace may_replace_;
    FileHandle lock_; ///< of the folder: says to others that its process lives
};

} // namespace guidepin::job
