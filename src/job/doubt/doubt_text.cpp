// SPDX-License-Identifier: Apache-2.0
#include "job/doubt/doubt_text.hpp"

#include "base/text.hpp"
#include "job/sheet/locale.hpp"

#include <cmath>

#include <fmt/format.h>

namespace guidepin::job {

std::string doubt_text(JobState const& state, WatchedReference const& reference, Doubt const& doubt)
{
    verdict::ReferenceId const& name = state.references[reference.entry].id;
    auto const link = [&](std::size_t test) -> std::string const& {
        return state.readings.links.text(reference.tests[test].link);
    };
    if (doubt.kind == DoubtKind::negative_loss) {
        std::uint32_t const row = static_cast<std::uint32_t>(reference.negative.worst_row);
        return fmt::format("{} of {} readings under {} are lower than the cabling can lose, the lowest {} dB "
                           "at {}, position {}: if the reference were sound, the chance of that would be "
                           "{:.1g}",
                           reference.negative.below, reference.negative.readings, name,
                           fixed_text(reference.negative.worst_db, 2),
                           state.readings.links.text(state.readings.link[row]), state.readings.position[row],
                           reference.negative.chance());
    }
    if (doubt.level) {
        std::string text = fmt::format(
            "The links under {} read {} dB (u {} dB) {} than {}", name,
            fixed_text(std::abs(doubt.size.value()), 2), fixed_text(doubt.size_u.value(), 2),
            doubt.size.value() > 0 ? "higher" : "lower",
            doubt.compared ? "expected from other references and from the grade of their connections"
                           : "expected from the grade of their connections");
        if (doubt.material)
            return text + fmt::format(", in all positions and from the first link, {}, on", link(0));
        return text + (doubt.compared
                           ? "; too few links in common show whether the reference or the cabling is off"
                           : "; with one reference of this kind nothing shows whether the reference "
                             "or the cabling is off");
    }
    std::string const where =
        doubt.kind == DoubtKind::common ? fmt::format("All positions under {}", name)
        : doubt.kind == DoubtKind::position
            ? fmt::format("Position {} under {}, against the others,", doubt.position, name)
            : fmt::format("{} nm against {} nm under {}", reference.wavelengths.back(),
                          reference.wavelengths.front(), name);
    std::string text =
        fmt::format("{} {} {} dB {} (u {} dB){}", where, doubt.kind == DoubtKind::common ? "read" : "reads",
                    fixed_text(std::abs(doubt.size.value()), 2), doubt.size.value() > 0 ? "higher" : "lower",
                    fixed_text(doubt.size_u.value(), 2),
                    doubt.change.ramp ? " at the last link, growing link by link" : "");
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
    verdict::ReferenceId const& name = state.references[reference.entry].id;
    auto const link = [&](std::size_t test) -> std::string const& {
        return state.readings.links.text(reference.tests[test].link);
    };
    if (doubt.trusted) {
        TrustDecision const& decision = state.trust_decisions[*doubt.trusted];
        return fmt::format("Relied on by {} since {}: {}", decision.person,
                           date_time(decision.at, state.settings), decision.reason);
    }
    if (!doubt.material && doubt.level)
        return fmt::format("Nothing is held. Take a second reference and measure one of the links under {} "
                           "again, or check the cords.",
                           name);
    if (!doubt.material)
        return "Nothing is held: the uncertainty budget already allows the source a change of this size. "
               "Take a new reference soon.";
    std::string const decision =
        fmt::format("To rely on {} anyway, the test lead records a decision with a reason.", name);
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
            "Take a new reference and check the cords. Then measure {} again{} {}", link(*plan.next),
            plan.at_most == 1 ? std::string{": that settles all links."}
                              : fmt::format(" first: it settles the most links. At most {} retests settle "
                                            "all of them.",
                                            plan.at_most),
            decision);
    if (doubt.held.empty()) return "Nothing is held: the retests show that no link moved.";
    return fmt::format("The retests show that the links before {} are sound. Measure {} again under a new, "
                       "checked reference. {}",
                       link(doubt.held.front()),
                       doubt.held.size() == 1 ? link(doubt.held.front())
                                              : fmt::format("the {} links from it on", doubt.held.size()),
                       decision);
}

bool may_be_accepted(Doubt const& doubt)
{
    return !doubt.trusted && !doubt.held.empty();
}

} // namespace guidepin::job
