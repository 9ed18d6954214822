// SPDX-License-Identifier: Apache-2.0
#include "job/plan/set_up_card.hpp"

#include "base/text.hpp"
#include "job/plan/check_arrival.hpp"
#include "job/plan/set_up_sheet.hpp"
#include "setup/step_kind.hpp"

#include <algorithm>
#include <array>
#include <iterator>
#include <set>
#include <string_view>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using setup::StepKind;

/// The advice given on this card so far: the card does not repeat it.
using Given = std::set<std::string>;

/// Advice in the few words that a card has room for; the sheet keeps the whole.
struct ShortAdvice
{
    StepKind kind;
    char const* look_for; ///< "": as the step says
    char const* if_not;
};
constexpr std::array short_advice{
    ShortAdvice{StepKind::ask_release, "A clear yes for every link.", "Do not start."},
    ShortAdvice{StepKind::check_charge, "Enough for the whole run.", "Charge first."},
    ShortAdvice{StepKind::warm_up, "", "Wait."},
    ShortAdvice{StepKind::lay_out, "Labels as here, each end capped.",
                "Take no other cord: ask for a new set-up."},
    ShortAdvice{StepKind::light_off, "", "Inspect nothing."},
    ShortAdvice{StepKind::inspect, "", "Clean again, dry, then wet and dry. Still dirty: put it aside, ask."},
    ShortAdvice{StepKind::mate, "One click, no force, keys as drawn.",
                "Stop. Look at pins, key and face; inspect both again."},
    ShortAdvice{StepKind::light_on, "", "Wait; else take the reference again."},
    ShortAdvice{StepKind::take_reference, "All lit, close to one another; a second reading agrees.",
                "Open at the meter, inspect, mate again; the source's joint last."},
    ShortAdvice{StepKind::leave_launch_cord, "Nobody will take it out by mistake.",
                "Taken out or turned: the reference is void."},
    ShortAdvice{StepKind::open, "Launch cord still in the source, not turned.",
                "Loose at the source: the reference is void."},
    ShortAdvice{StepKind::cap, "No bare end.", "Treat it as dirty."},
    ShortAdvice{StepKind::measure_check, "Every position within the numbers below.",
                "Inspect, clean and mate again, once; then take the reference again."},
    ShortAdvice{StepKind::accept_check, "The worst position is written down.",
                "Test no link under this reference."},
    ShortAdvice{StepKind::measure_link, "All lit; none below zero beyond the uncertainty.",
                "Dark: look at the pins. Below zero: check the cords again."},
    ShortAdvice{StepKind::each_further_link, "All four ends clean, each time.",
                "Inspect before you measure."},
    ShortAdvice{StepKind::keep_capped, "", "Cap it; count it as dirty."},
};

/// Returns a step of the sheet in shorter words.
report::CardStep card_step(setup::Step const& step, bool past_pins)
{
    StepKind const kind = setup::kind_of_step(step.id);
    report::CardStep card{step.text, step.look_for, step.if_not, kind == StepKind::change_pins};
    if (kind == StepKind::inspect) {
        card.action = fmt::format("Inspect and clean {}.", step.subject);
    } else if (kind == StepKind::mate) {
        card.action = fmt::format("Mate them{}.", step.subject);
    } else if (kind == StepKind::look_at_arrival) { // what has to be seen is the step itself
        card.action = fmt::format("Look: {}.", arrival_in_short(step.look_for));
        card.look_for.clear();
        card.if_not = "Refuse. Look at the cords' types and the adapters' keys.";
    }
    auto const advice = std::find_if(short_advice.begin(), short_advice.end(),
                                     [kind](ShortAdvice const& each) { return each.kind == kind; });
    if (advice == short_advice.end()) return card;
    if (advice->look_for[0] != 0) card.look_for = advice->look_for;
    card.if_not = advice->if_not;
    // Pins that were changed in between are never left unsaid.
    if (past_pins) card.if_not += " First change the pins back.";
    return card;
}

/// Returns the steps of one phase, one action each; advice that was given is not given again. `all`: the
/// steps of the whole sheet.
std::vector<report::CardStep> card_steps(setup::Phase phase, std::vector<setup::Step> const& all,
                                         Given& given)
{
    std::vector<report::CardStep> card;
    auto const once = [&given](std::string text) { return given.insert(text).second ? text : std::string(); };
    for (std::size_t i = 0; i < all.size(); ++i) {
        if (all[i].phase != phase) continue;
        report::CardStep made = card_step(all[i], setup::goes_back_past_pins(all, i));
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
    // The step of the cord check says where light arrives.
    for (report::Said const& said : sheet.facts) {
        if (said.label != "Cord check") card.facts.push_back(said);
    }
    card.cautions = report::standard_cautions();
    card.record_hash = sheet.hash;
    std::vector<setup::Step> all;
    for (SheetPhase const& phase : sheet.phases)
        all.insert(all.end(), phase.steps.begin(), phase.steps.end());
    Given given;
    std::vector<report::CardStep> before; // the steps to prepare come above the first line of light
    for (SheetPhase const& phase : sheet.phases) {
        auto steps = card_steps(phase.phase, all, given);
        if (!phase.path) {
            before = std::move(steps);
            continue;
        }
        report::CardPhase made;
        made.title = before.empty() ? title_of(phase.phase)
                                    : fmt::format("Prepare, then {}", lowered(title_of(phase.phase)));
        made.path = *phase.path;
        // The steps below say what is opened and mated; only changes of pins are shown twice.
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
