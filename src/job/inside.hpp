// SPDX-License-Identifier: Apache-2.0
// What an open job holds: shared by the files that make up Job, seen by nobody else.
#pragma once

#include "base/text.hpp"
#include "job/derived_change.hpp"
#include "job/job.hpp"
#include "record/canonical_json.hpp"
#include "record/digest.hpp"
#include "record/kind.hpp"

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

struct Job::Inside
{
    Actor actor;
    std::unique_ptr<record::StationKey> key;
    std::unique_ptr<record::Store> store;
    JobState state;
    std::optional<Assessment> assessment;
    std::string version; ///< digest of the chains that `state` was read from
    /// The derived rows as this job wrote them last, and what they were computed from.
    std::optional<record::DerivedTables> written;
    std::string written_basis;

    void tell(char const* what, std::size_t done, std::size_t total) const
    {
        if (actor.progress) actor.progress(actor.progress_context, Progress{what, done, total});
    }

    record::Draft draft(std::string_view record_kind, std::string body) const
    {
        return {std::string(record_kind), now_of(actor), actor.name, std::move(body)};
    }

    Result<intake::ReadOptions> read_options(std::string const& name, FileOptions const& options,
                                             intake::ColumnMap& map) const
    {
        intake::ReadOptions read;
        read.name = base_name(name);
        read.separator = options.separator;
        read.decimal = options.decimal;
        read.keep_good_rows = options.keep_good_rows;
        read.default_offset_minutes = state.settings.zone_offset_minutes;
        read.threads = actor.threads;
        if (!options.column_map_text.empty()) {
            TRY_ASSIGN(map, intake::read_column_map(options.column_map_text, options.column_map_name));
            read.map = &map;
        }
        return read;
    }

    static SourceFile source_of(std::string const& name, std::string_view bytes, char const* layout)
    {
        return {base_name(name), bytes.size(), record::sha256(bytes).hex(), layout};
    }

    /// Derived tables of the state as it is now, into the same change as the records.
    Outcome store_derived(record::Write& write)
    {
        TRY_ASSIGN(assessment, assess(state, actor.threads));
        tell("Writing verdicts", 0, 1);
        TRY_ASSIGN(std::string const basis, write.chains_digest());
        version = basis;
        record::DerivedTables tables = derive(state, *assessment);
        TRY_ASSIGN(std::string const stands, store->derived_basis());
        // Another program may have written them meanwhile: then nothing is known of what stands there.
        std::optional<record::DerivedTables> change;
        if (written && !stands.empty() && stands == written_basis) change = derived_change(*written, tables);
        written.reset();
        TRY(change ? write.upsert_derived(*change, basis) : write.replace_derived(tables, basis));
        written = std::move(tables);
        written_basis = basis;
        return {};
    }

    /// What the records say now: after a change that failed half-way, memory may not run ahead of the file.
    Outcome reload()
    {
        assessment.reset();
        written.reset();
        TRY_ASSIGN(version, record::chains_digest(*store));
        TRY_ASSIGN(state, load_state(*store));
        return {};
    }

    /// Records, then what follows from them, in one transaction.
    Outcome keep(std::vector<record::Draft> const& drafts)
    {
        TRY_ASSIGN(auto const write, store->begin_write());
        TRY(write->append(drafts));
        TRY(store_derived(*write));
        return write->commit();
    }
};

} // namespace guidepin::job
