// SPDX-License-Identifier: Apache-2.0
#include "job/plan/set_up_card.hpp"

#include "base/text.hpp"
#include "job/plan/set_up_sheet.hpp"

#include <algorithm>
#include <array>
#include <iterator>
#include <set>
#include <string_view>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// "reference.inspect-a.launch-cord-to-meter" is of the joint "launch-cord-to-meter".
bool is_inspection(setup::Step const& step)
{
    return step.id.find(".inspect-a.") != std::string::npos ||
           step.id.find(".inspect-b.") != std::string::npos;
}

/// What has been said on this card: the same advice is not given twice.
using Told = std::set<std::string>;

/// Advice in the few words that a card has room for, by a part of the step's id; the sheet keeps the whole.
struct ShortAdvice
{
    std::string_view id;
    char const* look_for; ///< "": the step's own words
    char const* if_not;
};
constexpr std::array short_advice{
    ShortAdvice{"prepare.released", "A clear yes for every link.", "Do not start."},
    ShortAdvice{"prepare.charge", "Enough for the whole run.", "Charge first."},
    ShortAdvice{"prepare.warm-up", "", "Wait."},
    ShortAdvice{"prepare.lay-out", "Labels as here, each end capped.",
                "Take no other cord: ask for a new set-up."},
    ShortAdvice{".light-off", "", "Inspect nothing."},
    ShortAdvice{".inspect-a.", "", "Clean again, dry, then wet and dry. Still dirty: put it aside, ask."},
    ShortAdvice{".inspect-b.", "", "Clean again, dry, then wet and dry. Still dirty: put it aside, ask."},
    ShortAdvice{".mate.", "One click, no force, keys as drawn.",
                "Stop. Look at pins, key and face; inspect both anew."},
    ShortAdvice{".light-on", "", "Wait; else take the reference anew."},
    ShortAdvice{"reference.take", "All lit, close to one another; a second reading agrees.",
                "Open at the meter, inspect, mate again; the source's joint last."},
    ShortAdvice{"reference.leave", "Nobody will take it out by mistake.",
                "Taken out or turned: the reference is void."},
    ShortAdvice{".open.", "Launch cord still in the source, not turned.",
                "Loose at the source: the reference is void."},
    ShortAdvice{".cap", "No bare end.", "Treat it as dirty."},
    ShortAdvice{"cord-check.measure", "Every position within the numbers below.",
                "Inspect, clean and mate again, once; then take the reference anew."},
    ShortAdvice{"cord-check.accept", "The worst position is written down.",
                "Test no link under this reference."},
    ShortAdvice{"test.start", "All lit; none below zero beyond the uncertainty.",
                "Dark: look at the pins. Below zero: check the cords again."},
    ShortAdvice{"test.each-link", "All four ends clean, each time.", "Inspect before you measure."},
    ShortAdvice{"test.keep-capped", "", "Cap it; count it as dirty."},
};

/// One action a step, as on the sheet, in shorter words; advice that was given is not given again.
std::vector<report::CardStep> card_steps(std::vector<setup::Step> const& steps, Told& told)
{
    std::vector<report::CardStep> card;
    auto const once = [&told](std::string text) { return told.insert(text).second ? text : std::string(); };
    for (setup::Step const& step : steps) {
        report::CardStep made{step.text, step.look_for, step.if_not,
                              step.id.find(".pins.") != std::string::npos};
        if (is_inspection(step)) {
            made.action = fmt::format("Inspect and clean {}.", step.subject);
        } else if (step.id.find(".mate.") != std::string::npos) {
            made.action = fmt::format("Mate them{}.", step.subject);
        }
        if (step.id == "cord-check.arrival") { // what has to be seen is the step itself
            made.action = "Look: " + step.look_for.substr(0, step.look_for.find("; the instrument")) + ".";
            made.look_for.clear();
            made.if_not = "Refuse. Look at the cords' types and the adapters' keys.";
        }
        for (ShortAdvice const& advice : short_advice) {
            if (made.changed || step.id.find(advice.id) == std::string::npos) continue;
            if (advice.look_for[0] != 0) made.look_for = advice.look_for;
            made.if_not = advice.if_not;
            // Pins that were changed in between are never left unsaid.
            if (step.if_not.find("change the pins back") != std::string::npos)
                made.if_not += " First change the pins back.";
            break;
        }
        made.look_for = once(std::move(made.look_for));
        made.if_not = once(std::move(made.if_not));
        card.push_back(std::move(made));
    }
    return card;
}

} // namespace

report::JobCard job_card_of(SetupSheet const& sheet, report::JobHead const& head)
{
    report::JobCard card;
    card.job = head;
    card.title = sheet.title;
    // Where light arrives in the cord check stands in its step.
    for (report::Said const& said : sheet.facts) {
        if (said.label != "Cord check") card.facts.push_back(said);
    }
    card.cautions = report::standard_cautions();
    card.record_hash = sheet.hash;
    Told told;
    std::vector<report::CardStep> before; // preparing stands above the first line of light
    for (SheetPhase const& phase : sheet.phases) {
        auto steps = card_steps(phase.steps, told);
        if (!phase.path) {
            before = std::move(steps);
            continue;
        }
        report::CardPhase made;
        made.title = before.empty() ? title_of(phase.phase)
                                    : fmt::format("Prepare, then {}", lowered(title_of(phase.phase)));
        made.path = *phase.path;
        // What is opened and mated stands in the steps below; pins are said twice.
        std::erase_if(made.path.changes,
                      [](std::string const& change) { return change.find("pins ") == std::string::npos; });
        made.steps = std::move(before);
        before.clear();
        made.steps.insert(made.steps.end(), std::make_move_iterator(steps.begin()),
                          std::make_move_iterator(steps.end()));
        made.numbers = phase.numbers;
        card.phases.push_back(std::move(made));
    }
    return card;
}

Result<std::string> job_card_pdf(SetupSheet const& sheet, report::JobHead const& head,
                                 CardOptions const& options)
{
    report::Setting setting;
    TRY_ASSIGN(setting.typeface, drawing::Typeface::load());
    setting.paper = options.paper;
    setting.locale = options.locale;
    setting.made = options.made;
    setting.program = "guidepin " + options.program;
    std::string bytes;
    TRY(report::write_job_card(job_card_of(sheet, head), setting, [&bytes](std::string_view part) {
        bytes += part;
        return true;
    }));
    return bytes;
}

} // namespace guidepin::job
