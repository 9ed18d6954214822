// SPDX-License-Identifier: Apache-2.0
#include "job/doubt/doubt_text.hpp"

#include "base/text.hpp"

#include <cmath>

#include <fmt/format.h>

namespace guidepin::job {

std::string doubt_text(JobState const& state, WatchedReference const& reference, Doubt const& doubt)
{
    std::string const& name = state.references[reference.entry].id;
    auto const link = [&](std::size_t test) -> std::string const& {
        return state.readings.links.text(reference.tests[test].link);
    };
    if (doubt.kind == DoubtKind::negative_loss) {
        std::uint32_t const row = static_cast<std::uint32_t>(reference.negative.worst_row);
        return fmt::format("{} of {} readings under {} lie lower than the cabling can lose, the lowest {} dB "
                           "at {}, position {}: with a sound reference a chance of {:.1g}",
                           reference.negative.below, reference.negative.readings, name,
                           fixed_text(reference.negative.worst_db, 2),
                           state.readings.links.text(state.readings.link[row]), state.readings.position[row],
                           reference.negative.chance());
    }
    if (doubt.level) {
        std::string const by =
            fmt::format("{} dB {} (u {} dB)", fixed_text(std::abs(doubt.size_db), 2),
                        doubt.size_db > 0 ? "above" : "below", fixed_text(doubt.size_u_db, 2));
        std::string const against =
            doubt.compared ? "what other references and the grade of its connections lead to expect"
                           : "what the grade of its connections leads to expect";
        if (doubt.material)
            return fmt::format("{} stands {} {}, in all positions from its first link, {}, on", name, by,
                               against, link(0));
        return fmt::format("{} stands {} {}; with {} it cannot be told whether the reference or the cabling "
                           "is off",
                           name, by, against,
                           doubt.compared ? "so few links in common" : "one reference of this kind");
    }
    std::string const where =
        doubt.kind == DoubtKind::common ? fmt::format("All positions under {}", name)
        : doubt.kind == DoubtKind::position
            ? fmt::format("Position {} under {}, against the others,", doubt.position, name)
            : fmt::format("{} nm against {} nm under {}", reference.wavelengths.back(),
                          reference.wavelengths.front(), name);
    std::string text = fmt::format(
        "{} {} {} dB {} (u {} dB){}", where, doubt.kind == DoubtKind::common ? "read" : "reads",
        fixed_text(std::abs(doubt.size_db), 2), doubt.size_db > 0 ? "higher" : "lower",
        fixed_text(doubt.size_u_db, 2), doubt.change.ramp ? " at the last link, growing link by link" : "");
    if (doubt.change.first_after == 0 && doubt.change.latest == 0) {
        text += fmt::format(" from the first link, {}, on", link(0));
    } else {
        text += fmt::format(" from {} on", link(doubt.change.first_after));
        if (doubt.change.earliest != doubt.change.latest)
            text += fmt::format(" (95 %: {} to {})", link(doubt.change.earliest), link(doubt.change.latest));
    }
    return text;
}

std::string doubt_action(JobState const& state, WatchedReference const& reference, Doubt const& doubt)
{
    std::string const& name = state.references[reference.entry].id;
    auto const link = [&](std::size_t test) -> std::string const& {
        return state.readings.links.text(reference.tests[test].link);
    };
    if (doubt.trusted) {
        TrustDecision const& decision = state.trust_decisions[*doubt.trusted];
        return fmt::format("Relied on by {} since {}: {}", decision.person, instant_text(decision.at),
                           decision.reason);
    }
    if (!doubt.material && doubt.level)
        return fmt::format("Nothing is held. Take a second reference and measure one of the links under {} "
                           "again, or check the cords",
                           name);
    if (!doubt.material)
        return "Nothing is held: the uncertainty budget grants the source as much. Take a new reference "
               "soon.";
    std::string const decision = fmt::format(
        "Or the test lead relies on it all the same and says why: on the page of {0}, or guidepin "
        "trust JOB {0}",
        name);
    if (doubt.kind == DoubtKind::negative_loss)
        return fmt::format("Take a new reference, check the cords, and measure {} again. {}",
                           link(0) == link(reference.tests.size() - 1)
                               ? link(0)
                               : fmt::format("{} links", reference.tests.size()),
                           decision);
    watch::RetestPlan const& plan = doubt.plan;
    if (plan.contradiction) return plan.why;
    if (plan.next)
        return fmt::format(
            "Take a new reference, check the cords, and measure {} again first: whether it moved "
            "tells most; {} {} at most settle all. {}",
            link(*plan.next), plan.at_most, plan.at_most == 1 ? "retest" : "retests", decision);
    if (doubt.held.empty()) return "Nothing is held: the retests show that no link moved.";
    return fmt::format("Known by retests: links before {} stand; measure {} again under a fresh, checked "
                       "reference. {}",
                       link(doubt.held.front()),
                       doubt.held.size() == 1 ? link(doubt.held.front())
                                              : fmt::format("the {} from it on", doubt.held.size()),
                       decision);
}

} // namespace guidepin::job
