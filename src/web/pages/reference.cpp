// SPDX-License-Identifier: Apache-2.0
// References and cord checks: the page, and what its forms send.
#include "job/groundwork/trust.hpp"
#include "web/frame.hpp"
#include "web/pages/pages.hpp"
#include "web/pages/reference_parts.hpp"
#include "web/pages/reference_typing.hpp"
#include "web/pages/upload.hpp"

#include "base/text.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

Html references_list_of(Desk const& desk, std::vector<job::ReferenceNow> const& standings,
                        verdict::ReferenceId const& shown)
{
    Html rows;
    for (job::ReferenceNow const& now : standings) {
        rows += html(R"(<li><a href="/reference?id={}"{}><b>{}</b><span class="state {}">{}</span>)"
                     R"(<span class="quiet">{}taken {}</span></a></li>)"
                     "\n",
                     url_escaped(now.id), now.id == shown ? html(" aria-current=\"true\"") : Html{}, now.id,
                     now.condition == job::ReferenceCondition::in_force ? "pass" : "held",
                     job::name_of(now.condition), now.doubt.empty() ? std::string{} : now.doubt + ", ",
                     time_mark(desk, now.taken));
    }
    return html(R"(<ul class="standings">{}</ul>)"
                "\n",
                rows);
}

} // namespace

Result<Reply> reference_page(Desk& desk, Exchange const& exchange)
{
    job::JobState const& state = desk.job().state();
    TRY_ASSIGN(auto const* const assessment, desk.job().assessment());
    std::vector<job::ReferenceNow> standings;
    for (std::size_t i = 0; i < state.references.size(); ++i)
        standings.push_back(job::reference_now(state, *assessment, i, desk.now()));
    std::stable_sort(standings.begin(), standings.end(),
                     [](auto const& a, auto const& b) { return a.taken > b.taken; });
    Html seen;
    verdict::ReferenceId shown(exchange.text("id"));
    if (shown.empty() && !standings.empty()) shown = standings.front().id;
    auto const found = state.reference_index.find(shown);
    if (standings.empty()) {
        seen = html(R"(<p class="sentence">No reference yet. Take one: the powers of every position at )"
                    "every wavelength, then check the cords.</p>\n");
    } else if (found == state.reference_index.end()) {
        return Error{Errc::not_found, fmt::format("The job has no reference \"{}\"", shown)};
    } else {
        seen = shown_reference(desk, exchange, *assessment, found->second);
        seen += html("<section><h2>All references</h2>{}</section>\n",
                     references_list_of(desk, standings, shown));
    }
    Html actions;
    if (exchange.may(Access::enter))
        actions =
            html(R"(<p class="actions"><a class="button quiet" href="#take">Take a )"
                 "reference</a>{}</p>\n",
                 standings.empty() ? Html{}
                                   : html(R"( <a class="button quiet" href="#check">Check the cords</a> )"
                                          R"(<a class="button quiet" href="#event">Something happened</a>)"));
    std::string const address = exchange.has("id") ? "/reference?id=" + url_escaped(shown) : "/reference";
    return framed(desk, exchange, "Reference",
                  html("<h1>Reference</h1>\n{}{}{}", actions, live("reference", address, seen),
                       exchange.may(Access::enter) ? html(R"(<section class="doing">{}</section>)"
                                                          "\n",
                                                          reference_forms(desk, exchange))
                                                   : Html{}));
}

Result<Reply> take_reference(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(Upload const* const file, uploaded(exchange));
    job::ReferenceOptions how;
    how.kit = kit_of(exchange);
    how.instrument_positions = numbered_by_instrument(exchange);
    TRY_ASSIGN(how.overrides, overrides_of(exchange));
    TRY_ASSIGN(auto const outcome, desk.job().take_reference(shown_name(file->name), file->bytes, {}, how));
    return Reply::see("/reference?id=" +
                      (outcome.ids.empty() ? std::string{} : url_escaped(outcome.ids.back())));
}

Result<Reply> take_check(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(Upload const* const file, uploaded(exchange));
    verdict::ReferenceId reference(exchange.text("reference"));
    TRY_ASSIGN(auto const outcome, desk.job().take_cord_check(shown_name(file->name), file->bytes, {},
                                                              reference, numbered_by_instrument(exchange)));
    for (auto const& check : desk.job().state().checks) {
        if (!outcome.ids.empty() && check.id == outcome.ids.back()) reference = check.reference;
    }
    return Reply::see("/reference?id=" + url_escaped(reference));
}

Result<Reply> note_event(Desk& desk, Exchange const& exchange)
{
    job::ReferenceEvent event;
    event.event = exchange.text("event");
    event.reference = verdict::ReferenceId(exchange.text("reference"));
    event.note = exchange.text("note").substr(0, 400);
    event.at = desk.now();
    if (!verdict::parse_void_kind(event.event))
        return Error{Errc::invalid_input,
                     fmt::format("\"{}\" is not an event that voids a reference", event.event)};
    if (!event.reference.empty() && !desk.job().state().reference_index.contains(event.reference))
        return Error{Errc::not_found, fmt::format("The job has no reference \"{}\"", event.reference)};
    TRY(desk.job().note_event(event));
    return Reply::see("/reference");
}

Result<Reply> rely_on_reference(Desk& desk, Exchange const& exchange)
{
    verdict::ReferenceId const id(exchange.text("id"));
    TRY(desk.job().rely_on_reference(id, std::string(trimmed(exchange.text("reason"))),
                                     !exchange.has("undo")));
    return Reply::see("/reference?id=" + url_escaped(id));
}

} // namespace guidepin::web
