// SPDX-License-Identifier: Apache-2.0
#include "web/frame.hpp"
#include "web/pages/finding_list.hpp"
#include "web/pages/pages.hpp"

#include "base/text.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

constexpr std::size_t on_a_page = 8;
constexpr std::size_t links_shown = 6;

Html links_list(ShownFinding const& shown)
{
    Html links;
    for (std::size_t i = 0; i < shown.links.size(); ++i) {
        if (i == links_shown && shown.links.size() > links_shown + 1) break;
        links += html(R"(<li><a href="{}">{}</a></li>)", link_address(shown.links[i]), shown.links[i]);
    }
    if (shown.links.size() <= links_shown + 1)
        return html(R"(<ul class="tabs">{}</ul>)"
                    "\n",
                    links);
    Html rest;
    for (std::size_t i = links_shown; i < shown.links.size(); ++i)
        rest += html(R"(<li><a href="{}">{}</a></li>)", link_address(shown.links[i]), shown.links[i]);
    return html(R"(<ul class="tabs">{}</ul><details><summary>{} more links</summary>)"
                R"(<ul class="tabs">{}</ul></details>)"
                "\n",
                links, shown.links.size() - links_shown, rest);
}

Html picture(ShownFinding const& shown)
{
    if (!shown.wide) return {};
    if (shown.narrow) return drawn_both(*shown.narrow, *shown.wide);
    return drawn_wide(*shown.wide, shown.heading);
}

Html acknowledgement(Desk const& desk, job::JobFinding const& entry)
{
    if (!entry.acknowledged) return {};
    Html again;
    if (!entry.changed.empty())
        again = html("<br><strong>Open again:</strong> {}.", joined(entry.changed, "; "));
    return html(R"(<p class="notice {}">Acknowledged by {}, {}: {}{}</p>)"
                "\n",
                entry.changed.empty() ? "good" : "bad", entry.acknowledged->person,
                time_mark(desk, entry.acknowledged->at), entry.acknowledged->reason, again);
}

Html acknowledge_form(Exchange const& exchange, job::JobFinding const& entry)
{
    if (!exchange.may(Access::lead)) return {};
    std::string const& id = entry.finding.id;
    Html const back = entry.acknowledged
                          ? html(R"(<button class="quiet" name="undo" value="1">Withdraw</button>)")
                          : Html{};
    bool const again = entry.acknowledged && !entry.changed.empty();
    return html(R"(<details class="do"><summary>{}</summary>)"
                "\n"
                R"({}<input type="hidden" name="id" value="{}"><label>{})"
                R"(<textarea name="reason" rows="2" maxlength="{}" required></textarea></label>)"
                R"(<p class="turn">{}{}</p>{}</details>)"
                "\n",
                !entry.acknowledged ? "Acknowledge"
                : again             ? "Acknowledge the changed finding, or withdraw"
                                    : "Withdraw the acknowledgement",
                form(exchange, "/findings/acknowledge"), id,
                entry.is_open() ? "Why you accept it" : "Why you no longer accept it",
                job::longest_reason / 4, entry.is_open() ? html("<button>Acknowledge</button>") : Html{},
                back, end_form());
}

/// A link to the form in which a lead relies on a doubted reference.
Html rely_link(Desk& desk, Exchange const& exchange, cause::Finding const& finding)
{
    if (finding.reference == cause::none || !exchange.may(Access::lead)) return {};
    auto const assessment = desk.job().assessment();
    job::JobState const& state = desk.job().state();
    verdict::ReferenceId const id = state.readings.references.id(finding.reference);
    job::WatchedReference const* const watched =
        assessment ? (*assessment)->watching->find(id, state) : nullptr;
    if (!watched || std::none_of(watched->doubts.begin(), watched->doubts.end(),
                                 [](job::Doubt const& doubt) { return doubt.material && !doubt.trusted; }))
        return {};
    return html(R"(<p><a class="button quiet" href="/reference?id={}#rely">Rely on {} )"
                "anyway</a></p>\n",
                url_escaped(id), id);
}

Html card(Desk& desk, Exchange const& exchange, job::JobFinding const& entry, ShownFinding const& shown)
{
    cause::Finding const& finding = entry.finding;
    bool const open = entry.is_open();
    std::string const size =
        finding.size ? fmt::format("{} dB, ", desk.locale().number(finding.size->value(), 2)) : std::string{};
    Html body = html(R"(<header><h2>{}</h2><p class="what">{} <span class="quiet">{}{} )"
                     "%</span></p></header>\n",
                     shown.place, cause::name_of(finding.cause), size,
                     fixed_text(100 * std::min(finding.probability, 0.994), 0));
    body += acknowledgement(desk, entry);
    if (open)
        body += html(R"(<p class="first"><span class="quiet">Do first:</span> {}</p>)"
                     "\n",
                     finding.action);
    body += picture(shown);
    body += html("<p>{}</p>\n", finding.evidence);
    if (!shown.alternatives.empty())
        body += html(R"(<p class="quiet">It could also be: {}.</p>)"
                     "\n",
                     shown.alternatives);
    body += links_list(shown);
    body += rely_link(desk, exchange, finding);
    body += acknowledge_form(exchange, entry);
    return html(R"(<article class="finding {}" id="f-{}">)"
                "\n{}</article>\n",
                !open                            ? "seen"
                : shown.urgency == "must settle" ? "must"
                                                 : "should",
                finding.id, body);
}

