// SPDX-License-Identifier: Apache-2.0
#include "record/merge.hpp"

#include "record/check.hpp"

#include <map>

#include <fmt/format.h>

namespace guidepin::record {

namespace {

/// Enough records for one round of adopting; keeps a large file from standing in memory whole.
constexpr std::size_t batch_bytes = 8 << 20;

Outcome same_job(Store const& into, Store const& from)
{
    TRY_ASSIGN(auto const here, into.property("job-id"));
    TRY_ASSIGN(auto const there, from.property("job-id"));
    if (here == there) return {};
    return Error{Errc::conflict,
                 fmt::format("{} is job {}, {} is job {}: only files of one job can be merged", into.name(),
                             here.value_or("(none)"), from.name(), there.value_or("(none)"))};
}

} // namespace

Result<Merged> merge(Store& into, Store const& from)
{
    TRY(same_job(into, from));
    TRY_ASSIGN(auto const report, check(from));
    if (report.first)
        return Error{Errc::damaged,
                     fmt::format("{} cannot be merged: {}", from.name(), report.first->text())};

    TRY_ASSIGN(auto const write, into.begin_write());
    TRY_ASSIGN(auto const our_heads, into.latest_heads());
    std::map<std::string, std::int64_t, std::less<>> have;
    for (Head const& head : our_heads) have[head.station] = head.sequence;

    Merged merged;
    std::vector<Record> batch;
    std::size_t bytes = 0;
    RecordQuery all;
    all.order = RecordQuery::Order::chain;
    auto const visited = from.visit(all, [&](RecordView const& record) -> Outcome {
        auto const at = have.find(record.station);
        if (at != have.end() && record.sequence <= at->second) {
            TRY_ASSIGN(auto const ours, into.find(record.station, record.sequence));
            if (!ours || ours->hash != record.hash) {
                return Error{Errc::conflict,
                             fmt::format("Station {}, record {}: {} and {} hold different records. The "
                                         "station's key was used on two copies of "
                                         "the job; keep both files and ask who worked on which",
                                         record.station, record.sequence, into.name(), from.name())};
            }
            ++merged.present;
            return {};
        }
        ++merged.added;
        bytes += record.body.size();
        batch.push_back(Record(record));
        if (bytes < batch_bytes) return {};
        TRY(write->adopt(batch, {}));
        batch.clear();
        bytes = 0;
        return {};
    });
    TRY(visited);
    TRY_ASSIGN(auto const heads, from.heads());
    TRY(write->adopt(batch, heads));
    TRY(write->commit());
    return merged;
}

} // namespace guidepin::record
