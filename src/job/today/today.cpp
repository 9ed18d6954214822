// SPDX-License-Identifier: Apache-2.0
#include "job/today/today.hpp"
#include "record/derived_query.hpp"

#include "base/text.hpp"
#include "job/assess/reference_choice.hpp"
#include "verdict/timeline.hpp"

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <map>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

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

/// What still has to be measured, by what a reference must have for it: kind of judging and face.
struct Waiting
{
    std::size_t example = 0; ///< a link
    std::int64_t links = 0;
    bool can_be_measured = false; ///< a reference in force suits it
};

class Choosing
{
  public:
    Choosing(Job& job, Assessment const& assessment, Today const& today, Instant now)
        : now_(now)
        , job_(job)
        , state_(job.state())
        , assessment_(assessment)
        , today_(today)
    {
        for (std::size_t link = 0; link < state_.scheduled(); ++link) {
            verdict::State const state = assessment_.verdicts.links[link].state;
            if (state == verdict::State::pass || state == verdict::State::marginal_pass) continue;
            Waiting& waiting = waiting_[class_of(link)];
            if (waiting.links++ == 0) waiting.example = link;
        }
        for (ReferenceNow const& reference : today_.references) {
            if (reference.condition != ReferenceCondition::in_force) continue;
            for (auto& [key, waiting] : waiting_)
                waiting.can_be_measured = waiting.can_be_measured || suits(reference, waiting.example);
        }
    }

    NextAction next_action() const
    {
        if (waiting_.empty()) {
            NextAction next;
            next.action = Action::hand_over;
            next.sentence =
                "Only links outside the schedule are left open: look at what is missing before handing over.";
            next.button = "Hand over";
            return next;
        }
        bool const any = std::any_of(waiting_.begin(), waiting_.end(),
                                     [](auto const& entry) { return entry.second.can_be_measured; });
        return any ? measure() : reference();
    }

  private:
    using Class = std::pair<std::uint32_t, plant::Face>;
    Class class_of(std::size_t link) const
    {
        return {assessment_.tasks.links[link].kind, state_.links[link].face};
    }
    bool suits(ReferenceNow const& reference, std::size_t link) const
    {
        std::size_t const entry = state_.reference_index.find(reference.id)->second;
        return !why_unsuited(state_, assessment_, state_.references[entry], link);
    }

    /// The first by name of these states that a reference in force suits.
    std::optional<std::size_t> first_link(std::initializer_list<verdict::State> states) const
    {
        std::optional<std::size_t> first;
        for (std::size_t link = 0; link < state_.scheduled(); ++link) {
            verdict::State const state = assessment_.verdicts.links[link].state;
            if (std::find(states.begin(), states.end(), state) == states.end() ||
                !waiting_.at(class_of(link)).can_be_measured)
                continue;
            if (!first || state_.links[link].id < state_.links[*first].id) first = link;
        }
        return first;
    }

    std::string where(std::size_t link) const
    {
        plant::LinkSpec const& spec = state_.links[link];
        return spec.zone.empty() ? spec.id : fmt::format("{} in {}", spec.id, spec.zone);
    }

    /// The retest that settles most about a doubted reference.
    std::optional<std::pair<std::size_t, verdict::ReferenceId>> telling_retest() const
    {
        for (WatchedReference const& watched : assessment_.watching->references) {
            for (Doubt const& doubt : watched.doubts) {
                if (!doubt.material || doubt.held.empty() || !doubt.plan.next) continue;
                std::size_t const link = watched.tests[*doubt.plan.next].link;
                auto const waiting = waiting_.find(class_of(link));
                if (waiting != waiting_.end() && waiting->second.can_be_measured)
                    return std::pair(link, state_.references[watched.entry].id);
            }
        }
        return std::nullopt;
    }

    NextAction measure() const
    {
        NextAction next;
        if (auto const link = first_link({verdict::State::open})) {
            next.action = Action::measure_open;
            next.link = state_.links[*link].id;
            next.sentence = fmt::format("Measure {} next; {} open.", where(*link),
                                        counted(today_.links.open, "link is", "links are"));
            next.button = fmt::format("Open {}", next.link);
        } else if (auto const failing = first_link({verdict::State::fail, verdict::State::marginal_fail})) {
            next.action = Action::settle_failure;
            next.link = state_.links[*failing].id;
            auto const rows = job_.rows();
            record::DerivedLink const* const row = rows ? record::find_link(**rows, next.link) : nullptr;
            next.sentence =
                fmt::format("Look at {}: it fails. {}", where(*failing), row ? row->reason : std::string{});
            next.button = fmt::format("Look at {}", next.link);
        } else if (auto const retest = telling_retest()) {
            next.action = Action::measure_held;
            next.link = state_.links[retest->first].id;
            next.sentence = fmt::format("Measure {} again: it settles the most links of {}; {} held.",
                                        where(retest->first), retest->second,
                                        counted(today_.links.held, "link is", "links are"));
            next.button = fmt::format("Open {}", next.link);
        } else {
            std::size_t const held = *first_link({verdict::State::held});
            next.action = Action::measure_held;
            next.link = state_.links[held].id;
            next.sentence = fmt::format("Measure {} again; {} held, for their reference is in doubt.",
                                        where(held), counted(today_.links.held, "link is", "links are"));
            next.button = fmt::format("Open {}", next.link);
        }
        return next;
    }

