// SPDX-License-Identifier: Apache-2.0
#include "job/today.hpp"

#include "base/text.hpp"
#include "verdict/timeline.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

std::string plural(std::int64_t count, char const* one, char const* many)
{
    return fmt::format("{} {}", count, count == 1 ? one : many);
}

Result<std::optional<record::DerivedLink>> first_link(Job const& job, char const* state)
{
    record::LinkQuery query;
    query.state = state;
    query.scheduled = true;
    query.limit = 1;
    TRY_ASSIGN(record::LinkPage page, job.store().links(query));
    if (page.rows.empty()) return std::optional<record::DerivedLink>{};
    return std::optional(std::move(page.rows.front()));
}

/// When the tests of each day began and ended, by the times of their readings.
void add_times(JobState const& state, std::map<std::string, DayStanding>& days)
{
    struct Span
    {
        Instant first;
        std::int64_t last_ms = 0, tests = 0;
    };
    // By number of the day on the wall clock: its name is made once a day, not once a test.
    std::map<std::int64_t, Span> spans;
    constexpr std::int64_t day_ms = 86'400'000;
    for (TestEntry const& test : state.tests) {
        if (test.rows == 0) continue;
        Instant const at{state.readings.taken_ms[test.first_row],
                         state.readings.offset_minutes[test.first_row]};
        if (at.ms == verdict::ReadingColumns::no_time) continue;
        std::int64_t const wall = at.ms + std::int64_t{at.offset_minutes} * 60'000;
        auto const [place, is_new] =
            spans.try_emplace(wall / day_ms - (wall % day_ms < 0 ? 1 : 0), Span{at, at.ms, 0});
        Span& span = place->second;
        if (at.ms < span.first.ms) span.first = at;
        span.last_ms = std::max(span.last_ms, at.ms);
        ++span.tests;
    }
    for (auto const& [number, span] : spans) {
        std::string const day = date_text(span.first);
        DayStanding& standing = days[day];
        standing.day = day;
        standing.tests += span.tests;
        standing.hours = static_cast<double>(span.last_ms - span.first.ms) / 3'600'000;
        // n tests end n - 1 pauses between first and last.
        if (standing.tests > 1 && standing.hours > 0)
            standing.per_hour = static_cast<double>(standing.tests - 1) / standing.hours;
    }
}

Result<NextDeed> next_deed(Job const& job, Today const& today)
{
    NextDeed next;
    if (job.state().scheduled() == 0) {
        next.deed = Deed::bring_in_schedule;
        next.sentence =
            "Bring in the schedule: it says which links are promised, and so what there is to test.";
        next.button = "Bring in the schedule";
        return next;
    }
    if (today.links.left() == 0) {
        next.deed = Deed::hand_over;
        next.sentence = "Every link conforms: build the package and hand it over.";
        next.button = "Hand over";
        return next;
    }
    auto const usable = std::find_if(today.references.begin(), today.references.end(), [](auto const& r) {
        return r.condition == ReferenceCondition::in_force;
    });
    if (usable == today.references.end()) {
        if (!today.references.empty() &&
            today.references.front().condition == ReferenceCondition::wants_check) {
            next.deed = Deed::check_cords;
            next.subject = today.references.front().id;
            next.sentence =
                fmt::format("Check the cords of reference {}: until a check is accepted, readings "
                            "under it are held.",
                            next.subject);
            next.button = "Check the cords";
            return next;
        }
        next.deed = Deed::take_reference;
        next.sentence =
            today.references.empty()
                ? fmt::format("Take a reference: {} to be measured.",
                              today.links.left() == 1 ? std::string{"one link waits"}
                                                      : fmt::format("{} links wait", today.links.left()))
                : fmt::format("Take a new reference: {} {}.", today.references.front().id,
                              today.references.front().needs);
        next.button = "Take a reference";
        return next;
    }
    struct Choice
    {
        char const* state;
        Deed deed;
    };
    for (Choice const choice :
         {Choice{"open", Deed::measure_open}, Choice{"fail", Deed::settle_failure},
          Choice{"marginal-fail", Deed::settle_failure}, Choice{"held", Deed::measure_held}}) {
        TRY_ASSIGN(auto const link, first_link(job, choice.state));
        if (!link) continue;
        next.deed = choice.deed;
        next.subject = link->link;
        std::string const where =
            link->zone.empty() ? link->link : fmt::format("{} in {}", link->link, link->zone);
        if (choice.deed == Deed::measure_open) {
            next.sentence = fmt::format("Measure {} next; {} open.", where,
                                        plural(today.links.open, "link is", "links are"));
            next.button = fmt::format("Open {}", link->link);
        } else if (choice.deed == Deed::settle_failure) {
            next.sentence = fmt::format("Look at {}: it fails. {}", where, link->reason);
            next.button = fmt::format("Look at {}", link->link);
        } else {
            next.sentence = fmt::format("Measure {} again; {} held, for their reference is in doubt.", where,
                                        plural(today.links.held, "link is", "links are"));
            next.button = fmt::format("Open {}", link->link);
        }
        return next;
    }
    next.deed = Deed::hand_over;
    next.sentence =
        "Only links outside the schedule are left open: look at what is missing before handing over.";
    next.button = "Hand over";
    return next;
}

} // namespace

