// SPDX-License-Identifier: Apache-2.0
#include "record/derived_query.hpp"
#include "web/frame.hpp"
#include "web/pages/pages.hpp"

#include "base/text.hpp"
#include "drawing/svg.hpp"
#include "job/paper/row_picture.hpp"
#include "web/pages/link_list.hpp"

#include <array>
#include <set>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

constexpr std::int64_t window = 40;

struct Sort
{
    char const *id, *words;
    record::LinkSort by;
    bool descending;
};
constexpr std::array<Sort, 6> sorts{{
    {"link", "by name", record::LinkSort::link, false},
    {"margin", "smallest margin first", record::LinkSort::margin, false},
    {"latest", "latest test first", record::LinkSort::tested, true},
    {"state", "by state", record::LinkSort::state, false},
    {"zone", "by zone", record::LinkSort::zone, false},
    {"conformity", "least certain first", record::LinkSort::conformity, false},
}};

/// Names of one scope of the progress rows: zones, days, references.
Result<std::set<std::string>> names_of(Desk& desk, char const* scope)
{
    std::set<std::string> names;
    TRY_ASSIGN(auto const* const rows, desk.job().rows());
    for (auto const& row : record::progress_of(*rows, scope)) {
        if (!row.name.empty()) names.insert(row.name);
    }
    return names;
}

Html choice(std::string_view name, std::string_view label, std::string_view any,
            std::set<std::string> const& values, std::string const& chosen)
{
    Html options = option("", any, chosen.empty());
    for (std::string const& value : values) options += option(value, value, value == chosen);
    return html(R"(<label>{}<select name="{}">{}</select></label>)"
                "\n",
                label, name, options);
}

Result<Html> filters(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(auto const zones, names_of(desk, "zone"));
    TRY_ASSIGN(auto const days, names_of(desk, "day"));
    TRY_ASSIGN(auto const references, names_of(desk, "reference"));
    std::set<std::string> cords;
    for (auto const& reference : desk.job().state().references) {
        for (std::string const& cord : {reference.kit.launch, reference.kit.tail}) {
            if (!cord.empty()) cords.insert(cord);
        }
    }
    Html states = option("", "any state", !exchange.has("state"));
    for (char const* state : {"fail", "marginal-fail", "held", "open", "marginal-pass", "pass"})
        states += option(state, drawing::word_of(standing_of(state)), exchange.text("state") == state);
    Html orders;
    for (Sort const& sort : sorts) orders += option(sort.id, sort.words, exchange.text("sort") == sort.id);
    Html const more =
        choice("day", "Day", "any day", days, exchange.text("day")) +
        choice("reference", "Reference", "any reference", references, exchange.text("reference")) +
        choice("cord", "Test cord", "any cord", cords, exchange.text("cord")) +
        html(R"(<label>Margin below, dB<input name="margin" inputmode="decimal" )"
             R"(value="{}"></label>)"
             "\n",
             exchange.text("margin"));
    bool const opened =
        exchange.has("day") || exchange.has("reference") || exchange.has("cord") || exchange.has("margin");
    return html(R"(<form id="search" class="filters" role="search" action="/links" method="get" )"
                R"(hx-get="/links" hx-sync="this:replace" hx-target="#list" hx-select="#list" )"
                R"(hx-swap="outerHTML" hx-push-url="true" hx-trigger="input changed delay:120ms )"
                R"(from:#find, change target:*:not(#find), submit">)"
                "\n"
                R"(<div class="find"><label>Find a link<input type="search" id="find" name="find" )"
                R"(value="{}" placeholder="part of a name, zone or end" autocomplete="off" )"
                R"(autocapitalize="off" spellcheck="false" data-key="/"></label>)"
                R"(<button type="button" class="quiet scan" id="scan" aria-controls="scan-box" )"
                "hidden>Scan a code</button></div>\n"
                R"(<label>State<select name="state">{}</select></label>)"
                "\n"
                R"({}<label>Order<select name="sort">{}</select></label>)"
                "\n<details{}><summary>More filters</summary>"
                R"(<div class="filters">{}</div></details>)"
                "\n<noscript><button>Find</button></noscript></form>\n",
                exchange.text("find"), states,
                choice("zone", "Zone", "any zone", zones, exchange.text("zone")), orders,
                opened ? html(" open") : Html{}, more);
}

