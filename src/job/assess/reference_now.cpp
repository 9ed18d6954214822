// SPDX-License-Identifier: Apache-2.0
#include "job/assess/reference_now.hpp"

#include "base/text.hpp"
#include "verdict/timeline.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// Returns the doubt for which the watch holds readings of this reference, unless a person relies on it.
Doubt const* doubt_of(JobState const& state, Assessment const& assessment,
                      verdict::ReferenceId const& reference)
{
    WatchedReference const* const watched =
        assessment.watching ? assessment.watching->find(reference, state) : nullptr;
    if (!watched) return nullptr;
    auto const found = std::find_if(watched->doubts.begin(), watched->doubts.end(),
                                    [](Doubt const& doubt) { return doubt.material && !doubt.held.empty(); });
    return found == watched->doubts.end() ? nullptr : &*found;
}

std::string const& first_moved(JobState const& state, Assessment const& assessment,
                               verdict::ReferenceId const& reference, Doubt const& doubt)
{
    WatchedReference const& watched = *assessment.watching->find(reference, state);
    return state.readings.links.text(watched.tests[doubt.change.first_after].link);
}

} // namespace

char const* name_of(ReferenceCondition condition)
{
    switch (condition) {
    case ReferenceCondition::in_force:
        return "in force";
    case ReferenceCondition::doubted:
        return "in doubt";
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
    if (Doubt const* const doubt = doubt_of(state, assessment, entry.id))
        standing.doubt =
            doubt->kind == DoubtKind::negative_loss
                ? std::string{"in doubt, for readings lower than cabling can be"}
                : fmt::format("in doubt since {}", first_moved(state, assessment, entry.id, *doubt));
    verdict::HoldKind kind = verdict::HoldKind::none;
    if (assessment.timeline) {
        std::size_t const place = assessment.timeline->find(entry.id);
        if (place != verdict::ReferenceTimeline::unknown)
            kind = assessment.timeline->hold_kind(place, now.ms);
    }
    switch (kind) {
    case verdict::HoldKind::none:
    case verdict::HoldKind::reference_doubted:
    case verdict::HoldKind::reference_mismatch:
    case verdict::HoldKind::position_not_referenced:
    case verdict::HoldKind::position_not_checked:
    case verdict::HoldKind::before_reference: {
        if (!standing.doubt.empty()) {
            standing.condition = ReferenceCondition::doubted;
            standing.needs = fmt::format("is {}: do not measure under it", standing.doubt);
            break;
        }
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

} // namespace guidepin::job
