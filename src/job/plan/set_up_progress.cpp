// SPDX-License-Identifier: Apache-2.0
#include "job/plan/set_up_progress.hpp"

#include "base/text.hpp"
#include "setup/step_kind.hpp"

#include <fmt/format.h>

namespace guidepin::job {

namespace {

Instant later(Instant at, double minutes)
{
    at.ms += static_cast<std::int64_t>(minutes * 60'000);
    return at;
}

std::string cords_of(SolvedSetup const& solved)
{
    auto const text = [&](char const* part, setup::CordUse const& use) {
        setup::Cord const& cord = solved.question.kit.cords[static_cast<std::size_t>(use.cord)];
        return fmt::format("{} {}", part, cord.id);
    };
    setup::Plan const& plan = solved.plan;
    std::vector<std::string> parts{text("launch", plan.launch), text("tail", plan.tail)};
    if (plan.extra)
        parts.push_back(
            text(plan.arrangement == setup::Arrangement::changer ? "changer" : "substitution", *plan.extra));
    if (plan.known) parts.push_back(text("known", *plan.known));
    return joined(parts, ", ");
}

std::string uncertainty_of(SolvedSetup const& solved)
{
    for (MethodRow const& row : solved.methods) {
        if (row.chosen) return fmt::format("{} dB", fixed_text(row.expanded_uncertainty.value(), 2));
    }
    return {};
}

std::string checks_of(SolvedSetup const& solved)
{
    std::vector<std::string> parts;
    for (CheckNumbers const& numbers : solved.checks)
        parts.push_back(fmt::format("{} nm: {}", numbers.wavelength.value(), accept_text(numbers)));
    return parts.empty() ? "none" : joined(parts, "; ");
}

std::string pin_changes_of(SolvedSetup const& solved)
{
    std::vector<std::string> parts;
    for (setup::PhasePlan const* phase : solved.plan.phases()) {
        for (setup::PinChange const& change : phase->pin_changes)
            parts.push_back(fmt::format("before the {}: {} {}", setup::name_of(phase->phase),
                                        change.to == plant::Pins::pinned ? "into" : "out of",
                                        setup::name_of(change.part)));
    }
    return parts.empty() ? "none" : joined(parts, "; ");
}

} // namespace

std::optional<Instant> StepStanding::timer_over() const
{
    if (!started || !step.minutes) return std::nullopt;
    return later(*started, *step.minutes);
}

SetupProgress progress_of(SetupSheet const& sheet, std::span<StepDone const> records,
                          double reference_age_hours)
{
    SetupProgress progress;
    for (SheetPhase const& phase : sheet.phases) {
        for (setup::Step const& step : phase.steps) progress.steps.push_back({step, false, {}, {}, {}});
    }
    for (StepDone const& record : records) {
        if (record.setup != sheet.hash) continue;
        for (StepStanding& standing : progress.steps) {
            std::string_view rest = record.step;
            if (!rest.starts_with(standing.step.id)) continue;
            rest.remove_prefix(standing.step.id.size());
            if (rest.empty()) {
                standing.done = true;
                standing.at = record.at;
                standing.person = record.person;
            } else if (rest == step_started) {
                standing.started = record.at;
            } else if (rest == step_undone) {
                standing.done = false;
                standing.started.reset();
                standing.at.reset();
                standing.person.clear();
            }
        }
    }
    for (std::size_t i = 0; i < progress.steps.size(); ++i) {
        StepStanding const& standing = progress.steps[i];
        if (standing.done)
            ++progress.done;
        else if (!progress.next)
            progress.next = i;
        if (setup::kind_of_step(standing.step.id) == setup::StepKind::take_reference && standing.at)
            progress.reference_over = later(*standing.at, reference_age_hours * 60);
    }
    return progress;
}

std::vector<SetupDifference> differences(SolvedSetup const& before, SolvedSetup const& after)
{
    std::vector<SetupDifference> all;
    auto const compare = [&all](char const* what, std::string one, std::string other) {
        if (one != other) all.push_back({what, std::move(one), std::move(other)});
    };
    auto const number = [](auto value) { return fmt::format("{}", value); };
    auto const arrangement = [](SolvedSetup const& solved) {
        return std::string(setup::words_of(solved.plan.arrangement));
    };
    auto const shown = [](SolvedSetup const& solved) {
        return solved.shown.empty() ? solved.shown_missing
                                    : fmt::format("{} as {}", solved.shown.front().map.cabling_class,
                                                  solved.shown.front().map.shown_class);
    };
    compare("Method", arrangement(before), arrangement(after));
    compare("Cords", cords_of(before), cords_of(after));
    compare("Pins put in or taken out", pin_changes_of(before), pin_changes_of(after));
    compare("Matings of reference-grade plugs", number(before.plan.cost.reference_matings),
            number(after.plan.cost.reference_matings));
    compare("Items to carry", number(before.plan.cost.items), number(after.plan.cost.items));
    compare("Steps", number(before.steps.size()), number(after.steps.size()));
    compare("Joints hidden in the reference", number(before.counting.joints_removed),
            number(after.counting.joints_removed));
    compare("Uncertainty, k = 2", uncertainty_of(before), uncertainty_of(after));
    compare("Cord check", setup::name_of(before.plan.check), setup::name_of(after.plan.check));
    compare("Accepted in the check", checks_of(before), checks_of(after));
    compare("The instrument shows", shown(before), shown(after));
    return all;
}

ChosenSetup const* find_setup(JobState const& state, std::string_view hash)
{
    if (hash.size() < 8) return nullptr;
    for (ChosenSetup const& chosen : state.setups) {
        if (std::string_view(chosen.hash).starts_with(hash)) return &chosen;
    }
    return nullptr;
}

Result<SetupSheet> sheet_of(ChosenSetup const& chosen)
{
    TRY_ASSIGN(SetupSheet sheet, setup_of(chosen.body));
    sheet.hash = chosen.hash;
    sheet.at = chosen.at;
    sheet.person = chosen.person;
    return sheet;
}

} // namespace guidepin::job
