// SPDX-License-Identifier: Apache-2.0
// The worksheet of the set-up in use: its steps, who ticked them and when, and their timers.
#include "web/pages/pages.hpp"
#include "web/pages/set_up_parts.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

namespace guidepin::web {

namespace {

Html tick_form(Exchange const& exchange, job::SetupSheet const& sheet, std::string const& step,
               std::string_view word, bool quiet)
{
    return html(R"({}<input type="hidden" name="setup" value="{}">)"
                R"(<input type="hidden" name="step" value="{}"><button{}>{}</button>{})",
                kept_form(exchange, "/set-up/step", "Step"), sheet.hash, step,
                quiet ? html(" class=\"quiet\"") : Html{}, word, end_form());
}

Html step_item(Desk& desk, Exchange const& exchange, job::SetupSheet const& sheet,
               job::StepStanding const& standing, bool next)
{
    Html right;
    setup::Step const& step = standing.step;
    bool const may = exchange.may(Access::enter);
    if (standing.done) {
        right =
            html(R"(<p class="done">Done {}<br><span class="quiet">{}</span></p>{})",
                 time_of_day(desk, *standing.at), standing.person,
                 may ? tick_form(exchange, sheet, step.id + std::string(job::step_undone), "Not done", true)
                     : Html{});
    } else if (step.minutes && !standing.started) {
        if (may)
            right = html("{}{}",
                         tick_form(exchange, sheet, step.id + std::string(job::step_started),
                                   fmt::format("Start {} min", number_text(*step.minutes)), !next),
                         tick_form(exchange, sheet, step.id, "Done", true));
    } else {
        if (auto const over = standing.timer_over())
            right = html(R"(<p class="timer" data-until="{}" data-over="time is over">until {}</p>)",
                         over->ms, time_of_day(desk, *over));
        if (may) right += tick_form(exchange, sheet, step.id, "Done", !next);
    }
    return html(R"(<li id="step-{}"{}><div>{}</div><div>{}</div></li>)"
                "\n",
                step.number, next ? html(" aria-current=\"step\"") : Html{}, step_words(step), right);
}

} // namespace

Result<Reply> worksheet(Desk& desk, Exchange const& exchange, job::ChosenSetup const& chosen)
{
    job::JobState const& state = desk.job().state();
    TRY_ASSIGN(job::SetupSheet const sheet, job::sheet_of(chosen));
    job::SetupProgress const progress =
        job::progress_of(sheet, state.steps_done, state.settings.reference_age_hours);
    std::string const id = chosen.hash.substr(0, short_hash);
    Html seen = html(R"(<section class="now"><p class="figure"><strong>{}</strong> of {} steps done</p>)",
                     progress.done, progress.steps.size());
    if (progress.next) {
        setup::Step const& step = progress.steps[*progress.next].step;
        seen += html(R"(<p class="sentence">Next: {}</p><p><a class="button quiet" href="#step-{}">Go )"
                     "to step {}</a></p>",
                     step.text, step.number, step.number);
    } else {
        seen += html(R"(<p class="sentence">Every step is done: measure the links.</p>)");
    }
    if (progress.reference_over)
        seen += html(R"(<p>The reference is valid: <span class="timer" data-until="{}" data-over="too )"
                     R"(old: take a new reference">until {}</span></p>)",
                     progress.reference_over->ms, time_mark(desk, *progress.reference_over));
    seen += html("</section>\n");
    std::size_t at = 0;
    for (job::SheetPhase const& phase : sheet.phases) {
        Html steps;
        for (std::size_t i = 0; i < phase.steps.size(); ++i, ++at)
            steps += step_item(desk, exchange, sheet, progress.steps[at], progress.next == at);
        seen += html(R"(<section><h2>{}</h2>{}{}<ol class="steps">{}</ol></section>)"
                     "\n",
                     job::title_of(phase.phase), phase.path ? line_of_light(*phase.path) : Html{},
                     numbers_list(phase.numbers), steps);
    }
    Html body = html(R"(<p><a href="/set-up?plan=1">All set-ups</a></p>)"
                     "\n<h1>{}</h1>\n"
                     R"(<p class="quiet">Chosen {} by {}</p>)"
                     "\n"
                     R"(<p><a class="button quiet" href="/set-up/card?id={}">Job card (PDF)</a></p>)"
                     "\n"
                     R"(<details class="do"><summary>Cabling, cords and )"
                     "consequences</summary>{}</details>\n"
                     "{}{}",
                     sheet.title, time_mark(desk, chosen.at), chosen.person, id, said_list(sheet.facts),
                     set_up_cautions(), live("set-up", "/set-up?id=" + id, seen));
    return framed(desk, exchange, "Set-up", body);
}

Result<Reply> tick_step(Desk& desk, Exchange const& exchange)
{
    job::StepDone step{exchange.text("setup").substr(0, 200),
                       exchange.text("step").substr(0, 200),
                       exchange.text("key"),
                       {},
                       {}};
    if (step.setup.empty() || step.step.empty())
        return Error{Errc::invalid_input, "The set-up or its step is missing: open the set-up again"};
    TRY(desk.job().tick_step(step));
    bool const known = job::find_setup(desk.job().state(), step.setup) != nullptr;
    return Reply::see(known ? "/set-up?id=" + url_escaped(step.setup.substr(0, short_hash)) : "/set-up");
}

} // namespace guidepin::web
