// SPDX-License-Identifier: Apache-2.0
// The register of the kit: every item with its state and wear; one item with its ends, its history and the
// forms to change it.
#include "web/pages/kit_items.hpp"

#include "base/text.hpp"
#include "drawing/svg.hpp"
#include "job/kit/kit_register.hpp"
#include "web/frame.hpp"
#include "web/pages/pages.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::web {

using job::KitSort;
using job::KitStanding;
using setup::Fitness;

namespace {

/// A sign and a word, the same as for links.
Html fitness_mark(KitStanding const& standing)
{
    using drawing::Standing;
    bool const refused = standing.fitness == Fitness::refused, fit = standing.fitness == Fitness::fit;
    Standing const sign_of = standing.item.removed ? Standing::open
                             : fit                 ? Standing::pass
                             : refused             ? Standing::fail
                                                   : Standing::held;
    drawing::Scene sign = drawing::sign_drawing(sign_of);
    sign.name.clear();
    sign.description.clear();
    return html(R"(<span class="state {}"><span class="sign" aria-hidden="true">{}</span>{}</span>)",
                standing.item.removed ? "open"
                : fit                 ? "pass"
                : refused             ? "fail"
                                      : "held",
                drawing::svg(sign),
                standing.item.removed ? "left the kit" : setup::name_of(standing.fitness));
}

/// Count against limit as one lying tank; empty if no limit is set.
Html wear_bar(int count, std::optional<int> limit)
{
    using namespace drawing;
    if (!limit) return {};
    Scene scene;
    scene.width = 120;
    scene.height = 12;
    double const level = std::min(1.0, static_cast<double>(count) / std::max(1, *limit));
    bool const over = count > *limit;
    scene.add(Rect{{0.5, 2.5, 119, 7}, 0, {}, {paint(Token::quiet), 1, false}});
    if (count > 0)
        scene.add(
            Rect{{0.5, 2.5, std::max(2.0, 119 * level), 7}, 0, paint(over ? Token::fail : Token::pass), {}});
    if (over) scene.add(Rect{{116, 0, 4, 12}, 0, paint(Token::fail), {}});
    return html(R"(<span class="wear" aria-hidden="true">{}</span>)", drawing::svg(scene));
}

std::string count_text(int count, std::optional<int> limit)
{
    return limit ? fmt::format("{} of {}", count, *limit) : fmt::format("{}", count);
}

std::string what_text(Desk const& desk, KitStanding const& standing)
{
    job::KitItem const& item = standing.item;
    if (item.is_instrument())
        return fmt::format("{}{}{}, {}", job::name_of(item.sort), item.name.empty() ? "" : ": ", item.name,
                           plant::words_of(item.port.face.family));
    if (item.sort == KitSort::cord) {
        std::vector<std::string> roles;
        for (int i = 0; i < 5; ++i) {
            if (item.cord.roles.may(static_cast<setup::Role>(i)))
                roles.emplace_back(setup::name_of(static_cast<setup::Role>(i)));
        }
        return fmt::format("{}, type {}, {}, {} grade{}", plant::words_of(item.cord.ends[0].plug.family),
                           item.cord.type, desk.locale().length(item.cord.length),
                           facts::name_of(item.cord.grade),
                           roles.size() == 5 ? "" : ": " + joined(roles, ", "));
    }
    if (item.sort == KitSort::adapter)
        return fmt::format("{} piece{}, {} keys", item.count, plural_ending(item.count),
                           plant::name_of(item.keys));
    return "pin tool";
}

std::string pins_text(KitStanding const& standing)
{
    std::vector<std::string> ends;
    for (auto const& end : standing.ends) {
        if (end.pins) ends.emplace_back(plant::name_of(*end.pins));
    }
    return joined(ends, " to ");
}

std::string day_words(Desk const& desk, setup::Day day)
{
    auto const at = parse_instant(job::day_text(day) + "T12:00:00Z");
    return at ? desk.locale().date(*at) : job::day_text(day);
}

Html item_line(Desk const& desk, KitStanding const& standing)
{
    job::KitItem const& item = standing.item;
    Html wear, side;
    if (item.sort == KitSort::cord) {
        wear = wear_bar(standing.matings, standing.matings_limit);
        side = html(R"(<b>{}</b> <span class="quiet">matings</span>)",
                    count_text(standing.matings, standing.matings_limit));
    } else if (item.is_instrument()) {
        side = item.calibration_due ? html(R"(<span class="quiet">calibrated until</span> <b>{}</b>)",
                                           day_words(desk, *item.calibration_due))
                                    : html(R"(<span class="quiet">calibration not stated</span>)");
    }
    std::string what = what_text(desk, standing);
    if (item.sort == KitSort::cord) what += "; " + pins_text(standing);
    return html(R"(<li><a href="{}"><span class="id">{}</span><span class="zone quiet">{}</span>{})"
                R"(<span class="row">{}</span><span class="margin">{}</span></a></li>)"
                "\n",
                item_address(item.serial), item.serial, what, fitness_mark(standing), wear, side);
}

Html findings_list(KitStanding const& standing)
{
    Html list;
    for (auto const& finding : standing.findings) {
        Html decision;
        if (!finding.override_reason.empty())
            decision = html(" Used by decision of {}.", finding.override_reason);
        list += html(R"(<li class="{}"><strong>{}</strong> {}{}</li>)"
                     "\n",
                     finding.fitness == Fitness::refused ? "bad" : "", setup::name_of(finding.fitness),
                     finding.text, decision);
    }
    return list.empty() ? Html{}
                        : html(R"(<ul class="reasons">{}</ul>)"
                               "\n",
                               list);
}

Html face_cell(Desk const& desk, job::EndStanding const& end)
{
    if (!end.face) return html(R"(<span class="quiet">not yet</span>)");
    Html breaches;
    for (std::string const& breach : end.face->breaches) breaches += html("<br>{}", breach);
    if (!end.face->note.empty() && !end.face->pass) breaches += html("<br>{}", end.face->note);
    Html const word = end.face->outdated
                          ? html(R"(<span class="state held">before the last pin change</span>)")
                          : state_mark(end.face->pass ? "pass" : "fail");
    return html(R"({} {}, {}<br><span class="quiet">{}, edition {}</span>{})", word,
                time_mark(desk, end.face->at), end.face->person, end.face->type, end.face->edition, breaches);
}

/// One card an end: a table would not fit a phone.
Html ends_cards(Desk const& desk, KitStanding const& standing)
{
    Html cards;
    for (auto const& end : standing.ends) {
        char const* const name = standing.item.is_instrument() ? "Port"
                                 : end.end == 0                ? "Near end, at the instrument"
                                                               : "Far end, at the cabling";
        Html facts = fact("Pins", fmt::format("{}{}", end.pins ? plant::name_of(*end.pins) : "none",
                                              end.exchangeable ? ", exchangeable" : "")) +
                     fact("Matings", html("{}{}", count_text(end.matings, standing.matings_limit),
                                          wear_bar(end.matings, standing.matings_limit)));
        if (standing.item.sort == KitSort::cord)
            facts += fact("Pin changes", count_text(end.pin_changes, standing.pin_changes_limit));
        facts += fact("Last inspection", face_cell(desk, end));
        cards += html(R"(<section class="card"><h2>{}</h2><dl>{}</dl></section>)"
                      "\n",
                      name, facts);
    }
    return cards.empty() ? Html{}
                         : html(R"(<div class="beside ends">{}</div>)"
                                "\n",
                                cards);
}

/// What people recorded about the item, the latest first.
Html history(Desk const& desk, std::string const& serial)
{
    struct Line
    {
        Instant at;
        Html text;
    };
    std::vector<Line> lines;
    job::KitRecords const& kit = desk.job().state().kit;
    auto const by = [&](Instant const& at, std::string const& person) {
        return html(R"(<br><span class="quiet">{}, {}</span>)", person, time_mark(desk, at));
    };
    for (job::KitItem const& item : kit.items) {
        if (item.serial != serial) continue;
        char const* const what = item.removed       ? "left the kit"
                                 : item.counts_anew ? "renewed, counts start again"
                                                    : "registered";
        lines.push_back({item.at, html("{}{}{}{}", what, item.reason.empty() ? "" : ": ", item.reason,
                                       by(item.at, item.person))});
    }
    for (job::PinsChanged const& change : kit.pin_changes) {
        if (change.item != serial) continue;
        lines.push_back(
            {change.at,
             html("{} end {} {}, {} pins counted{}{}{}", job::end_name(change.end),
                  change.from == change.to ? "still" : "now", plant::name_of(change.to), change.pins_counted,
                  change.note.empty() ? "" : ": ", change.note, by(change.at, change.person))});
    }
    for (job::FaceInspected const& inspected : kit.inspections) {
        if (inspected.seen.item != serial) continue;
        auto const words = job::finding_words(inspected.seen);
        lines.push_back({inspected.at, html("{} end inspected{}: {}{}{}{}", job::end_name(inspected.seen.end),
                                            inspected.cleaned ? " after cleaning" : "",
                                            words.empty() ? "clean" : joined(words, "; "),
                                            inspected.seen.loose_debris ? "; loose debris" : "",
                                            inspected.note.empty() ? std::string() : ": " + inspected.note,
                                            by(inspected.at, inspected.person))});
    }
    for (job::KitOverride const& decision : kit.overrides) {
        if (decision.item != serial) continue;
        lines.push_back(
            {decision.at, html("used in spite of a refusal ({}): {}{}", in_words(job::about_text(decision)),
                               decision.reason, by(decision.at, decision.person))});
    }
    std::stable_sort(lines.begin(), lines.end(), [](Line const& a, Line const& b) { return b.at < a.at; });
    Html list;
    for (Line const& line : lines) list += html("<li>{}</li>\n", line.text);
    return list.empty()
               ? html(R"(<p class="quiet">The item comes from the job sheet. Nothing else is recorded )"
                      "yet.</p>\n")
               : html(R"(<ul class="notes">{}</ul>)"
                      "\n",
                      list);
}

} // namespace

