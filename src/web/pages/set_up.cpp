// SPDX-License-Identifier: Apache-2.0
// Which cord goes where: the job's set-ups, one of them in full, and the choice of one to use.
#include "base/text.hpp"
#include "job/open/choose_set_up.hpp"
#include "job/plan/set_up_card.hpp"
#include "job/plan/set_up_progress.hpp"
#include "web/frame.hpp"
#include "web/pages/pages.hpp"
#include "web/pages/set_up_parts.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

constexpr std::array launch_choices{Choice{"", "from either end"}, Choice{"a", "from end A only"}};

/// What was asked of the job's set-ups, and back as an address.
struct Wish
{
    std::string methods, launch;

    std::string address(int group) const
    {
        std::string text = fmt::format("group={}", group);
        if (!methods.empty()) text += "&methods=" + url_escaped(methods);
        if (!launch.empty()) text += "&launch=" + url_escaped(launch);
        return text;
    }
};

Wish wish_of(Exchange const& exchange)
{
    return {exchange.text("methods"), exchange.text("launch")};
}

Result<job::JobSetups> setups_of(Desk& desk, Wish const& wish, bool alternatives)
{
    job::JobSetupWish asked;
    if (!wish.methods.empty()) asked.methods = {wish.methods};
    asked.either_end = wish.launch != "a";
    asked.alternatives = alternatives;
    asked.today = desk.today();
    return job::job_setups(desk.job().state(), asked);
}

Result<job::SetupGroup> group_of(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(job::JobSetups all, setups_of(desk, wish_of(exchange), false));
    auto const number = parse_integer(exchange.has("group") ? exchange.text("group") : "1").value_or(0);
    if (all.groups.empty())
        return Error{Errc::refused,
                     "No link of the job has a set-up now: the page Set-up says why, and what would help"};
    if (number < 1 || number > static_cast<std::int64_t>(all.groups.size()))
        return Error{Errc::not_found, fmt::format("The job has set-ups 1 to {}", all.groups.size())};
    return std::move(all.groups[static_cast<std::size_t>(number - 1)]);
}

Html alternatives_table(job::JobSetups const& all)
{
    Html rows;
    auto const row = [&rows](std::string const& name, std::optional<setup::JobCost> const& cost, int hidden,
                             std::string const& blocker) {
        if (!cost) {
            rows += html(R"(<tr><th scope="row">{}</th><td colspan="4" data-label="Why not">{}</td></tr>)"
                         "\n",
                         name, blocker.empty() ? "not possible" : blocker);
            return;
        }
        rows += html(R"(<tr><th scope="row">{}</th><td class="number" data-label="Set-ups">{}</td>)"
                     R"(<td class="number" data-label="References">{}</td>)"
                     R"(<td class="number" data-label="Pin changes">{}</td>)"
                     R"(<td class="number" data-label="Joints hidden">{}</td></tr>)"
                     "\n",
                     name, cost->setups, cost->references, cost->pin_changes, hidden);
    };
    int hidden = 0;
    for (job::SetupGroup const& group : all.groups)
        hidden = std::max(hidden, group.setup.counting.joints_removed);
    row("As shown", all.cost, hidden, {});
    for (setup::JobAlternative const& each : all.alternatives)
        row(each.name, each.cost, each.most_joints_in_reference, each.blocker);
    return html(R"(<div class="scroll" tabindex="0" role="region" aria-label="Other ways">)"
                R"(<table class="tight cards"><thead><tr><th scope="col">Option</th>)"
                R"(<th scope="col" class="number">Set-ups</th>)"
                R"(<th scope="col" class="number">References</th>)"
                R"(<th scope="col" class="number">Pin changes</th>)"
                R"(<th scope="col" class="number">Joints hidden</th></tr></thead>)"
                "<tbody>{}</tbody></table></div>\n",
                rows);
}