    /// No reference in force suits anything that is left: one for what most links wait for.
    NextAction reference() const
    {
        auto const most =
            std::max_element(waiting_.begin(), waiting_.end(),
                             [](auto const& a, auto const& b) { return a.second.links < b.second.links; });
        Waiting const& waiting = most->second;
        plant::LinkSpec const& example = state_.links[waiting.example];
        std::string const wait = waiting.links == 1 ? fmt::format("{} waits for it", example.id)
                                 : waiting_.size() == 1 || waiting.links == today_.links.left()
                                     ? fmt::format("{} links wait for it", waiting.links)
                                     : fmt::format("{} links like {} wait for it", waiting.links, example.id);
        // The newest that was measured under for links like these, else the newest that suits.
        auto offers = references_for(state_, assessment_, waiting.example, now_);
        std::stable_sort(offers.begin(), offers.end(), [](auto const& a, auto const& b) {
            return (a.like_it > 0) != (b.like_it > 0) ? a.like_it > 0 : a.now.taken > b.now.taken;
        });
        NextAction next;
        if (offers.empty()) {
            next.action = Action::take_reference;
            next.sentence =
                today_.references.empty()
                    ? fmt::format("Take a reference: {}.", wait)
                    : fmt::format("Take a reference: {}, and none of those there are suits.", wait);
            next.button = "Take a reference";
            return next;
        }
        ReferenceOffer const& like = offers.front();
        next.reference = like.id;
        if (like.now.condition == ReferenceCondition::wants_check) {
            next.action = Action::check_cords;
            next.sentence =
                fmt::format("Check the cords of reference {}: until a check is accepted, readings "
                            "under it are held.",
                            like.id);
            next.button = "Check the cords";
            return next;
        }
        next.action = Action::take_reference;
        next.sentence = fmt::format("Take a new reference as {} was taken: {}, and {} {}.", like.id, wait,
                                    like.id, like.now.needs);
        next.button = "Take a reference";
        return next;
    }

    Instant now_;
    Job& job_;
    JobState const& state_;
    Assessment const& assessment_;
    Today const& today_;
    std::map<Class, Waiting> waiting_;
};

NextAction next_action(Job& job, Assessment const& assessment, Today const& today, Instant now)
{
    NextAction next;
    if (job.state().scheduled() == 0) {
        next.action = Action::bring_in_schedule;
        next.sentence =
            "Bring in the schedule: it says which links are promised, and so what there is to test.";
        next.button = "Bring in the schedule";
        return next;
    }
    if (today.links.left() == 0) {
        next.action = Action::hand_over;
        next.sentence = "Every link conforms: build the package and hand it over.";
        next.button = "Hand over";
        return next;
    }
    return Choosing(job, assessment, today, now).next_action();
}

} // namespace

void StateCounts::add(std::string_view state, std::int64_t links)
{
    switch (state_of_id(state)) {
    case verdict::State::pass:
        pass += links;
        break;
    case verdict::State::marginal_pass:
        marginal_pass += links;
        break;
    case verdict::State::marginal_fail:
        marginal_fail += links;
        break;
    case verdict::State::fail:
        fail += links;
        break;
    case verdict::State::held:
        held += links;
        break;
    case verdict::State::open:
        open += links;
    }
}

Result<StateCounts> counts_of(Job& job)
{
    StateCounts counts;
    TRY_ASSIGN(auto const* const rows, job.rows());
    for (auto const& row : record::progress_of(*rows, "job")) counts.add(row.state, row.links);
    return counts;
}

Result<Today> today_of(Job& job, Instant now)
{
    Today today;
    TRY_ASSIGN(today.links, counts_of(job));
    std::map<std::string, StateCounts> zones;
    TRY_ASSIGN(auto const* const rows, job.rows());
    for (auto const& row : record::progress_of(*rows, "zone")) zones[row.name].add(row.state, row.links);
    for (auto const& [name, counts] : zones) today.zones.push_back({name, counts});
    std::map<std::string, DayStanding> days;
    for (auto const& row : record::progress_of(*rows, "day")) {
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
            today.finish = fmt::format("At {} a day, about {} more of testing.",
                                       counted(std::llround(*today.links_per_day), "link"),
                                       counted(static_cast<std::int64_t>(left), "day", "days"));
        } else {
            today.finish = "Nothing is left to test.";
        }
    }
    TRY_ASSIGN(Assessment const* const assessment, job.assessment());
    for (std::size_t i = 0; i < job.state().references.size(); ++i)
        today.references.push_back(reference_now(job.state(), *assessment, i, now));
    std::stable_sort(today.references.begin(), today.references.end(),
                     [](auto const& a, auto const& b) { return a.taken > b.taken; });
    today.next = next_action(job, *assessment, today, now);
    return today;
}

} // namespace guidepin::job
