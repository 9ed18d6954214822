// SPDX-License-Identifier: Apache-2.0
// How a job changes, and how it follows what other programs change. Two programs may have one job open:
// a program decides while no other can write, from what the file contains at that moment, not from what it
// read earlier.
#include "job/open/inside.hpp"
#include "job/state/record_kinds.hpp"
#include "record/derived_digest.hpp"

#include <algorithm>

namespace guidepin::job {

namespace {

constexpr std::size_t batch = 2000;

/// Kinds of a later program can change anything.
Reach reach_of(std::string_view record_kind)
{
    RecordKind const* const row = find_record_kind(record_kind);
    return row ? row->reach : Reach::all;
}

/// Which records are new.
struct News
{
    std::string station;
    std::int64_t first = 1, last = 0; ///< in its chain
};

/// Takes new records into the state where that gives what reading everything from the start gives; else
/// false.
Result<bool> take_news(record::Store const& store, News const& news, JobState& state)
{
    record::RecordQuery query;
    query.station = news.station;
    query.from_sequence = news.first;
    query.to_sequence = news.last;
    query.order = record::RecordQuery::Order::chain;
    bool fits = true;
    RecordOrder newest = state.newest;
    TRY(store.visit(query, [&](record::RecordView const& view) -> Outcome {
        // A load from the start reads the records in order of time.
        RecordOrder const here = order_of(view);
        fits = fits && reach_of(view.kind) != Reach::all && newest < here &&
               !(view.kind == kind::source_file && is_withdrawn(state, view.station, view.sequence));
        newest = std::max(newest, here);
        return {};
    }));
    if (!fits) return false;
    TRY(store.visit(query, [&](record::RecordView const& view) -> Outcome {
        take_record(state, view);
        return {};
    }));
    return true;
}

/// What came after `ends`; nothing where several stations added something: their records would have to be put
/// in order.
std::optional<News> news_between(std::vector<record::Head> const& ends, std::vector<record::Head> const& now)
{
    std::optional<News> news;
    for (record::Head const& head : now) {
        auto const known = std::find_if(ends.begin(), ends.end(),
                                        [&](record::Head const& end) { return end.station == head.station; });
        std::int64_t const last = known == ends.end() ? 0 : known->sequence;
        if (last == head.sequence) continue;
        if (news || last > head.sequence) return std::nullopt;
        news = News{head.station, last + 1, head.sequence};
    }
    return news;
}

} // namespace

Outcome Adding::add(std::string_view record_kind, std::string body)
{
    aside_ = aside_ && reach_of(record_kind) == Reach::aside;
    waiting_.push_back({std::string(record_kind), now_of(actor_), actor_.name, std::move(body)});
    return waiting_.size() >= batch ? flush() : Outcome{};
}

Outcome Adding::flush()
{
    if (waiting_.empty()) return {};
    TRY_ASSIGN(record::Appended const added, write_.append(waiting_));
    if (!any()) first_ = added.first;
    last_ = added.last;
    waiting_.clear();
    return {};
}

Outcome Job::Inside::change(Decide const& decide)
{
    TRY_ASSIGN(auto write, store->begin_write());
    TRY(catch_up());
    Adding adding(*write, actor);
    TRY(decide(adding));
    TRY(adding.flush());
    if (!adding.any()) return {};
    auto kept = keep(*write, adding);
    if (kept) return {};
    write.reset(); // undone in the file; memory follows
    TRY(reload());
    return kept;
}

Outcome Job::Inside::keep(record::Write& write, Adding const& adding)
{
    TRY_ASSIGN(std::string const basis_before, store->derived_basis());
    TRY_ASSIGN(std::string const basis, write.chains_digest());
    bool const rows_are_current = basis_before == version;
    if (adding.is_aside()) {
        TRY(take_added(adding));
        // Rows that were behind already stay behind: the next program that opens the job computes them.
        if (rows_are_current) TRY(write.upsert_derived({}, basis));
    } else {
        // What the file has is known where its digest is that of the rows in memory.
        bool known = false;
        if (rows_are_current && assessment && tables) {
            TRY(follow());
            TRY_ASSIGN(std::string const ours, rows_digest());
            TRY_ASSIGN(std::string const theirs, store->derived_digest());
            known = ours == theirs;
        }
        TRY_ASSIGN(bool const took, take_added(adding));
        static_cast<void>(took);
        TRY_ASSIGN(auto const moved_rows, follow());
        report("Writing verdicts", 0, 1);
        TRY(known && moved_rows ? write.upsert_derived(*moved_rows, basis)
                                : write.replace_derived(*tables, basis));
        TRY_ASSIGN(tables_digest, store->derived_digest());
    }
    TRY(write.commit());
    version = basis;
    TRY_ASSIGN(ends, store->latest_heads());
    return {};
}

Result<bool> Job::Inside::take_added(Adding const& adding)
{
    // The station's first record, its key, comes before what was added first.
    News const news{store->station(), adding.first(), adding.last()};
    auto const taken = take_news(*store, news, state);
    if (taken && *taken) return true;
    TRY(reload());
    return false;
}

Outcome Job::Inside::reload()
{
    assessment.reset();
    all_moved = true;
    ++generation;
    version.clear(); // until all of it is there
    TRY_ASSIGN(auto const snapshot, store->snapshot());
    TRY_ASSIGN(ends, store->latest_heads());
    TRY_ASSIGN(state, load_state(*store));
    version = record::chains_digest(ends);
    return {};
}

Result<bool> Job::Inside::catch_up()
{
    TRY_ASSIGN(auto const snapshot, store->snapshot());
    TRY_ASSIGN(auto now, store->latest_heads());
    std::string const current = record::chains_digest(now);
    if (current == version) return false;
    bool const can_follow = !version.empty() && record::chains_digest(ends) == version;
    version.clear(); // a failure on the way leaves nothing half-known
    if (auto const news = can_follow ? news_between(ends, now) : std::nullopt) {
        TRY_ASSIGN(bool const taken, take_news(*store, *news, state));
        if (taken) {
            version = current;
            ends = std::move(now);
            return true;
        }
    }
    TRY(reload());
    return true;
}

Outcome Job::Inside::judge()
{
    bool again = assessment && assessed == state.tests.size();
    if (assessment && !again) {
        TRY_ASSIGN(again, assess_again(state, *assessment, assessed, moved, actor.threads));
    }
    if (!again) {
        assessment.reset();
        TRY_ASSIGN(assessment, assess(state, actor.threads));
        all_moved = true;
    }
    assessed = state.tests.size();
    return {};
}

Result<std::optional<record::DerivedTables>> Job::Inside::follow()
{
    TRY(judge());
    std::size_t const tests = std::exchange(derived_tests, state.tests.size());
    if (tables && !all_moved && moved.empty() && tests == derived_tests)
        return std::optional(record::DerivedTables{});
    tables_digest.clear();
    std::sort(moved.begin(), moved.end());
    moved.erase(std::unique(moved.begin(), moved.end()), moved.end());
    std::vector<std::uint32_t> const behind = std::exchange(moved, {});
    bool const few_moved = tables && !std::exchange(all_moved, false);
    if (few_moved) {
        if (auto change = derive_again(state, *assessment, tests, behind, *tables)) return change;
        tables.reset();
    }
    std::optional<record::DerivedTables> const before = std::move(tables);
    tables = derive(state, *assessment);
    return before ? derived_change(*before, *tables) : std::nullopt;
}

Result<std::string> Job::Inside::rows_digest()
{
    if (tables_digest.empty()) {
        TRY_ASSIGN(auto const digest, record::DerivedDigest::of(*tables));
        tables_digest = digest.hex();
    }
    return tables_digest;
}

Outcome Job::Inside::replace_rows(record::Write& write)
{
    TRY(follow());
    report("Writing verdicts", 0, 1);
    TRY_ASSIGN(std::string const basis, write.chains_digest());
    TRY(write.replace_derived(*tables, basis));
    TRY_ASSIGN(tables_digest, store->derived_digest());
    return {};
}

Outcome Job::Inside::compare_rows()
{
    TRY_ASSIGN(std::int64_t const changes, store->changes_of_others());
    // Who never asked for rows has none to compare with, and shows none.
    if (changes == looked_at_changes || !tables) return {};
    TRY(follow());
    TRY_ASSIGN(std::string const ours, rows_digest());
    {
        TRY_ASSIGN(auto const snapshot, store->snapshot());
        TRY_ASSIGN(std::string const basis, store->derived_basis());
        TRY_ASSIGN(auto const rows, store->derived_tables());
        TRY_ASSIGN(auto const theirs, record::DerivedDigest::of(rows));
        looked_at_changes = changes;
        if (basis == version && theirs.hex() == ours) return {};
        // Another program that is newer or older may see it otherwise: the two must not write in turns for
        // ever.
        if (!key || mended_version == version) return {};
        if (basis == version)
            rows_caution = fmt::format(
                "The table of verdicts in {} had been changed by something else than Guidepin. It "
                "was computed from the records again; no page ever showed what was in it",
                store->name());
    }
    TRY_ASSIGN(auto const write, store->begin_write());
    TRY(catch_up());
    mended_version = version;
    TRY(replace_rows(*write));
    return write->commit();
}

Result<intake::ReadOptions> Job::Inside::read_options(std::string const& name, FileOptions const& options,
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

Result<bool> Job::refresh()
{
    Inside& inside = *inside_;
    TRY(inside.store->still_there());
    TRY_ASSIGN(bool const moved, inside.catch_up());
    TRY(inside.compare_rows());
    return moved;
}

} // namespace guidepin::job