std::string item_address(std::string_view serial)
{
    return "/kit/item?id=" + url_escaped(serial);
}

Html kit_list(Desk& desk, Exchange const& exchange)
{
    job::KitRegister const kit = job::kit_register(desk.job().state(), desk.today());
    Html instruments, cords, others, removed;
    for (KitStanding const& standing : kit.items) {
        Html const line = item_line(desk, standing);
        if (standing.item.removed) {
            removed += line;
        } else if (standing.item.is_instrument()) {
            instruments += line;
        } else if (standing.item.sort == KitSort::cord) {
            cords += line;
        } else {
            others += line;
        }
    }
    std::vector<std::string> counts;
    for (auto const& [fitness, word] :
         {std::pair{Fitness::fit, "fit"}, std::pair{Fitness::warned, "warned"},
          std::pair{Fitness::refused, "refused"}, std::pair{Fitness::overridden, "overridden"}}) {
        if (kit.count(fitness) > 0) counts.push_back(fmt::format("{} {}", kit.count(fitness), word));
    }
    Html list = html(R"(<p class="figure">{}</p>)"
                     "\n",
                     joined(counts, ", "));
    auto const group = [&](char const* heading, Html const& lines) {
        if (!lines.empty())
            list += html(R"(<h3>{}</h3><ol class="links kit-list">)"
                         "\n{}</ol>\n",
                         heading, lines);
    };
    group("Instruments", instruments);
    group("Test cords", cords);
    group("Adapters and tools", others);
    group("Left the kit", removed);
    if (kit.items.empty())
        list += html(R"(<p class="sentence">No kit yet. Bring in a kit file: instruments, cords, )"
                     "adapters and pin tools.</p>\n");
    Html body = live("kit", "/kit", list);
    return exchange.may(Access::lead) ? body + kit_register_forms(exchange, kit) : body;
}

