// SPDX-License-Identifier: Apache-2.0
#include "web/frame.hpp"
#include "web/pages/finding_list.hpp"
#include "web/pages/pages.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

namespace guidepin::web {

namespace {

std::string address_of(job::NextAction const& next)
{
    switch (next.action) {
    case job::Action::bring_in_schedule:
        return "/bring-in#schedule";
    case job::Action::take_reference:
        return next.reference.empty()
                   ? std::string{"/reference#take"}
                   : fmt::format("/reference?like={}#take", url_escaped(next.reference.text()));
    case job::Action::check_cords:
        return fmt::format("/reference?id={}#check", url_escaped(next.reference.text()));
    case job::Action::measure_open:
    case job::Action::settle_failure:
    case job::Action::measure_held:
        return link_address(next.link);
    case job::Action::hand_over:
        break;
    }
    return "/hand-over";
}

Html count_link(std::int64_t count, std::string_view state, std::string_view zone)
{
    if (count == 0) return html(R"(<td class="number none">0</td>)");
    return html(R"(<td class="number"><a href="/links?state={}{}">{}</a></td>)", state,
                zone.empty() ? std::string{} : "&zone=" + url_escaped(zone), count);
}

Html zones_table(job::Today const& today)
{
    Html rows;
    for (job::ZoneStanding const& zone : today.zones) {
        std::string const name = zone.name.empty() ? "not in the schedule" : zone.name;
        rows += html(R"(<tr><th scope="row"><div class="zone"><a )"
                     R"(href="/links?zone={}">{}</a>{}</div></th>)",
                     url_escaped(zone.name), name, drawn(counts_bar(name, zone.links, 300)));
        rows += html(R"(<td class="number">{}</td>)", zone.links.conforming());
        rows += count_link(zone.links.failing(), "fail", zone.name);
        rows += count_link(zone.links.held, "held", zone.name);
        rows += count_link(zone.links.open, "open", zone.name);
        rows += html("</tr>\n");
    }
    return html(R"(<table class="zones even"><caption>By zone</caption><thead><tr>)"
                R"(<th scope="col">Zone</th><th scope="col" class="number">Conform</th>)"
                R"(<th scope="col" class="number">Fail</th><th scope="col" class="number">Held</th>)"
                R"(<th scope="col" class="number">Open</th></tr></thead><tbody>)"
                "\n{}</tbody></table>\n",
                rows);
}

Html days_table(Desk const& desk, job::Today const& today)
{
    Html rows;
    report::Locale const locale = desk.locale();
    for (job::DayStanding const& day : today.days) {
        auto const at = parse_instant(day.day + "T12:00:00Z");
        rows +=
            html(R"(<tr><th scope="row"><a href="/links?day={}">{}</a></th>)"
                 R"(<td class="number" data-label="Tests">{}</td>)"
                 R"(<td class="number" data-label="Per hour">{}</td>)"
                 R"(<td data-label="Links now">{}</td></tr>)"
                 "\n",
                 day.day, at ? locale.date(*at) : day.day, day.tests,
                 day.per_hour ? locale.number(*day.per_hour, 1) : std::string{"–"}, counts_text(day.links));
    }
    return html(R"(<table class="even cards"><caption>By day</caption><thead><tr>)"
                R"(<th scope="col">Day</th><th scope="col" class="number">Tests</th>)"
                R"(<th scope="col" class="number">Per hour</th>)"
                R"(<th scope="col">Their links now</th></tr></thead><tbody>)"
                "\n{}</tbody></table>\n",
                rows);
}

/// Points to the finding that matters most.
Html first_finding(Desk& desk)
{
    FindingsNow const now = findings_now(desk);
    if (now.open == 0) return {};
    ShownFinding const& first = now.shown(now.list.front());
    return html(R"(<section class="first-finding"><h2>Findings</h2><p><a href="/findings#f-{}">)"
                R"(<strong>{}</strong></a></p><p>{}</p><p><a class="button quiet" )"
                R"(href="/findings">{}</a></p></section>)"
                "\n",
                first.entry.finding.id, first.heading, first.entry.finding.action,
                now.open == 1 ? std::string{"Show the finding"}
                              : fmt::format("All {} open findings", now.open));
}

/// "9 h 40 min", "12 min".
std::string span_text(double minutes)
{
    int const whole = static_cast<int>(minutes);
    return whole >= 60 ? fmt::format("{} h {} min", whole / 60, whole % 60) : fmt::format("{} min", whole);
}

Html references_list(Desk const& desk, job::Today const& today)
{
    if (today.references.empty())
        return html("<p>No reference yet. Take a reference and check its cords before you measure.</p>\n");
    Html rows;
    std::size_t shown = 0;
    for (job::ReferenceNow const& reference : today.references) {
        bool const good = reference.condition == job::ReferenceCondition::in_force;
        if (!good && ++shown > 3) continue;
        Html last = html(R"(<span class="quiet">{}taken {}</span>)",
                         reference.doubt.empty() ? std::string{} : reference.doubt + ", ",
                         time_mark(desk, reference.taken));
        if (good && reference.minutes_left) {
            std::int64_t const until =
                desk.now().ms + static_cast<std::int64_t>(*reference.minutes_left * 60'000);
            last = html(R"(<span class="quiet timer" data-until="{}">{} left</span>)", until,
                        span_text(*reference.minutes_left));
        }
        rows += html(R"(<li><a href="/reference?id={}"><b>{}</b>)"
                     R"(<span class="state {}">{}</span>{}</a></li>)"
                     "\n",
                     url_escaped(reference.id), reference.id, good ? "pass" : "held",
                     job::name_of(reference.condition), last);
    }
    return html(R"(<ul class="standings">{}</ul>)"
                "\n",
                rows);
}

} // namespace

Result<Reply> today_page(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(job::Today const today, job::today_of(desk.job(), desk.now()));
    Html body = html(R"(<section class="now"><h1 class="small">What to do now</h1>)"
                     R"(<p class="sentence">{}</p><p><a class="button" href="{}">{}</a></p></section>)"
                     "\n",
                     today.next.sentence, address_of(today.next), today.next.button);
    body += html(R"(<div class="beside"><section><h2>The whole job</h2><p class="figure">)"
                 "<strong>{}</strong> of {}</p>{}<p>{}</p>"
                 R"(<p class="quiet">{}</p></section>)"
                 "\n",
                 today.links.conforming(), counted(today.links.total(), "link conforms", "links conform"),
                 drawn_grown(counts_bar("The whole job", today.links, 540, 26)), counts_text(today.links),
                 today.finish);
    body += html("<section><h2>References</h2>{}</section></div>\n", references_list(desk, today));
    body += first_finding(desk);
    if (!today.zones.empty())
        body += html(R"(<section class="scroll">{}</section>)"
                     "\n",
                     zones_table(today));
    if (!today.days.empty())
        body += html(R"(<section class="scroll">{}</section>)"
                     "\n",
                     days_table(desk, today));
    return framed(desk, exchange, "Today", live("today", "/", body));
}

} // namespace guidepin::web
