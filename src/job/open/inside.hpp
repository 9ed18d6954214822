// SPDX-License-Identifier: Apache-2.0
// What an open job contains, and the only way in which it changes. For the files of this room alone. Verified
// by: tests/store/job/races.cpp (two programs at once), tests/unit/job/change.cpp.
#pragma once

#include "base/text.hpp"
#include "intake/readings.hpp"
#include "intake/reference.hpp"
#include "job/assess/derived_change.hpp"
#include "job/open/job.hpp"
#include "job/open/typed.hpp"
#include "record/canonical_json.hpp"
#include "record/digest.hpp"
#include "record/kind.hpp"

#include <algorithm>
#include <functional>
#include <optional>

#include <fmt/format.h>

namespace guidepin::job {

namespace kind = record::kind;

inline Instant now_of(Actor const& actor)
{
    return {actor.clock->now_ms(), actor.offset_minutes};
}

inline std::string base_name(std::string const& path)
{
    auto const slash = path.find_last_of('/');
    return slash == std::string::npos ? path : path.substr(slash + 1);
}

/// Returns whether an entry with this key came before. Entries of the command line have no key; any other key
/// must be one that a form can have, or it is refused.
template <class Entry>
Result<bool> kept_before(std::vector<Entry> const& entries, std::string const& key)
{
    if (key.empty()) return false;
    TRY(require_typed_key(key));
    return std::any_of(entries.begin(), entries.end(), [&](Entry const& entry) { return entry.key == key; });
}

/// A file to import, and how to read it.
struct BroughtFile
{
    std::string const& name;
    std::string_view bytes;
    FileOptions const& options;
};

inline SourceFile source_file(std::string const& name, std::string_view bytes, char const* layout)
{
    return {base_name(name), bytes.size(), record::sha256(bytes).hex(), layout};
}

/// Readings to be added, from a file or typed, and where they come from.
struct BroughtReadings
{
    SourceFile source;
    intake::Intake<verdict::ReadingColumns> file;
    bool keep_good_rows = false;
    std::size_t listed_at_most = intake::ReadOptions{}.listed_at_most;
};

/// How to read the rows of a cord check.
struct CheckOptions
{
    verdict::ReferenceId reference; ///< for rows that name none
    bool instrument_positions = false;
};

/// Takes the records of one change, in batches, so that a large import need not be in memory whole.
class Adding
{
  public:
    Adding(record::Write& write, Actor const& actor)
        : write_(write)
        , actor_(actor)
    {
    }

    Outcome add(std::string_view record_kind, std::string body);
    Outcome flush();

    bool any() const { return last_ >= first_; }
    std::int64_t first() const { return first_; } ///< in the station's chain
    std::int64_t last() const { return last_; }
    /// No verdict depends on any of them.
    bool is_aside() const { return aside_; }

  private:
    record::Write& write_;
    Actor const& actor_;
    std::vector<record::Draft> waiting_;
    std::int64_t first_ = 0, last_ = -1;
    bool aside_ = true;
};

/// Looks at the state, which equals the file and cannot change meanwhile, and adds records or refuses.
/// Adding nothing is no error: the change was then made already.
using Decide = std::function<Outcome(Adding&)>;

struct Job::Inside
{
    Actor actor;
    std::unique_ptr<record::StationKey> key;
    std::unique_ptr<record::Store> store;
    JobState state;
    /// Of the first `assessed` tests of `state`; nothing else has changed since it was made.
    std::optional<Assessment> assessment;
    std::size_t assessed = 0;
    /// The derived rows of the first `derived_tests` tests; links in `moved`, or all of them, are behind.
    std::optional<record::DerivedTables> tables;
    std::size_t derived_tests = 0;
    std::vector<std::uint32_t> moved;
    bool all_moved = true;
    std::string tables_digest; ///< of `tables`; empty: not computed yet
    std::string version;       ///< digest of the chains that `state` was read from; empty: it has to be read
    /// The ends of the chains that were read; records after them are new.
    std::vector<record::Head> ends;
    std::uint64_t generation = 0;        ///< how often everything was read from the start
    std::int64_t looked_at_changes = -1; ///< the store's changes_of_others() when its rows were compared last
    std::string mended_version;          ///< version at which rows that others had altered were written again
    std::string rows_caution;

    void report(char const* what, std::size_t done, std::size_t total) const
    {
        if (actor.progress) actor.progress(actor.progress_context, Progress{what, done, total});
    }

    Result<intake::ReadOptions> read_options(std::string const& name, FileOptions const& options,
                                             intake::ColumnMap& map) const;

    /// Makes every change of a job. Waits for its turn to write, takes in what others wrote, lets `decide`
    /// decide on that, adds the records, updates everything that follows from them, and commits. If a step
    /// fails, the file is unchanged.
    Outcome change(Decide const& decide);

    /// Reads everything from the records again: after a change that failed half-way, memory must not run
    /// ahead of the file.
    Outcome reload();
    /// Takes in what other programs added. Returns whether there was anything.
    Result<bool> catch_up();
    /// Brings the assessment up to date, and recomputes only what can have changed.
    Outcome judge();
    /// Brings the derived rows up to date. Returns the rows that changed, or nothing if any row may have
    /// changed.
    Result<std::optional<record::DerivedTables>> follow();
    /// Returns the digest of the derived rows in memory.
    Result<std::string> rows_digest();
    /// Compares the rows in the file with those in memory if another program wrote to the file, and writes
    /// again those that differ.
    Outcome compare_rows();
    /// Writes all derived rows of the present state into the change.
    Outcome replace_rows(record::Write& write);

    /// Adds readings. `look` fills in what is brought once nobody else can write, and returns false if there
    /// is nothing to do.
    Result<ReadingsOutcome> bring_readings(ReadingsOptions const& how,
                                           std::function<Result<bool>(BroughtReadings&)> const& look);
    /// Adds references or cord checks, once they are columns.
    Outcome add_references(Adding& adding, SourceFile const& source, intake::ReferencePowers const& powers,
                           ReferenceOptions const& how, ReferenceOutcome& outcome);
    Outcome add_checks(Adding& adding, SourceFile const& source, intake::CordChecks const& checks,
                       CheckOptions const& how, CheckOutcome& outcome);

    // Decisions on what people bring in. Each adds its records, or refuses.
    Outcome decide_schedule(Adding& adding, BroughtFile const& brought, ScheduleOutcome& outcome);
    /// Returns all rows of a file of references or cord checks; one bad row refuses the file.
    template <class Rows>
    Result<Rows> whole_file(BroughtFile const& brought,
                            Result<intake::Intake<Rows>> (*read_file)(std::string_view,
                                                                      intake::ReadOptions const&)) const;
    Outcome decide_reference(Adding& adding, BroughtFile const& brought, ReferenceOptions const& how,
                             ReferenceOutcome& outcome);
    Outcome decide_check(Adding& adding, BroughtFile const& brought, CheckOptions const& how,
                         CheckOutcome& outcome);
    Outcome decide_kit(Adding& adding, KitFile const& file, KitOutcome& outcome);

  private:
    Outcome keep(record::Write& write, Adding const& adding);
    Result<bool> take_added(Adding const& adding);
};

} // namespace guidepin::job
