// SPDX-License-Identifier: Apache-2.0
// The audit's look at time: the order of records and readings, and whether hands can be that fast.
#include "base/text.hpp"
#include "job/handover/audit_looks.hpp"
#include "job/sheet/locale.hpp"
#include "record/kind.hpp"

#include <algorithm>
#include <limits>
#include <map>

#include <fmt/format.h>

namespace guidepin::job::detail {

namespace {

using verdict::ReadingColumns;

/// A station's clock and an instrument's may differ by this much without a finding.
constexpr std::int64_t clock_tolerance_ms = 15 * 60 * 1000;

std::string moment_text(Looking const& looking, std::int64_t ms)
{
    return date_time({ms, 0}, looking.state.settings);
}

/// Names the pair of instruments behind a reference: by its meter if the job knows it, else by the reference.
std::string instrument_of(JobState const& state, std::uint32_t reference)
{
    if (reference == verdict::Dictionary::missing) return {};
    verdict::ReferenceId const name = state.readings.references.id(reference);
    auto const found = state.reference_index.find(name);
    if (found == state.reference_index.end()) return fmt::format("under {}", name);
    std::string const& meter = state.references[found->second].kit.meter;
    return meter.empty() ? fmt::format("under {}", name) : meter;
}

/// When each link was recorded for the first time.
std::map<std::string, std::int64_t> first_tests(JobState const& state)
{
    std::map<std::string, std::int64_t> tested;
    for (TestEntry const& test : state.tests) {
        auto const [place, is_new] = tested.try_emplace(test.link, test.recorded.ms);
        if (!is_new) place->second = std::min(place->second, test.recorded.ms);
    }
    return tested;
}

/// Bodies of records of one kind, by time.
using Bodies = std::vector<std::pair<Instant, std::string>>;

/// Walks all records of all stations in their order: adds a finding if a clock goes back, and collects the
/// bodies of schedules and promises.
Outcome walk_records(Looking const& looking, Bodies& schedules, Bodies& promises)
{
    std::map<std::string, Instant> last; // station -> time of its last record
    record::RecordQuery all;
    all.order = record::RecordQuery::Order::chain;
    TRY(looking.store.visit(all, [&](record::RecordView const& record) -> Outcome {
        auto const [place, is_new] = last.try_emplace(std::string(record.station), record.time);
        if (!is_new) {
            if (record.time.ms + clock_tolerance_ms < place->second.ms)
                add(looking.report, "clock-went-back", std::string(record.station), {},
                    fmt::format("station {}: record {} is of {}, the one before it of {}", record.station,
                                record.sequence, date_time(record.time, looking.state.settings),
                                date_time(place->second, looking.state.settings)));
            place->second = record.time;
        }
        if (record.kind == record::kind::schedule)
            schedules.emplace_back(record.time, std::string(record.body));
        if (record.kind == record::kind::setting)
            promises.emplace_back(record.time, std::string(record.body));
        return {};
    }));
    auto const by_time = [](auto const& a, auto const& b) { return a.first < b.first; };
    std::stable_sort(schedules.begin(), schedules.end(), by_time);
    std::stable_sort(promises.begin(), promises.end(), by_time);
    return {};
}

/// Finds links whose line in the schedule changed after their first test.
Outcome look_at_schedule_changes(Looking const& looking, Bodies const& schedules,
                                 std::map<std::string, std::int64_t> const& tested)
{
    std::map<std::string, std::string> lines; // link -> its line of the schedule
    std::vector<std::string> moved;
    Instant moved_at;
    for (auto const& [time, body] : schedules) {
        TRY_ASSIGN(auto const links, links_of_schedule(body));
        for (plant::LinkSpec const& link : links) {
            TRY_ASSIGN(std::string line, schedule_body({link}, SourceFile{}));
            std::string& kept = lines[link.id];
            auto const first = tested.find(link.id);
            if (!kept.empty() && kept != line && first != tested.end() && first->second < time.ms) {
                moved.push_back(link.id);
                moved_at = time;
            }
            kept = std::move(line);
        }
    }
    if (!moved.empty())
        add(looking.report, "schedule-changed-after-test", "", moved,
            fmt::format("the schedule of {} changed {} after {} measured: {}",
                        date_time(moved_at, looking.state.settings), links_text(moved.size()),
                        moved.size() == 1 ? "it was" : "they were", some_of(moved)));
    return {};
}

/// Finds changes of what the job promises that came after links were measured.
void look_at_promises(Looking const& looking, Bodies const& promises,
                      std::map<std::string, std::int64_t> const& tested)
{
    std::string promise;
    for (auto const& [time, body] : promises) {
        bool const changed = !promise.empty() && promise != body;
        promise = body;
        if (!changed) continue;
        std::size_t before = 0;
        for (auto const& [link, first] : tested) before += first < time.ms;
        if (before > 0)
            add(looking.report, "rules-changed-after-test", instant_text(time), {},
                fmt::format("what the job promises was changed at {}, when {} had been measured",
                            date_time(time, looking.state.settings), links_text(before)));
    }
}

/// Finds readings without a time, and readings that claim to be younger than their record.
void look_at_times_of_readings(Looking const& looking)
{
    JobState const& state = looking.state;
    std::set<std::uint32_t> timeless, early;
    std::int64_t most = 0;
    for (TestEntry const& test : state.tests) {
        for (std::uint32_t row = test.first_row; row < test.first_row + test.rows; ++row) {
            std::int64_t const taken = state.readings.taken_ms[row];
            if (taken == ReadingColumns::no_time) {
                timeless.insert(state.readings.link[row]);
            } else if (taken > test.recorded.ms + clock_tolerance_ms) {
                early.insert(state.readings.link[row]);
                most = std::max(most, taken - test.recorded.ms);
            }
        }
    }
    if (!timeless.empty()) {
        auto const names = looking.names_of(timeless);
        add(looking.report, "no-time", "", names,
            fmt::format("readings of {} have no time: {}", links_text(names.size()), some_of(names)));
    }
    if (!early.empty()) {
        auto const names = looking.names_of(early);
        add(looking.report, "taken-after-recorded", "", names,
            fmt::format("readings of {} say that they were taken up to {} h after they were recorded: {}",
                        links_text(names.size()), fixed_text(static_cast<double>(most) / 3'600'000, 1),
                        some_of(names)));
    }
}

} // namespace

Outcome look_at_order(Looking const& looking)
{
    Bodies schedules, promises;
    TRY(walk_records(looking, schedules, promises));
    auto const tested = first_tests(looking.state);
    TRY(look_at_schedule_changes(looking, schedules, tested));
    look_at_promises(looking, promises, tested);
    look_at_times_of_readings(looking);
    return {};
}

std::optional<Haste> haste_of(std::vector<Visit> const& visits, double most_per_hour,
                              std::int64_t resolution_ms)
{
    std::optional<Haste> worst;
    std::set<std::uint32_t> links;
    for (std::size_t first = 0; first < visits.size(); ++first) {
        for (std::size_t changes = 3; changes <= 6 && first + changes < visits.size(); ++changes) {
            // Rounding may have taken up to its whole step off the time between.
            std::int64_t const span =
                visits[first + changes].first_ms - visits[first].first_ms + resolution_ms;
            double const per_hour = static_cast<double>(changes) * 3'600'000 /
                                    static_cast<double>(std::max<std::int64_t>(span, 1));
            if (per_hour <= most_per_hour) continue;
            for (std::size_t i = first; i <= first + changes; ++i) links.insert(visits[i].link);
            if (!worst || per_hour > worst->per_hour) worst = Haste{first, changes, per_hour, {}};
        }
    }
    if (worst) worst->links.assign(links.begin(), links.end());
    return worst;
}

void look_at_timing(Looking const& looking)
{
    JobState const& state = looking.state;
    facts::Fact const* const most = state.tables.fact("readiness.links-per-hour.most");
    if (!most) return;
    std::map<std::string, std::vector<std::pair<std::int64_t, std::uint32_t>>> by_instrument;
    for (std::uint32_t row = 0; row < state.readings.size(); ++row) {
        if (state.readings.taken_ms[row] == ReadingColumns::no_time) continue;
        std::string const instrument = instrument_of(state, state.readings.reference[row]);
        if (!instrument.empty())
            by_instrument[instrument].emplace_back(state.readings.taken_ms[row], state.readings.link[row]);
    }
    for (auto& [instrument, times] : by_instrument) {
        std::sort(times.begin(), times.end());
        std::int64_t resolution = 60'000;
        for (auto const& [time, link] : times) {
            while (resolution > 1 && time % resolution != 0) resolution = resolution == 60'000 ? 1000 : 1;
        }
        std::vector<Visit> visits;
        for (auto const& [time, link] : times) {
            if (visits.empty() || visits.back().link != link) visits.push_back({time, link});
        }
        auto const haste = haste_of(visits, most->value, resolution);
        if (!haste) continue;
        auto const names = looking.names_of({haste->links.begin(), haste->links.end()});
        std::int64_t const from = visits[haste->first].first_ms,
                           to = visits[haste->first + haste->changes].first_ms;
        std::string const pace =
            to == from ? fmt::format("{} links have the same time {}", haste->changes + 1,
                                     moment_text(looking, from))
                       : fmt::format("{} links follow each other within {} s from {} on", haste->changes + 1,
                                     fixed_text(static_cast<double>(to - from) / 1000, 0),
                                     moment_text(looking, from));
        add(looking.report, "too-fast", instrument, names,
            fmt::format("{}: {}; hands can mate {} links an hour at most (common practice); {} concerned: {}",
                        instrument, pace, number_text(most->value),
                        names.size() == 1 ? "1 link is" : links_text(names.size()) + " are", some_of(names)));
    }
}

} // namespace guidepin::job::detail
