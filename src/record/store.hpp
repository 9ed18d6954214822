// SPDX-License-Identifier: Apache-2.0
// Where records stand: one interface, a store for each kind of place, one suite of tests for all of them.
// Verified by: tests/store/record/*.cpp.
#pragma once

#include "base/result.hpp"
#include "record/derived.hpp"
#include "record/record.hpp"

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::record {

/// Who writes: goes into each record.
struct Maker
{
    std::string program; ///< "0.1.0"
    std::string facts;   ///< version of the fact tables, or their hash
};

/// Records in the order of the chains (station, then sequence), or of time (then station, then sequence).
struct RecordQuery
{
    enum class Order { chain, time };

    std::optional<std::string> station;
    std::vector<std::string> kinds; ///< any when empty
    std::int64_t from_sequence = 1; ///< in each chain
    std::int64_t to_sequence = INT64_MAX;
    Order order = Order::time;
};

using RecordVisitor = std::function<Outcome(RecordView const&)>;

/// What append() added: the sequences first..last of the station's chain, in the order of the drafts.
struct Appended
{
    std::string station;
    std::int64_t first = 0;
    std::int64_t last = -1;
};

/// One change of a store, all or nothing. While it lives, no other program writes to the store. What has not
/// been committed when it goes is undone.
class Write
{
  public:
    virtual ~Write() = default;

    /// Adds records to this station's chain; the first of a chain is preceded by its station-key record. May
    /// be called many times, so that a large import need not stand in memory whole. Errors: invalid_input
    /// (body not canonical JSON), internal (kind not registered), refused (no key), environment, damaged.
    virtual Result<Appended> append(std::span<Draft const> drafts) = 0;

    /// Records of other stations as they are, with the heads that sign them; record/merge.hpp checks and
    /// calls this.
    virtual Outcome adopt(std::span<Record const> records, std::span<Head const> heads) = 0;

    virtual Outcome set_property(std::string_view name, std::string_view value) = 0;

    /// All derived rows at once; `basis` names the state of the records that they were computed from
    /// (chains_digest()). This and what follows keep the digest of the rows (Store::derived_digest()) true.
    virtual Outcome replace_derived(DerivedTables const& tables, std::string_view basis) = 0;
    /// These rows, by key; others stay. A test's, finding's or count's row is replaced as a whole.
    virtual Outcome upsert_derived(DerivedTables const& tables, std::string_view basis) = 0;
    /// Digest of all chains as this change will leave them: the basis of derived rows stored in the same
    /// change.
    virtual Result<std::string> chains_digest() = 0;

    /// Checks what is about to be kept, signs the head of the chain, and keeps all of it.
    virtual Outcome commit() = 0;
};

/// While it lives, all that the store reads is of one moment, whatever other programs write.
class Snapshot
{
  public:
    virtual ~Snapshot() = default;
};

/// One store object belongs to one thread; several may be open on one place.
class Store
{
  public:
    virtual ~Store() = default;

    /// A sentence-ready name: the path of the file.
    virtual std::string const& name() const = 0;
    /// The station that append() writes for; empty when the store was opened without a key.
    virtual std::string const& station() const = 0;

    /// Waits for another writer as long as the store was opened to wait, then returns busy and says who it
    /// is. Errors also: environment when the place is not what it was (see still_there()).
    virtual Result<std::unique_ptr<Write>> begin_write() = 0;

    /// Within a change of this store, or within another snapshot, it is part of that.
    virtual Result<std::unique_ptr<Snapshot>> snapshot() const = 0;

    /// Whether the place is the one that was opened: the file was not removed, moved or replaced, nor its
    /// log. Errors: environment, which says what happened and what to do.
    virtual Outcome still_there() const = 0;
    /// What whoever relies on this store should know of how it was found, in a sentence; mostly empty.
    virtual std::string caution() const = 0;
    /// Another number whenever somebody else has changed the store.
    virtual Result<std::int64_t> changes_of_others() const = 0;

    /// Each matching record once. The visitor's error ends the visit and is returned. No record is not an
    /// error.
    virtual Outcome visit(RecordQuery const& query, RecordVisitor const& visitor) const = 0;
    /// No such record is not an error.
    virtual Result<std::optional<Record>> find(std::string_view station, std::int64_t sequence) const = 0;
    virtual Result<std::optional<Record>> find(Digest const& hash) const = 0;
    virtual Result<std::int64_t> count(std::string_view kind = {}) const = 0;

    /// All signed heads by station and sequence.
    virtual Result<std::vector<Head>> heads() const = 0;
    /// The newest head of each station.
    virtual Result<std::vector<Head>> latest_heads() const = 0;

    virtual Result<std::optional<std::string>> property(std::string_view name) const = 0;

    // Derived tables.
    /// What the derived rows were computed from; empty when there are none.
    virtual Result<std::string> derived_basis() const = 0;
    /// Digest of the derived rows as this program's kind wrote them last, without reading them; empty when
    /// there are none.
    virtual Result<std::string> derived_digest() const = 0;
    /// Everything that is derived, each table in the order of its key.
    virtual Result<DerivedTables> derived_tables() const = 0;

    /// Whether the container itself (pages, indexes) is whole; damaged with what it found.
    virtual Outcome verify_container() const = 0;
};

/// One change with these records alone.
Result<Appended> append(Store& store, std::span<Draft const> drafts);

/// Digest of the newest head of each station: equal when, and only when, two stores hold the same records.
Result<std::string> chains_digest(Store const& store);
std::string chains_digest(std::vector<Head> const& latest_heads);

// Places.

struct CreateOptions
{
    Maker maker;
    std::string job_id;           ///< names the job in all its files; merging asks for the same
    std::string creating_options; ///< canonical JSON, kept as a property for whoever wonders later
    /// The records that the job begins with, signed with `key`: they are there as soon as the job is.
    std::vector<Draft> opening;
    StationKey const* key = nullptr;
};

struct OpenOptions
{
    enum class Access { read, write };

    Maker maker;
    Access access = Access::read;
    StationKey const* key = nullptr; ///< signs; outlives the store. Needed by append(), not by reading.
    int wait_ms = 5000;              ///< for another program's write
};

/// A new job file with its opening records. Whole or not at all.
/// Errors: conflict (the file exists), environment (folder missing, read-only, full), refused (no key).
Outcome create_sqlite(std::string const& path, CreateOptions const& options);

/// Errors: not_found, invalid_input (not a job file), newer_version, environment, busy, damaged.
Result<std::unique_ptr<Store>> open_sqlite(std::string const& path, OpenOptions const& options);

/// In memory, for tests and for work that need not last.
std::unique_ptr<Store> make_memory_store(CreateOptions const& create, OpenOptions const& open);

} // namespace guidepin::record