void StateCounts::add(std::string_view state, std::int64_t links)
{
    if (state == "pass")
        pass += links;
    else if (state == "marginal-pass")
        marginal_pass += links;
    else if (state == "marginal-fail")
        marginal_fail += links;
    else if (state == "fail")
        fail += links;
    else if (state == "held")
        held += links;
    else
        open += links;
}

char const* name_of(ReferenceCondition condition)
{
    switch (condition) {
    case ReferenceCondition::in_force:
        return "in force";
    case ReferenceCondition::wants_check:
        return "wants its cord check";
    case ReferenceCondition::check_failed:
        return "cord check failed";
    case ReferenceCondition::too_old:
        return "too old";
    case ReferenceCondition::voided:
        return "voided";
    case ReferenceCondition::refused:
        break;
    }
    return "refused";
}

ReferenceNow reference_now(JobState const& state, Assessment const& assessment, std::size_t reference,
                           Instant now)
{
    ReferenceEntry const& entry = state.references[reference];
    ReferenceNow standing;
    standing.id = entry.id;
    standing.taken = entry.taken();
    verdict::HoldKind kind = verdict::HoldKind::none;
    if (assessment.timeline) {
        std::size_t const place = assessment.timeline->find(entry.id);
        if (place != verdict::ReferenceTimeline::unknown)
            kind = assessment.timeline->hold_kind(place, now.ms);
    }
    switch (kind) {
    case verdict::HoldKind::none:
    case verdict::HoldKind::reference_doubted:
    case verdict::HoldKind::before_reference: {
        standing.condition = ReferenceCondition::in_force;
        double const age = static_cast<double>(now.ms - standing.taken.ms) / 60'000;
        standing.minutes_left = state.settings.reference_age_hours * 60 - age;
        standing.needs = "may be measured under";
        break;
    }
    case verdict::HoldKind::no_accepted_check:
        standing.condition = ReferenceCondition::wants_check;
        standing.needs = "wants its cord check before anything under it counts";
        break;
    case verdict::HoldKind::check_failed:
    case verdict::HoldKind::later_check_failed:
        standing.condition = ReferenceCondition::check_failed;
        standing.needs = "failed its last cord check";
        break;
    case verdict::HoldKind::reference_too_old:
        standing.condition = ReferenceCondition::too_old;
        standing.needs = fmt::format("is older than {} h", number_text(state.settings.reference_age_hours));
        break;
    case verdict::HoldKind::reference_voided:
        standing.condition = ReferenceCondition::voided;
        standing.needs = "was voided by something that happened";
        break;
    case verdict::HoldKind::reference_refused:
    case verdict::HoldKind::reference_unknown:
        standing.condition = ReferenceCondition::refused;
        standing.needs = "was refused";
        break;
    }
    return standing;
}

Result<StateCounts> counts_of(Job& job)
{
    StateCounts counts;
    TRY_ASSIGN(auto const whole, job.store().progress("job"));
    for (auto const& row : whole) counts.add(row.state, row.links);
    return counts;
}

Result<Today> today_of(Job& job, Instant now)
{
    Today today;
    TRY_ASSIGN(today.links, counts_of(job));
    std::map<std::string, StateCounts> zones;
    TRY_ASSIGN(auto const by_zone, job.store().progress("zone"));
    for (auto const& row : by_zone) zones[row.name].add(row.state, row.links);
    for (auto const& [name, counts] : zones) today.zones.push_back({name, counts});
    std::map<std::string, DayStanding> days;
    TRY_ASSIGN(auto const by_day, job.store().progress("day"));
    for (auto const& row : by_day) {
        days[row.name].day = row.name;
        days[row.name].links.add(row.state, row.links);
    }
    add_times(job.state(), days);
    std::int64_t tested = 0;
    for (auto const& [day, standing] : days) {
        tested += standing.links.total();
        today.days.push_back(standing);
    }
    if (!today.days.empty() && tested > 0) {
        today.links_per_day = static_cast<double>(tested) / static_cast<double>(today.days.size());
        today.days_left = static_cast<double>(today.links.left()) / *today.links_per_day;
        if (today.links.left() > 0) {
            double const left = std::ceil(*today.days_left);
            today.finish = fmt::format("At {} links a day, about {} more of testing.",
                                       fixed_text(*today.links_per_day, 0),
                                       plural(static_cast<std::int64_t>(left), "day", "days"));
        } else {
            today.finish = "Nothing is left to test.";
        }
    }
    TRY_ASSIGN(Assessment const* const assessment, job.assessment());
    for (std::size_t i = 0; i < job.state().references.size(); ++i)
        today.references.push_back(reference_now(job.state(), *assessment, i, now));
    std::stable_sort(today.references.begin(), today.references.end(),
                     [](auto const& a, auto const& b) { return a.taken > b.taken; });
    TRY_ASSIGN(today.next, next_deed(job, today));
    return today;
}

} // namespace guidepin::job
