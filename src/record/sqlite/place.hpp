// SPDX-License-Identifier: Apache-2.0
// Which files a connection has open, known by device and inode: the job file, its write-ahead log ("-wal")
// and the log's index ("-shm"). Somebody may remove or replace them while Guidepin works; what is written
// then is lost, or spoils the file that came in their place. Verified by: tests/store/record/place.cpp.
#pragma once

#include "base/result.hpp"

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>

namespace guidepin::record::sqlite {

struct FileIdentity
{
    std::uint64_t device = 0, inode = 0;
    friend bool operator==(FileIdentity const&, FileIdentity const&) = default;
};

/// Of the regular file at `path`; nothing where there is none.
std::optional<FileIdentity> identity_of(std::string const& path);

class Place
{
  public:
    Place() = default;
    /// The file at `path`, before SQLite opens it. Errors: refused, where it has two names (a hard link, a
    /// single file that is mounted elsewhere) and another program has it open by the other one: SQLite would
    /// keep a log for each name, and lose one of them.
    static Result<Place> of(std::string const& path);
    /// Remembers the file at `path` as it is now.
    explicit Place(std::string path);
    Place(Place&&) noexcept;
    Place& operator=(Place&&) noexcept;
    ~Place();

    /// How large the log beside the file was when this was made, before SQLite made one; nothing without a
    /// log.
    std::optional<std::uint64_t> log_bytes() const { return log_bytes_; }
    /// Names this file in this folder: a copy, and a file that was moved or renamed, has another mark.
    std::string mark() const;
    /// Remembers the size and the time of the file as they are now, where `version` (SQLite's data version)
    /// shows that nobody else changed it meanwhile.
    void remember_content(std::function<std::int64_t()> const& version);
    void forget_content() { content_.reset(); }
    bool knows_content() const { return content_.has_value(); }
    /// The log was empty and nobody changed the job through SQLite since remember_content(), so the file has
    /// to be the same. Errors: environment, where something wrote over it.
    Outcome not_overwritten(std::function<std::int64_t()> const& version);

    /// Whether the path names the remembered files still. The log and its index are remembered when they are
    /// first seen; while a connection is open, nobody who keeps SQLite's locks removes them. Errors:
    /// environment, which says what happened and what to do.
    Outcome still_there();

  private:
    Outcome not_open_by_another_name() const;
    void forget();
    Outcome require(std::size_t which);

    /// In this order: the job file, its log, the log's index.
    std::array<std::optional<FileIdentity>, 3> known_;
    std::string path_;
    std::string own_path_; ///< without symbolic links: SQLite keeps the log beside it
    struct Content
    {
        std::int64_t bytes = 0, seconds = 0, nanoseconds = 0;
        std::int64_t version = 0;
    };
    std::optional<Content> content_;
    std::int64_t largest_ = 0; ///< bytes of the file, as it was seen
    std::optional<std::uint64_t> log_bytes_;
};

} // namespace guidepin::record::sqlite