std::size_t page_number(Exchange const& exchange, std::size_t pages)
{
    auto const wanted = parse_integer(exchange.text("page"));
    if (!wanted || *wanted < 1) return 1;
    return std::min(static_cast<std::size_t>(*wanted), std::max<std::size_t>(pages, 1));
}

Html turning(std::size_t page, std::size_t pages)
{
    if (pages < 2) return {};
    Html const before =
        page > 1 ? html(R"(<a class="button quiet" href="/findings?page={}">More important</a>)", page - 1)
                 : Html{};
    Html const after =
        page < pages
            ? html(R"(<a class="button quiet" href="/findings?page={}">Less important</a>)", page + 1)
            : Html{};
    return html(R"(<p class="turn">{}{}</p><p class="quiet">Page {} of {}</p>)"
                "\n",
                before, after, page, pages);
}

Html headline(FindingsNow const& now)
{
    std::size_t const seen = now.list.size() - now.open;
    if (now.list.empty())
        return html(R"(<p class="figure">No findings: every link reads like others of its kind.</p>)"
                    "\n");
    return html(R"(<p class="figure"><strong>{}</strong> {}{}</p>)"
                "\n",
                now.open, now.open == 1 ? "finding is open" : "findings are open",
                seen == 0 ? std::string{} : fmt::format(", {} acknowledged", seen));
}

} // namespace

ShownFinding const& FindingsNow::shown(job::JobFinding const& entry) const
{
    for (ShownFinding const& one : snapshot->findings) {
        if (one.entry.finding.id == entry.finding.id) return one;
    }
    return snapshot->findings.front();
}

FindingsNow findings_now(Desk& desk)
{
    FindingsNow now;
    now.snapshot = desk.background().latest();
    if (!now.snapshot) return now;
    for (ShownFinding const& shown : now.snapshot->findings) now.list.push_back(shown.entry);
    job::put_acknowledgements(now.list, desk.job().state().acknowledgements);
    now.open = static_cast<std::size_t>(
        std::count_if(now.list.begin(), now.list.end(), [](auto const& entry) { return entry.is_open(); }));
    return now;
}

std::string finding_address(FindingsNow const& now, std::size_t index)
{
    return fmt::format("/findings?page={}#f-{}", index / on_a_page + 1, now.list[index].finding.id);
}

Result<Reply> findings_page(Desk& desk, Exchange const& exchange)
{
    FindingsNow const now = findings_now(desk);
    Html body = html("<h1>Findings</h1>\n");
    if (!now.snapshot) {
        body += html(R"(<p role="status">The program is comparing all readings …</p>)"
                     "\n");
    } else if (!now.snapshot->failure.empty()) {
        body += notice("bad", now.snapshot->failure);
    } else {
        body += headline(now);
        if (!desk.background().is_current())
            body += html(R"(<p class="quiet" role="status">New data came in: the findings are being updated )"
                         "…</p>\n");
        std::size_t const pages = (now.list.size() + on_a_page - 1) / on_a_page;
        std::size_t const page = page_number(exchange, pages);
        std::size_t const first = (page - 1) * on_a_page;
        for (std::size_t i = first; i < std::min(first + on_a_page, now.list.size()); ++i)
            body += card(desk, exchange, now.list[i], now.shown(now.list[i]));
        body += turning(page, pages);
        return framed(desk, exchange, "Findings",
                      live("findings", fmt::format("/findings?page={}", page), body));
    }
    return framed(desk, exchange, "Findings", live("findings", "/findings", body));
}

Result<Reply> acknowledge_finding(Desk& desk, Exchange const& exchange)
{
    FindingsNow const now = findings_now(desk);
    TRY_ASSIGN(auto const* const entry, job::finding_named(now.list, exchange.text("id")));
    job::Acknowledgement acknowledged;
    acknowledged.finding = entry->finding.id;
    acknowledged.stands = !exchange.has("undo");
    if (!acknowledged.stands && !entry->acknowledged)
        return Error{Errc::conflict, "This finding is not acknowledged, so there is nothing to withdraw"};
    acknowledged.reason = exchange.text("reason");
    acknowledged.evidence = entry->evidence;
    TRY(desk.job().acknowledge(acknowledged));
    desk.changed();
    return Reply::see("/findings#f-" + entry->finding.id);
}

} // namespace guidepin::web