Html kit_table(job::JobSetups const& all)
{
    Html rows;
    for (setup::KitLine const& line : all.kit_list)
        rows += html(R"(<tr><th scope="row">{}{}</th><td class="number" data-label="Needed">{}</td>)"
                     R"(<td class="number" data-label="Spare">{}</td>)"
                     R"(<td class="number" data-label="In kit">{}</td></tr>)"
                     "\n",
                     line.text, line.ids.empty() ? std::string() : ": " + joined(line.ids, ", "), line.needed,
                     line.spare, line.in_kit);
    return html(R"(<div class="scroll" tabindex="0" role="region" aria-label="Kit to bring">)"
                R"(<table class="tight cards"><thead><tr><th scope="col">Kit to bring</th>)"
                R"(<th scope="col" class="number">Needed</th>)"
                R"(<th scope="col" class="number">Spare</th>)"
                R"(<th scope="col" class="number">In kit</th></tr></thead>)"
                "<tbody>{}</tbody></table></div>\n",
                rows);
}

Result<Html> in_use(Desk& desk)
{
    job::JobState const& state = desk.job().state();
    Html list;
    int shown = 0;
    for (auto chosen = state.setups.rbegin(); chosen != state.setups.rend() && shown < 6; ++chosen, ++shown) {
        TRY_ASSIGN(job::SetupSheet const sheet, job::sheet_of(*chosen));
        auto const progress = job::progress_of(sheet, state.steps_done, state.settings.reference_age_hours);
        list += html(R"(<li><a href="/set-up?id={}">{}</a> <span class="quiet">{} of {} steps done, )"
                     "chosen {} by {}</span></li>\n",
                     chosen->hash.substr(0, short_hash), chosen->title, progress.done, progress.steps.size(),
                     time_mark(desk, chosen->at), chosen->person);
    }
    if (list.empty()) return list;
    return html(R"(<section><h2>Set-ups in use</h2><ul class="plain-list">{}</ul></section>)"
                "\n",
                list);
}

Result<Reply> planner(Desk& desk, Exchange const& exchange)
{
    Wish const wish = wish_of(exchange);
    Html body = html("<h1>Set-up</h1>\n");
    TRY_ASSIGN(Html const used, in_use(desk));
    body += used;
    auto const found = setups_of(desk, wish, true);
    if (!found) {
        body += notice("hint", found.error().message);
        body += html("<section><h2>Without the job's links</h2>{}{}</section>\n",
                     other_way_form(exchange, nullptr), Html{});
        if (exchange.has("other")) {
            TRY_ASSIGN(Html const other, other_way(desk, exchange, nullptr));
            body += other;
        }
        return framed(desk, exchange, "Set-up", body);
    }
    job::JobSetups const& all = *found;
    body += html(R"(<form method="get" action="/set-up" class="filters">)"
                 R"(<input type="hidden" name="plan" value="1">{}{})"
                 R"(<button class="quiet">Find set-ups</button></form>)"
                 "\n",
                 choice_of("methods", "Methods permitted", method_choices(), wish.methods),
                 choice_of("launch", "Launch", launch_choices, wish.launch));
    for (job::SetupGroup const& group : all.groups) {
        job::SetupSheet const sheet = job::sheet_of(group.setup, &group);
        std::vector<std::string> ids;
        for (setup::GroupedLink const& link : group.links) ids.push_back(link.id);
        body += html(R"(<article class="card"><h2>{}</h2><p>{} link{}: {}</p><p class="quiet">{}</p><p>)"
                     R"(<a class="button" href="/set-up?{}">Show this set-up</a></p></article>)"
                     "\n",
                     sheet.title, ids.size(), plural_ending(ids.size()), job::links_text(ids, 5), group.why,
                     wish.address(group.number));
    }
    for (job::UnsolvedGroup const& each : all.unsolved) body += unsolved_notice(each);
    body += html(
        "<section><h2>The whole job</h2>{}{}{}</section>\n",
        all.exact ? Html{}
                  : html(R"(<p class="quiet">There are many kinds of link: this order is good, but perhaps )"
                         "not the best.</p>\n"),
        alternatives_table(all), kit_table(all));
    for (std::string const& remark : all.remarks)
        body += html(R"(<p class="quiet">{}</p>)"
                     "\n",
                     remark);
    return framed(desk, exchange, "Set-up", body);
}