/// Opened by the script, which alone can show a camera; outside the search, whose fields it must not join.
Html scan_box()
{
    return html(R"(<section id="scan-box" class="scan-box" aria-label="Scan a code" hidden>)"
                R"(<video muted playsinline aria-label="What the camera sees"></video>)"
                R"(<p id="scan-message" role="status"></p><div class="scan-ways">)"
                R"(<label>Or a photo of the code<input type="file" id="scan-photo" )"
                R"(accept="image/*" capture="environment"></label>)"
                R"(<button type="button" class="quiet" id="scan-end">Close</button></div></section>)"
                "\n");
}

} // namespace

LinkFilter filter_of(Desk& desk, Exchange const& exchange)
{
    LinkFilter filter;
    record::LinkQuery& query = filter.query;
    query.needle = std::string(trimmed(exchange.text("find")));
    query.zone = exchange.text("zone");
    query.state = exchange.text("state");
    query.day = exchange.text("day");
    query.reference = exchange.text("reference");
    query.margin_below_db = typed_number(exchange.text("margin"));
    filter.cord = exchange.text("cord");
    for (Sort const& sort : sorts) {
        if (exchange.text("sort") != sort.id) continue;
        query.sort = sort.by;
        query.descending = sort.descending;
    }
    if (!filter.cord.empty()) {
        for (auto const& reference : desk.job().state().references) {
            if (reference.kit.launch == filter.cord || reference.kit.tail == filter.cord)
                filter.references.push_back(reference.id.text());
        }
    }
    for (char const* name : {"find", "zone", "state", "day", "reference", "margin", "cord", "sort"}) {
        if (!exchange.has(name)) continue;
        filter.address +=
            fmt::format("{}{}={}", filter.address.empty() ? "" : "&", name, url_escaped(exchange.text(name)));
    }
    return filter;
}

/// A cord may belong to several references, so each of them is queried.
Result<record::LinkPage> filtered(Desk& desk, LinkFilter const& filter, std::int64_t offset,
                                  std::int64_t limit)
{
    record::LinkQuery query = filter.query;
    query.offset = offset;
    query.limit = limit;
    TRY_ASSIGN(auto const* const rows, desk.job().rows());
    if (filter.cord.empty()) return record::select_links(*rows, query);
    record::LinkPage all;
    for (std::string const& reference : filter.references) {
        if (!filter.query.reference.empty() && filter.query.reference != reference) continue;
        query.reference = reference;
        query.offset = 0;
        query.limit = -1;
        record::LinkPage page = record::select_links(*rows, query);
        all.total += page.total;
        for (auto& row : page.rows) all.rows.push_back(std::move(row));
    }
    auto const first = std::min<std::size_t>(static_cast<std::size_t>(offset), all.rows.size());
    all.rows.erase(all.rows.begin(), all.rows.begin() + static_cast<std::ptrdiff_t>(first));
    if (limit >= 0 && all.rows.size() > static_cast<std::size_t>(limit))
        all.rows.resize(static_cast<std::size_t>(limit));
    return all;
}

Html link_line(Desk const& desk, record::DerivedLink const& link, std::string const& address, std::int64_t at)
{
    report::Locale const locale = desk.locale();
    job::JobState const& state = desk.job().state();
    Html row;
    if (auto const found = state.link_index.find(link.link);
        found != state.link_index.end() && !link.row.empty()) {
        drawing::Row picture = job::row_of(link.link, state.links[found->second].family, link.row);
        // The line already says this in words; the picture only helps the eye.
        row = html(R"(<span class="row" aria-hidden="true">{}</span>)",
                   drawing::svg(drawing::row_drawing(picture, drawing::RowSize::compact)));
    } else {
        row = html(R"(<span class="row quiet">no reading yet</span>)");
    }
    std::string const worst =
        link.worst_position ? fmt::format("{} at {} nm", *link.worst_position, *link.worst_wavelength_nm)
                            : std::string{};
    Html const margin =
        job::worst_is_dark(link)
            ? html(R"(<span class="margin"><b>no light</b>, <span class="quiet">fibre {}</span></span>)",
                   worst)
        : link.worst_margin_db
            ? html(R"(<span class="margin"><span class="quiet">margin</span> <b>{}</b> dB, )"
                   R"(<span class="quiet">fibre {}</span></span>)",
                   locale.number(*link.worst_margin_db, 2), worst)
            : html(R"(<span class="margin quiet">–</span>)");
    // Why the link does not simply pass.
    Html const reason = link.state == "pass" || link.state == "open" || link.reason.empty()
                            ? Html{}
                            : html(R"(<span class="reason">{}</span>)", with_times(desk, link.reason));
    return html(R"(<li><a href="{}&amp;at={}{}"><span class="id">{}</span>)"
                R"(<span class="zone quiet">{}</span>{}{}{}{}</a></li>)"
                "\n",
                link_address(link.link), at, address.empty() ? std::string{} : "&" + address, link.link,
                link.zone, state_mark(link.state), row, margin, reason);
}

Result<Reply> links_page(Desk& desk, Exchange const& exchange)
{
    LinkFilter const filter = filter_of(desk, exchange);
    std::int64_t const from = std::max<std::int64_t>(0, parse_integer(exchange.text("from")).value_or(0));
    TRY_ASSIGN(record::LinkPage const page, filtered(desk, filter, from, window));
    std::string const base = "/links?" + filter.address + (filter.address.empty() ? "" : "&");
    Html lines;
    std::int64_t at = from;
    for (record::DerivedLink const& link : page.rows) lines += link_line(desk, link, filter.address, at++);
    std::int64_t const last = from + static_cast<std::int64_t>(page.rows.size());
    Html list = html(R"(<p class="quiet" role="status">{}</p>)"
                     "\n"
                     R"(<ol class="links">)"
                     "\n{}</ol>\n",
                     page.total == 0 ? std::string{"No link matches."}
                                     : fmt::format("{} to {} of {}", from + 1, last, page.total),
                     lines);
    Html turn;
    if (from > 0)
        turn += html(R"(<a class="button quiet" rel="prev" href="{}from={}">Previous</a> )", base,
                     std::max<std::int64_t>(0, from - window));
    if (last < page.total)
        turn += html(R"(<a class="button quiet" rel="next" href="{}from={}">Next</a>)", base, last);
    if (!turn.empty())
        list += html(R"(<nav class="turn" aria-label="More links">{}</nav>)"
                     "\n",
                     turn);
    TRY_ASSIGN(Html const search, filters(desk, exchange));
    // A refresh that arrives while somebody types is dropped: it would replace the new list by the old one.
    Html const shown = html(R"(<div id="list" class="live" hx-get="{}from={}" hx-trigger="gp:changed )"
                            R"(from:body" hx-select="#list" hx-swap="outerHTML" hx-sync="#search:drop">)"
                            "\n{}</div>\n",
                            base, from, list);
    Html const body = html("<h1>Links</h1>\n{}{}{}", search, scan_box(), shown);
    return framed(desk, exchange, "Links", body);
}

} // namespace guidepin::web
