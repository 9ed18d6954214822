// SPDX-License-Identifier: Apache-2.0
// Which files a connection has open, known by device and inode: the job file, its write-ahead log ("-wal")
// and the log's index ("-shm"). Somebody may remove or replace them while Guidepin works; what is written
// then is lost, or spoils the file that came in their place. Verified by: tests/store/record/place.cpp.
#pragma once

#include "base/result.hpp"

#include <array>
#include <cstdint>
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
    /// Remembers the file at `path` as it is now.
    explicit Place(std::string path);
    Place(Place&&) noexcept;
    Place& operator=(Place&&) noexcept;
    ~Place();

    /// How large the log beside the file was when this was made, before SQLite made one; nothing without a
    /// log.
    std::optional<std::uint64_t> log_bytes() const { return log_bytes_; }
    /// The job file's number on its disk, which a copy does not share; 0 where there is no file.
    std::uint64_t inode() const { return known_[0] ? known_[0]->inode : 0; }

    /// Whether the path names the remembered files still. The log and its index are remembered when they are
    /// first seen; while a connection is open, nobody who keeps SQLite's locks removes them. Errors:
    /// environment, which says what happened and what to do.
    Outcome still_there();

  private:
    void forget();
    Outcome require(std::size_t which);

    /// In this order: the job file, its log, the log's index.
    std::array<std::optional<FileIdentity>, 3> known_;
    std::string path_;
    std::optional<std::uint64_t> log_bytes_;
};

} // namespace guidepin::record::sqlite
