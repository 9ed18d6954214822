// SPDX-License-Identifier: Apache-2.0
// A file system under SQLite in which the n-th operation fails, or the power goes at it. It passes everything
// on to the ordinary one and remembers what was not yet synced, so that settle() can leave on the disk what a
// power cut may leave: all that was synced, and of the rest nothing, everything, or some of it, torn at
// sectors of 512 bytes. Syncs are not passed on: only this file says what is on the "disk".
#pragma once

#include <cstdint>
#include <optional>
#include <string>

namespace guidepin::support {

enum class FileOperation { write, sync, truncate, open, remove, map };
char const* name_of(FileOperation operation);

struct FaultPlan
{
    enum class How {
        error, ///< nothing is done, and the operation says so
        full,  ///< the same, with the message of a full disk
        torn,  ///< the first half of a write is done, then it fails
        lost,  ///< a write says that all is well and does nothing; then the power goes
        crash, ///< the power goes before it
    };
    std::optional<FileOperation> kind; ///< which operations are counted; none: all of them
    int at = 0;                        ///< the first is 1; 0: no fault
    How how = How::error;
    bool lasting = false; ///< all of this kind fail from there on
};

/// What the disk holds of what was not synced when the power went.
enum class Survival { nothing, everything, some };

class FaultFileSystem
{
  public:
    /// Makes it the default of SQLite in this process, or makes the ordinary one so again.
    static void install();
    static void uninstall();

    /// Operations are counted from here; what lies on the disk counts as synced. No database may be open.
    static void begin(FaultPlan const& plan);
    static int counted(); ///< operations of the planned kind since begin()
    static bool struck(); ///< the fault happened
    /// From now on everything fails, as if the process had ended.
    static void cut_power();
    /// Leaves on the disk what a power cut leaves there. No database may be open.
    static void settle(Survival survival, std::uint64_t seed);
};

} // namespace guidepin::support