Result<Reply> one_group(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(job::SetupGroup const group, group_of(desk, exchange));
    job::SetupSheet const sheet = job::sheet_of(group.setup, &group);
    Wish const wish = wish_of(exchange);
    bool const other = exchange.has("other");
    Html body = html(R"(<p><a href="/set-up?plan=1">All set-ups</a></p>)"
                     "\n<h1>{}</h1>\n"
                     R"(<p class="sentence">{}</p>)"
                     "\n",
                     sheet.title, group.why);
    body += html(R"(<div class="actions">)");
    if (!other && exchange.may(Access::enter))
        body += html(R"({}<input type="hidden" name="group" value="{}">)"
                     R"(<input type="hidden" name="methods" value="{}">)"
                     R"(<input type="hidden" name="launch" value="{}"><button>Use this set-up</button>{})"
                     "\n",
                     form(exchange, "/set-up/choose"), group.number, wish.methods, wish.launch, end_form());
    body += html(R"(<a class="button quiet" href="/set-up/card?{}">Job card (PDF)</a></div>)"
                 "\n",
                 wish.address(group.number));
    body += html(R"(<details class="do"{}><summary>Compare other pins or another )"
                 "method</summary>{}</details>\n",
                 other ? html(" open") : Html{}, other_way_form(exchange, &group));
    if (other) {
        TRY_ASSIGN(Html const way, other_way(desk, exchange, &group));
        body += way;
    } else {
        body += set_up_details(sheet, group.setup);
    }
    return framed(desk, exchange, "Set-up", body);
}

} // namespace

Result<Reply> set_up_page(Desk& desk, Exchange const& exchange)
{
    job::JobState const& state = desk.job().state();
    if (exchange.has("id")) {
        job::ChosenSetup const* const chosen = job::find_setup(state, exchange.text("id"));
        if (!chosen)
            return Error{Errc::not_found, "The job has no such set-up: choose one on the page Set-up"};
        return worksheet(desk, exchange, *chosen);
    }
    if (exchange.has("group") && !state.links.empty()) return one_group(desk, exchange);
    if (!exchange.has("plan") && !exchange.has("other") && !state.setups.empty())
        return worksheet(desk, exchange, state.setups.back());
    return planner(desk, exchange);
}

Result<Reply> choose_setup(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(job::SetupGroup const group, group_of(desk, exchange));
    TRY_ASSIGN(std::string const hash, job::choose(desk.job(), group, desk.today()));
    return Reply::see("/set-up?id=" + hash.substr(0, short_hash));
}

Result<Reply> setup_card(Desk& desk, Exchange const& exchange)
{
    job::JobState const& state = desk.job().state();
    job::SetupSheet sheet;
    if (exchange.has("id")) {
        job::ChosenSetup const* const chosen = job::find_setup(state, exchange.text("id"));
        if (!chosen) return Error{Errc::not_found, "The job has no such set-up"};
        TRY_ASSIGN(sheet, job::sheet_of(*chosen));
    } else {
        TRY_ASSIGN(job::SetupGroup const group, group_of(desk, exchange));
        sheet = job::sheet_of(group.setup, &group);
    }
    job::CardOptions options;
    options.paper = report::parse_paper(state.settings.paper).value_or(report::Paper::a4);
    options.locale = desk.locale();
    options.made = desk.now();
    options.program = desk.settings().actor.program;
    Reply reply;
    TRY_ASSIGN(reply.body, job::job_card_pdf(sheet,
                                             {state.settings.title, state.settings.site,
                                              state.settings.client, state.settings.contractor},
                                             options));
    reply.type = "application/pdf";
    reply.headers.emplace_back("Content-Disposition", "inline; filename=\"job-card.pdf\"");
    return reply;
}

} // namespace guidepin::web
