// SPDX-License-Identifier: Apache-2.0
#include "record/derived_query.hpp"
#include "web/frame.hpp"
#include "web/pages/pages.hpp"

#include "base/text.hpp"
#include "drawing/font_metrics.hpp"
#include "drawing/site_map.hpp"
#include "drawing/svg.hpp"
#include "job/paper/pictures.hpp"

#include <algorithm>
#include <set>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

constexpr std::int64_t lines_at_once = 48;  // each cell carries its reading, so a zone is shown page by page
constexpr std::int64_t whole_at_most = 400; // links of a site that is shown at a glance

/// The lines of one query, as a zone of the drawing.
Result<std::int64_t> add_zone(Desk& desk, record::LinkQuery const& query, drawing::SiteMap& map)
{
    TRY_ASSIGN(auto const* const rows, desk.job().rows());
    record::LinkPage const page = record::select_links(*rows, query);
    job::JobState const& state = desk.job().state();
    report::Locale const locale = desk.locale();
    drawing::SiteZone picture;
    picture.name = query.zone;
    for (record::DerivedLink const& link : page.rows) {
        auto const found = state.link_index.find(link.link);
        if (found == state.link_index.end()) continue;
        int const positions = state.links[found->second].family.positions();
        picture.columns = std::max(picture.columns, positions);
        picture.lines.push_back(job::site_line_of(state, locale, link));
    }
    if (!picture.lines.empty()) map.zones.push_back(std::move(picture));
    return page.total;
}

/// As wide as a single zone is drawn, so that on a phone its cells are as large as they can be.
double tight_width(drawing::SiteMap const& map)
{
    double width = 0;
    for (drawing::SiteZone const& zone : map.zones) {
        double names = 0;
        for (drawing::SiteLine const& line : zone.lines)
            names = std::max(names, drawing::text_width(line.link, 8.5) + 8);
        width = std::max(width, std::min(names, 110.0) + zone.columns * 9.0 + 2);
    }
    return std::max(width, 120.0);
}

Html tab(std::string_view address, std::string_view name, bool here)
{
    return html(R"(<li><a href="{}"{}>{}</a></li>)", address, here ? html(" aria-current=\"true\"") : Html{},
                name);
}

} // namespace

Result<Reply> site_map_page(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(auto const* const rows, desk.job().rows());
    auto const progress = record::progress_of(*rows, "zone");
    std::set<std::string> zones;
    std::int64_t links = 0;
    for (auto const& row : progress) {
        zones.insert(row.name);
        links += row.links;
    }
    bool const may_be_whole = links <= whole_at_most;
    std::string zone = exchange.text("zone");
    bool const whole = may_be_whole && !zones.contains(zone);
    if (!whole && !zones.contains(zone) && !zones.empty()) zone = *zones.begin();
    std::string const day = exchange.text("day");
    std::int64_t const from = std::max<std::int64_t>(0, parse_integer(exchange.text("from")).value_or(0));
    drawing::SiteMap map;
    map.name = whole ? std::string{"Margins of the whole site"} : fmt::format("Margins in {}", zone);
    map.each_cell = !whole;
    record::LinkQuery query;
    query.day = day;
    std::int64_t total = 0;
    if (whole) {
        for (std::string const& name : zones) {
            query.zone = name;
            if (!name.empty()) TRY(add_zone(desk, query, map));
        }
    } else {
        query.zone = zone;
        query.offset = from;
        query.limit = lines_at_once;
        TRY_ASSIGN(total, add_zone(desk, query, map));
    }
    Html tabs = may_be_whole && !zones.empty() ? tab("/site-map", "Whole site", whole) : Html{};
    for (std::string const& name : zones)
        tabs += tab("/site-map?zone=" + url_escaped(name), name.empty() ? "not in the schedule" : name,
                    !whole && name == zone);
    std::string const base = fmt::format("/site-map?zone={}{}", whole ? "" : url_escaped(zone),
                                         day.empty() ? "" : "&day=" + url_escaped(day));
    Html turn;
    if (from > 0)
        turn += html(R"(<a class="button quiet" href="{}&amp;from={}">Previous</a> )", base,
                     std::max<std::int64_t>(0, from - lines_at_once));
    if (!whole && from + lines_at_once < total)
        turn += html(R"(<a class="button quiet" href="{}&amp;from={}">Next</a>)", base, from + lines_at_once);
    Html seen;
    if (zones.empty()) {
        seen = html(R"(<p class="sentence">No links yet: bring in the schedule.</p>)"
                    "\n");
    } else {
        seen = html(R"(<p class="quiet">Links run down, positions run across. A cell fills up to )"
                    "attenuation / limit: an overfull cell fails, a hatched cell is held, an "
                    "outlined cell is open. A bar through a whole row marks a link that fails by "
                    "polarity or by length. A column that stands out points to a test cord, a row to "
                    "its link, a block to a time.</p>\n");
        Html const picture =
            drawn_both(drawing::site_drawing(map, whole ? 336 : tight_width(map)),
                       drawing::site_drawing(map, whole ? 1150 : std::max(340.0, tight_width(map))));
        seen +=
            whole ? html(R"({}<p class="quiet">Choose a zone to read single cells.</p>)"
                         "\n",
                         picture)
                  : html(R"(<div class="mapped"><div class="picture" tabindex="0" role="group" )"
                         R"(aria-label="{}: arrow keys move from cell to cell">{}</div>)"
                         R"(<p id="cell-text" class="cell-text" aria-live="polite">Point at a cell or tap )"
                         "it to read it. On a keyboard the arrow keys move from cell to cell.</p></div>\n"
                         "{}",
                         map.name, picture,
                         turn.empty() ? Html{}
                                      : html(R"(<nav class="turn" aria-label="More links">{}</nav>)", turn));
    }
    return framed(desk, exchange, "Site map",
                  html("<h1>Site map of margins</h1>\n"
                       R"(<nav aria-label="Zones"><ul class="tabs">{}</ul></nav>)"
                       "\n{}",
                       tabs, live("map", fmt::format("{}&from={}", base, from), seen)));
}

} // namespace guidepin::web