Result<Reply> kit_item_page(Desk& desk, Exchange const& exchange)
{
    std::string const serial = exchange.text("id");
    job::KitRegister const kit = job::kit_register(desk.job().state(), desk.today());
    KitStanding const* const standing = kit.find(serial);
    if (!standing) return Error{Errc::not_found, fmt::format("The kit has no \"{}\"", serial)};
    job::KitItem const& item = standing->item;
    Html facts = fact("What", what_text(desk, *standing));
    if (item.is_instrument())
        facts += fact("Calibrated", item.calibrated ? day_words(desk, *item.calibrated) : "not stated") +
                 fact("Calibrated until",
                      item.calibration_due ? day_words(desk, *item.calibration_due) : "not stated");
    if (!standing->ends.empty())
        facts += fact("Used in", fmt::format("{} reference{}, {} link{}", standing->references,
                                             plural_ending(standing->references), standing->links,
                                             plural_ending(standing->links)));
    if (item.matings_before > 0)
        facts += fact("Matings before registration", fmt::format("{}", item.matings_before));
    Html const seen = html(R"(<div class="heading"><h1 class="breakable">{}</h1>{}</div>)"
                           "\n"
                           R"({}<dl class="facts">{}</dl>)"
                           "\n{}<section><h2>History</h2>{}</section>\n",
                           item.serial, fitness_mark(*standing), findings_list(*standing), facts,
                           ends_cards(desk, *standing), history(desk, item.serial));
    Html const doing = kit_item_forms(desk, exchange, *standing);
    return framed(desk, exchange, item.serial,
                  live("item", item_address(serial), seen) +
                      html(R"(<section class="doing">{}</section>)"
                           "\n"
                           R"(<p><a class="button quiet" href="/kit">The whole kit</a></p>)"
                           "\n",
                           doing));
}

} // namespace guidepin::web
