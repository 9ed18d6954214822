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
    /// Of the first `assessed` tests of `state`; nothing else may have changed since it was made.
    std::optional<Assessment> assessment;
    std::size_t assessed = 0;
    std::string version; ///< digest of the chains that `state` was read from
    /// Ends of these chains; what comes after them is news. Of no use where their digest is not `version`.
    std::vector<record::Head> ends;
    std::uint64_t generation = 0; ///< counts how often all was read anew
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

    /// The assessment of the state as it is now, with as little work as that takes. True when only the links
    /// that are added to `moved` were judged again.
    Result<bool> judge(std::vector<std::uint32_t>& moved)
    {
        bool again = assessment && assessed == state.tests.size();
        if (assessment && !again) {
            TRY_ASSIGN(again, assess_again(state, *assessment, assessed, moved, actor.threads));
        }
        if (!again) {
            assessment.reset();
            TRY_ASSIGN(assessment, assess(state, actor.threads));
        }
        assessed = state.tests.size();
        return again;
    }

    /// Derived tables of the state as it is now, into the same change as the records.
    Outcome store_derived(record::Write& write)
    {
        std::size_t const tests_before = assessed;
        std::vector<std::uint32_t> moved;
        TRY_ASSIGN(bool const again, judge(moved));
        tell("Writing verdicts", 0, 1);
        TRY_ASSIGN(std::string const basis, write.chains_digest());
        version = basis;
        TRY_ASSIGN(std::string const stands, store->derived_basis());
        std::optional<record::DerivedTables> before = std::move(written);
        written.reset();
        // Another program may have written them meanwhile: then nothing is known of what stands there.
        bool const known = before && !stands.empty() && stands == written_basis;
        std::optional<record::DerivedTables> change;
        std::optional<record::DerivedTables> tables;
        if (known && again && before->tests.size() == tests_before) {
            change = derive_again(state, *assessment, tests_before, moved, *before);
            if (change) tables = std::move(before);
        }
        if (!tables) {
            tables = derive(state, *assessment);
            if (known && !again) change = derived_change(*before, *tables);
        }
        TRY(change ? write.upsert_derived(*change, basis) : write.replace_derived(*tables, basis));
        written = std::move(tables);
        written_basis = basis;
        return {};
    }

    /// What the records say now: after a change that failed half-way, memory may not run ahead of the file.
    Outcome reload()
    {
        assessment.reset();
        written.reset();
        ++generation;
        TRY_ASSIGN(ends, store->latest_heads());
        version = record::chains_digest(ends);
        TRY_ASSIGN(state, load_state(*store));
        return {};
    }

    /// Records, then what follows from them, in one transaction. The state has what they say already; unless
    /// that is tests alone, all is judged anew.
    Outcome keep(std::vector<record::Draft> const& drafts)
    {
        assessment.reset();
        TRY_ASSIGN(auto const write, store->begin_write());
        TRY(write->append(drafts));
        TRY(store_derived(*write));
        return write->commit();
    }
};

} // namespace guidepin::job
