// SPDX-License-Identifier: Apache-2.0
#include "verdict/timeline.hpp"

#include "verdict/readings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <tuple>
#include <utility>

namespace guidepin::verdict {
namespace {

struct VoidWords
{
    VoidKind kind;
    char const* name;
    char const* words;
    char const* fact;
};

constexpr std::array<VoidWords, void_kinds> void_words{{
    {VoidKind::launch_cord_left_source, "launch-cord-left-source", "the launch cord was taken off the source",
     "readiness.void.cord-off-source"},
    {VoidKind::launch_cord_cleaned, "launch-cord-cleaned", "the launch cord was cleaned",
     "readiness.void.cord-cleaned"},
    {VoidKind::cord_changed, "cord-changed", "another cord was used", "readiness.void.other-cord"},
    {VoidKind::adapter_changed, "adapter-changed", "another adapter was used", "readiness.void.other-cord"},
    {VoidKind::instrument_changed, "instrument-changed", "another instrument was used",
     "readiness.void.other-instrument"},
    {VoidKind::wavelength_or_mode_changed, "wavelength-or-mode-changed",
     "wavelength or mode of the source was changed", "readiness.void.wavelength-change"},
    {VoidKind::power_cycle, "power-cycle", "an instrument was switched off and on",
     "readiness.void.power-cycle"},
    {VoidKind::temperature_change, "temperature-change", "the temperature changed a lot",
     "readiness.void.temperature"},
    {VoidKind::drift_check_failed, "drift-check-failed", "a drift check went over its limit",
     "readiness.void.drift"},
    {VoidKind::negative_loss, "negative-loss", "a reading lay below zero beyond its tolerance",
     "readiness.void.negative-loss"},
    {VoidKind::time_limit, "time-limit", "its time ran out", "readiness.void.age"},
    {VoidKind::person_voided, "person-voided", "a person voided it", ""},
}};

VoidWords const& entry_of(VoidKind kind)
{
    for (auto const& entry : void_words)
        if (entry.kind == kind) return entry;
    return void_words.back();
}

bool acts_back(VoidKind kind)
{
    return kind == VoidKind::drift_check_failed || kind == VoidKind::negative_loss;
}

constexpr std::int64_t never = std::numeric_limits<std::int64_t>::max();

std::int64_t expiry(ReferenceEntry const& entry)
{
    if (!entry.max_age) return never;
    double const age_ms = std::floor(entry.max_age->value() * 1000.0);
    // Beyond some ten thousand years an age is no limit, and the sum cannot overflow.
    if (age_ms > 1e15) return never;
    auto const age = static_cast<std::int64_t>(age_ms);
    return entry.taken.ms > never - age ? never : entry.taken.ms + age;
}

} // namespace

char const* name_of(VoidKind kind)
{
    return entry_of(kind).name;
}
char const* words_of(VoidKind kind)
{
    return entry_of(kind).words;
}
char const* fact_of(VoidKind kind)
{
    return entry_of(kind).fact;
}

std::optional<VoidKind> parse_void_kind(std::string_view text)
{
    for (auto const& entry : void_words)
        if (text == entry.name) return entry.kind;
    return std::nullopt;
}

char const* name_of(HoldKind kind)
{
    switch (kind) {
    case HoldKind::none:
        return "none";
    case HoldKind::reference_unknown:
        return "reference-unknown";
    case HoldKind::reference_refused:
        return "reference-refused";
    case HoldKind::before_reference:
        return "before-reference";
    case HoldKind::reference_voided:
        return "reference-voided";
    case HoldKind::reference_too_old:
        return "reference-too-old";
    case HoldKind::no_accepted_check:
        return "no-accepted-check";
    case HoldKind::check_failed:
        return "check-failed";
    case HoldKind::later_check_failed:
        return "later-check-failed";
    case HoldKind::reference_doubted:
        return "reference-doubted";
    case HoldKind::reference_mismatch:
        return "reference-mismatch";
    case HoldKind::position_not_referenced:
        return "position-not-referenced";
    case HoldKind::position_not_checked:
        return "position-not-checked";
    }
    return "";
}

Result<ReferenceTimeline> ReferenceTimeline::build(std::vector<ReferenceEntry> references,
                                                   std::vector<CordCheckEntry> const& checks,
                                                   std::vector<VoidEvent> const& events)
{
    ReferenceTimeline timeline;
    std::sort(references.begin(), references.end(),
              [](ReferenceEntry const& a, ReferenceEntry const& b) { return a.id < b.id; });
    for (auto& entry : references) {
        if (entry.id.empty()) return Error{Errc::usage, "A reference has no id; give it one."};
        if (entry.max_age && !(entry.max_age->value() >= 0))
            return Error{Errc::usage,
                         fmt::format("Reference {}: its largest age is not a time of 0 or more.", entry.id)};
        if (timeline.size() != 0 && timeline.references_.back().entry.id == entry.id)
            return Error{Errc::conflict,
                         fmt::format("Reference {} is there twice; give each its own id.", entry.id)};
        Reference reference;
        reference.expires_ms = expiry(entry);
        reference.entry = std::move(entry);
        timeline.references_.push_back(std::move(reference));
    }

    std::vector<std::pair<Instant, std::string>> idle;
    for (auto const& check : checks) {
        auto const index = timeline.find(check.reference);
        if (index == unknown) {
            idle.emplace_back(check.at, fmt::format("Cord check at {}: reference {} is not known.",
                                                    instant_text(check.at), check.reference));
            continue;
        }
        auto& reference = timeline.references_[index];
        if (check.accepted && check.at < reference.entry.taken) {
            idle.emplace_back(check.at,
                              fmt::format("Cord check at {}: older than its reference {}, taken {}.",
                                          instant_text(check.at), check.reference,
                                          instant_text(reference.entry.taken)));
            continue;
        }
        reference.marks.push_back(Mark{check.at, check.accepted, false});
    }

    auto const apply = [](Reference& reference, VoidEvent const& event) {
        auto const order = [](VoidEvent const& e) {
            return std::make_tuple(e.at.ms, e.kind, e.at.offset_minutes);
        };
        if (!reference.voided || order(event) < order(reference.by)) reference.by = event;
        reference.voided = true;
        if (acts_back(event.kind)) reference.marks.push_back(Mark{event.at, false, true});
    };
    for (auto const& event : events) {
        if (!event.reference) {
            for (auto& reference : timeline.references_)
                if (reference.entry.taken < event.at) apply(reference, event);
            continue;
        }
        auto const index = timeline.find(*event.reference);
        if (index == unknown)
            idle.emplace_back(event.at,
                              fmt::format("Event \"{}\" at {}: reference {} is not known.",
                                          words_of(event.kind), instant_text(event.at), *event.reference));
        else
            apply(timeline.references_[index], event);
    }

    for (auto& reference : timeline.references_) {
        auto& marks = reference.marks;
        std::sort(marks.begin(), marks.end(), [](Mark const& a, Mark const& b) {
            return std::make_tuple(a.at.ms, a.good, a.event, a.at.offset_minutes) <
                   std::make_tuple(b.at.ms, b.good, b.event, b.at.offset_minutes);
        });
        // Failures sort first, so the one that is kept of each moment is a failure where there is one.
        marks.erase(std::unique(marks.begin(), marks.end(),
                                [](Mark const& a, Mark const& b) { return a.at == b.at; }),
                    marks.end());
    }
    std::sort(idle.begin(), idle.end(), [](auto const& a, auto const& b) {
        return std::tie(a.first.ms, a.second) < std::tie(b.first.ms, b.second);
    });
    for (auto& [at, text] : idle) timeline.without_effect_.push_back(std::move(text));
    return timeline;
}

std::size_t ReferenceTimeline::find(ReferenceId const& id) const
{
    auto const at = std::lower_bound(
        references_.begin(), references_.end(), id,
        [](Reference const& reference, ReferenceId const& wanted) { return reference.entry.id < wanted; });
    if (at == references_.end() || at->entry.id != id) return unknown;
    return static_cast<std::size_t>(at - references_.begin());
}

HoldKind ReferenceTimeline::hold_kind(std::size_t index, std::int64_t ms) const
{
    if (index >= references_.size()) return HoldKind::reference_unknown;
    Reference const& reference = references_[index];
    if (!reference.entry.accepted) return HoldKind::reference_refused;
    if (ms < reference.entry.taken.ms) return HoldKind::before_reference;
    if (reference.voided && ms >= reference.by.at.ms) return HoldKind::reference_voided;
    if (ms > reference.expires_ms) return HoldKind::reference_too_old;
    auto const& marks = reference.marks;
    auto const next = std::upper_bound(marks.begin(), marks.end(), ms,
                                       [](std::int64_t time, Mark const& mark) { return time < mark.at.ms; });
    if (next == marks.begin()) {
        // No check yet: the next one decides, for the reference has stood unopened from then until now.
        if (next == marks.end()) return HoldKind::no_accepted_check;
        return next->good ? HoldKind::none : HoldKind::later_check_failed;
    }
    if (!std::prev(next)->good) return HoldKind::check_failed;
    if (next != marks.end() && !next->good) return HoldKind::later_check_failed;
    return HoldKind::none;
}

std::optional<Hold> ReferenceTimeline::hold_reason(ReferenceId const& id, Instant time) const
{
    auto const index = find(id);
    auto const kind = hold_kind(index, time.ms);
    if (kind == HoldKind::none) return std::nullopt;
    if (kind == HoldKind::reference_unknown) {
        return Hold{kind, "hold.reference-unknown",
                    id.empty() ? std::string{"The reading names no reference. State which one it rests on."}
                               : fmt::format("Reference {} is not in the record. Bring it in, or correct its "
                                             "name.",
                                             id)};
    }
    Reference const& reference = references_[index];
    auto const next =
        std::upper_bound(reference.marks.begin(), reference.marks.end(), time,
                         [](Instant const& moment, Mark const& mark) { return moment < mark.at; });
    std::string text;
    switch (kind) {
    case HoldKind::none:
    case HoldKind::reference_unknown:
    case HoldKind::reference_doubted:
    case HoldKind::reference_mismatch:
    case HoldKind::position_not_referenced:
    case HoldKind::position_not_checked:
        break;
    case HoldKind::reference_refused:
        text = fmt::format("Reference {} was refused. Take a new reference and measure again.", id);
        break;
    case HoldKind::before_reference:
        text =
            time.ms == ReadingColumns::no_time
                ? fmt::format("It has no time, so nothing says that it was taken after its reference {}. "
                              "Bring it in again with times, or measure again.",
                              id)
                : fmt::format("Taken {}, before its reference {} of {}. Correct the clock or the name of the "
                              "reference, or measure again.",
                              instant_text(time), id, instant_text(reference.entry.taken));
        break;
    case HoldKind::reference_voided:
        text = fmt::format("Reference {} is void since {}: {}. Take a new reference and measure again.", id,
                           instant_text(reference.by.at), words_of(reference.by.kind));
        break;
    case HoldKind::reference_too_old:
        text = fmt::format("Reference {} was {:.2f} h old; {:.2f} h is the most. Take a new reference and "
                           "measure again.",
                           id, static_cast<double>(time.ms - reference.entry.taken.ms) / 3'600'000.0,
                           reference.entry.max_age->value() / 3600.0);
        break;
    case HoldKind::no_accepted_check:
        text = fmt::format(
            "No cord check of reference {} was accepted yet. Join the cords and check them: an accepted "
            "check releases what was measured since the reference.",
            id);
        break;
    case HoldKind::check_failed:
        text =
            fmt::format("The cord check of reference {} at {} failed, and none was accepted between it and "
                        "this reading. Clean, take a new reference, check the cords, measure again.",
                        id, instant_text(std::prev(next)->at));
        break;
    case HoldKind::later_check_failed:
        text = fmt::format(
            "At {}, after this reading, {}: what was measured under reference {} since the last "
            "good check is in doubt. Take a new reference and measure again.",
            instant_text(next->at), next->event ? "a drift or sign check failed" : "a cord check failed", id);
        break;
    }
    return Hold{kind, std::string{"hold."} + name_of(kind), std::move(text)};
}

} // namespace guidepin::verdict
