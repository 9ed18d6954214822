// SPDX-License-Identifier: Apache-2.0
// The register of the kit: every item with its state and wear; one item with its ends, its history and the
// forms to change it.
#include "web/pages/kit_items.hpp"

#include "base/text.hpp"
#include "drawing/svg.hpp"
#include "job/kit/kit_register.hpp"
#include "web/frame.hpp"
#include "web/pages/pages.hpp"
#include "web/pages/upload.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

using job::KitSort;
using job::KitStanding;
using setup::Fitness;

constexpr int finding_lines = 4;

std::string item_address(std::string_view serial)
{
    return "/kit/item?id=" + url_escaped(serial);
}

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
                           family_words(item.port.face.family));
    if (item.sort == KitSort::cord) {
        std::vector<std::string> roles;
        for (int i = 0; i < 5; ++i) {
            if (item.cord.roles.may(static_cast<setup::Role>(i)))
                roles.emplace_back(setup::name_of(static_cast<setup::Role>(i)));
        }
        return fmt::format("{}, type {}, {}, {} grade{}", family_words(item.cord.ends[0].plug.family),
                           item.cord.type, desk.locale().length(item.cord.length),
                           facts::name_of(item.cord.grade),
                           roles.size() == 5 ? "" : ": " + joined(roles, ", "));
    }
    if (item.sort == KitSort::adapter)
        return fmt::format("{} piece{}, {} keys", item.count, item.count == 1 ? "" : "s",
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

/// The criteria of IEC 61300-3-35 as a person names them; `type` is their id in the tables.
std::string face_type_words(std::string_view type)
{
    if (type == "multimode-pc") return "multimode, PC";
    if (type == "single-mode-pc") return "single-mode, PC";
    if (type == "single-mode-pc-26") return "single-mode, PC, return loss 26 dB";
    if (type == "single-mode-apc") return "single-mode, APC";
    return in_words(type);
}

Html hidden(std::string_view name, std::string_view value)
{
    return html(R"(<input type="hidden" name="{}" value="{}">)", name, value);
}

Html limit_fields(std::optional<int> matings, std::optional<int> pin_changes)
{
    auto const shown = [](std::optional<int> limit) {
        return limit ? fmt::format("{}", *limit) : std::string();
    };
    return html(R"(<div class="filters"><label>Matings of an end)"
                R"(<input name="matings" inputmode="numeric" value="{}" maxlength="7" )"
                R"(autocomplete="off"></label><label>Pin changes of an end)"
                R"(<input name="pin-changes" inputmode="numeric" value="{}" maxlength="7" )"
                R"(autocomplete="off"></label>)",
                shown(matings), shown(pin_changes));
}

Html end_choice(KitStanding const& standing)
{
    if (standing.ends.size() < 2) return hidden("end", "near");
    return html(R"(<label>End<select name="end"><option value="near">near (instrument)</option>)"
                R"(<option value="far" selected>far (cabling)</option></select></label>)");
}

Html pin_form(Exchange const& exchange, KitStanding const& standing)
{
    bool any = false;
    for (auto const& end : standing.ends) any = any || end.exchangeable;
    if (standing.item.sort != KitSort::cord || !any) return {};
    return html(R"(<details class="do" id="pins"><summary>Enter a pin change or a pin )"
                "count</summary>\n"
                R"({}{}<p class="notice">A loose pin damages the next connector. Check the key )"
                "side, count the pins, and inspect the end again before you mate it.</p>"
                R"(<div class="filters">{}<label>The end is now<select name="to">)"
                R"(<option value="pinned">pinned</option><option )"
                R"(value="unpinned">unpinned</option></select></label><label>Pins counted)"
                R"(<input name="pins" inputmode="numeric" required maxlength="1" )"
                R"(autocomplete="off"></label></div><p class="quiet">Count the pins that you took )"
                "out, or the pins in the plug if you put them in.</p><label>Note"
                R"(<input name="note" maxlength="400"></label>)"
                "<button>Save the pin change</button>{}</details>\n",
                kept_form(exchange, "/kit/pins", "Pin change"), hidden("item", standing.item.serial),
                end_choice(standing), end_form());
}

Html inspection_form(Desk const& desk, Exchange const& exchange, KitStanding const& standing)
{
    if (standing.ends.empty()) return {};
    std::string const usual = job::usual_face_type(standing.item, 1);
    std::string const edition = job::usual_edition(desk.job().state().tables, usual);
    Html rows, lines;
    for (auto const& [of_edition, type] : job::end_face_choices(desk.job().state().tables))
        rows += option(fmt::format("{}|{}", type, of_edition),
                       fmt::format("{}, edition {}", face_type_words(type), of_edition),
                       type == usual && of_edition == edition);
    for (int line = 1; line <= finding_lines; ++line)
        lines += html(R"(<div class="inspected"><label>Position<input name="position-{}" )"
                      R"(inputmode="numeric" maxlength="2" autocomplete="off"></label><label>Zone)"
                      R"(<select name="zone-{}"><option>A</option><option>B</option></select></label>)"
                      R"(<label>What<select name="what-{}"><option>defect</option>)"
                      "<option>scratch</option></select></label><label>Size, µm"
                      R"(<input name="size-{}" inputmode="decimal" maxlength="6" )"
                      R"(autocomplete="off"></label></div>)"
                      "\n",
                      line, line, line, line);
    return html(R"(<details class="do" id="inspect"><summary>Enter an inspection</summary>)"
                "\n"
                R"({}{}<p class="notice">Switch the source off, and be sure that no other light is )"
                "in the fibre, before anybody looks at an end.</p>{}"
                R"(<label>Judged by IEC 61300-3-35<select name="rows">{}</select></label><fieldset>)"
                "<legend>What you saw. Leave it empty for a clean end.</legend>{}"
                "<label>More findings, one per line, such as 3 A scratch 2.5"
                R"(<textarea name="more" rows="2" maxlength="4000"></textarea></label></fieldset>)"
                R"(<label class="tick"><input type="checkbox" name="debris" value="yes"> loose )"
                R"(debris seen</label><label class="tick"><input type="checkbox" name="cleaned" )"
                R"(value="yes"> cleaned just before</label><label>Note)"
                R"(<input name="note" maxlength="400"></label>)"
                "<button>Save the inspection</button>{}</details>\n",
                kept_form(exchange, "/kit/inspection", "Inspection"), hidden("item", standing.item.serial),
                end_choice(standing), rows, lines, end_form());
}

Html lead_forms(Exchange const& exchange, KitStanding const& standing)
{
    std::string const& serial = standing.item.serial;
    Html forms;
    if (standing.fitness == Fitness::refused && !standing.item.removed)
        forms += html(R"(<details class="do" id="override"><summary>Use it anyway</summary>)"
                      "\n{}{}<p>This covers the present reasons for the refusal. The record keeps your "
                      "name and reason, and the item shows them.</p><label>Reason"
                      R"(<input name="reason" required maxlength="400"></label>)"
                      "<button>Use it anyway</button>{}</details>\n",
                      kept_form(exchange, "/kit/override", "Override"), hidden("item", serial), end_form());
    if (standing.item.sort == KitSort::cord)
        forms += html(R"(<details class="do"><summary>Own limits</summary>)"
                      "\n"
                      R"({}{}{}</div><p class="quiet">An empty field takes the limit of the register.</p>)"
                      "<button>Save the limits</button>{}</details>\n",
                      form(exchange, "/kit/limits"), hidden("item", serial),
                      limit_fields(standing.item.matings_limit, standing.item.pin_changes_limit), end_form());
    if (!standing.item.removed)
        forms += html(R"(<details class="do"><summary>Renew the item, or remove it from the kit</summary>)"
                      "\n"
                      R"({}{}<label>What happened<select name="action">)"
                      R"(<option value="remove">it leaves the kit</option>)"
                      R"(<option value="renew">its ends are new: start the counts )"
                      "again</option></select></label><label>Reason"
                      R"(<input name="reason" required maxlength="400"></label>)"
                      "<button>Keep it</button>{}</details>\n",
                      form(exchange, "/kit/leave"), hidden("item", serial), end_form());
    return forms;
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
                date_time(desk, end.face->at), end.face->person, end.face->type, end.face->edition, breaches);
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
        return html(R"(<br><span class="quiet">{}, {}</span>)", person, date_time(desk, at));
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
        lines.push_back({decision.at,
                         html("used in spite of a refusal ({}): {}{}", in_words(joined(decision.about, ", ")),
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

std::optional<int> limit_of(Exchange const& exchange, char const* name, bool& good)
{
    std::string const text(trimmed(exchange.text(name)));
    if (text.empty()) return std::nullopt;
    auto const number = parse_integer(text);
    good = good && number && *number >= 1 && *number <= 1'000'000;
    return good ? std::optional<int>{static_cast<int>(*number)} : std::nullopt;
}

Result<int> end_of(Exchange const& exchange)
{
    auto const end = job::parse_end(exchange.text("end"));
    if (!end) return Error{Errc::invalid_input, "Say which end: near or far"};
    return *end;
}

} // namespace

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
    if (!exchange.may(Access::lead)) return body;
    body += html(R"(<details class="do"><summary>Bring in a kit file</summary>)"
                 "\n"
                 R"({}<p class="quiet">Instruments with their calibration, cords with both ends, )"
                 "adapters, pin tools. An item that is already in the kit is replaced; its counts "
                 R"(stay.</p><label>Kit file<input type="file" name="file" accept=".toml,.txt" )"
                 "required></label><button>Bring in the kit</button>{}</details>\n",
                 form(exchange, "/kit/add"), end_form());
    body += html(R"(<details class="do"><summary>Limits of the register</summary>)"
                 "\n"
                 R"({}{}<label>Warn from, % of a limit<input name="warn-at" inputmode="decimal" )"
                 R"(value="{}" maxlength="5"></label><label>Warn before a calibration ends, days)"
                 R"(<input name="days" inputmode="numeric" value="{}" maxlength="4"></label>)"
                 "<label>Inspection of every end of a cord"
                 R"(<select name="inspected">{}{}</select></label></div>)"
                 R"(<p class="quiet">An empty field sets no limit. No standard that we found sets a )"
                 "number of pin changes.</p><button>Save the limits</button>{}</details>\n",
                 form(exchange, "/kit/limits"), limit_fields(kit.limits.matings, kit.limits.pin_changes),
                 number_text(kit.limits.warn_at * 100), kit.limits.calibration_warning_days,
                 option("no", "not required", !kit.limits.end_faces_required),
                 option("yes", "required", kit.limits.end_faces_required), end_form());
    return body;
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
                                             standing->references == 1 ? "" : "s", standing->links,
                                             standing->links == 1 ? "" : "s"));
    if (item.matings_before > 0)
        facts += fact("Matings before registration", fmt::format("{}", item.matings_before));
    Html const seen = html(R"(<div class="heading"><h1 class="breakable">{}</h1>{}</div>)"
                           "\n"
                           R"({}<dl class="facts">{}</dl>)"
                           "\n{}<section><h2>History</h2>{}</section>\n",
                           item.serial, fitness_mark(*standing), findings_list(*standing), facts,
                           ends_cards(desk, *standing), history(desk, item.serial));
    Html doing;
    if (exchange.may(Access::enter) && !item.removed)
        doing += pin_form(exchange, *standing) + inspection_form(desk, exchange, *standing);
    if (exchange.may(Access::lead)) doing += lead_forms(exchange, *standing);
    return framed(desk, exchange, item.serial,
                  live("item", item_address(serial), seen) +
                      html(R"(<section class="doing">{}</section>)"
                           "\n"
                           R"(<p><a class="button quiet" href="/kit">The whole kit</a></p>)"
                           "\n",
                           doing));
}

Result<Reply> change_pins(Desk& desk, Exchange const& exchange)
{
    job::PinsChanged change;
    change.item = exchange.text("item");
    TRY_ASSIGN(change.end, end_of(exchange));
    TRY_ASSIGN(change.to, plant::parse_pins(exchange.text("to")));
    auto const counted = parse_integer(trimmed(exchange.text("pins")));
    if (!counted || *counted < 0 || *counted > 8)
        return Error{Errc::invalid_input, "Count the pins and write the number: a plug has 2"};
    change.pins_counted = static_cast<int>(*counted);
    change.note = exchange.text("note").substr(0, 400);
    change.key = exchange.text("key").substr(0, 64);
    TRY(desk.job().change_pins(change));
    return Reply::see(item_address(change.item));
}

Result<Reply> enter_inspection(Desk& desk, Exchange const& exchange)
{
    job::FaceInspected inspection;
    inspection.seen.item = exchange.text("item");
    TRY_ASSIGN(inspection.seen.end, end_of(exchange));
    std::string const rows = exchange.text("rows");
    if (auto const bar = rows.find('|'); bar != std::string::npos) {
        inspection.seen.type = rows.substr(0, bar);
        inspection.edition = rows.substr(bar + 1);
    }
    for (int line = 1; line <= finding_lines; ++line) {
        std::string const position(trimmed(exchange.text(fmt::format("position-{}", line))));
        std::string const size(trimmed(exchange.text(fmt::format("size-{}", line))));
        if (position.empty() && size.empty()) continue;
        auto const number = typed_number(size);
        TRY(job::add_finding(inspection.seen, fmt::format("{} {} {} {}", position.empty() ? "?" : position,
                                                          exchange.text(fmt::format("zone-{}", line)),
                                                          exchange.text(fmt::format("what-{}", line)),
                                                          number ? number_text(*number) : "?")));
    }
    std::string const more = exchange.text("more");
    for (std::string_view const line : split(more, '\n')) {
        if (!trimmed(line).empty()) TRY(job::add_finding(inspection.seen, trimmed(line)));
    }
    inspection.seen.loose_debris = exchange.has("debris");
    inspection.cleaned = exchange.has("cleaned");
    inspection.note = exchange.text("note").substr(0, 400);
    inspection.key = exchange.text("key").substr(0, 64);
    TRY(desk.job().inspect_face(inspection));
    return Reply::see(item_address(inspection.seen.item));
}

Result<Reply> override_item(Desk& desk, Exchange const& exchange)
{
    std::string const item = exchange.text("item");
    TRY(desk.job().override_item(item, exchange.text("reason").substr(0, 400),
                                 exchange.text("key").substr(0, 64)));
    return Reply::see(item_address(item));
}

Result<Reply> limit_kit(Desk& desk, Exchange const& exchange)
{
    bool good = true;
    auto const matings = limit_of(exchange, "matings", good);
    auto const pin_changes = limit_of(exchange, "pin-changes", good);
    if (!good) return Error{Errc::invalid_input, "A limit is a whole number from 1 to 1000000, or empty"};
    std::string const item = exchange.text("item");
    if (!item.empty()) {
        TRY(desk.job().limit_item(item, matings, pin_changes));
        return Reply::see(item_address(item));
    }
    setup::RegisterLimits limits;
    limits.matings = matings;
    limits.pin_changes = pin_changes;
    auto const warn = typed_number(exchange.text("warn-at"));
    auto const days = parse_integer(trimmed(exchange.text("days")));
    if (!warn || !days || *days < 0 || *days > 3660)
        return Error{Errc::invalid_input,
                     "Write the warning level in % of a limit, and 0 to 3660 days before a calibration ends"};
    limits.warn_at = *warn / 100;
    limits.calibration_warning_days = static_cast<int>(*days);
    limits.end_faces_required = exchange.text("inspected") == "yes";
    TRY(desk.job().limit_kit(limits));
    return Reply::see("/kit");
}

Result<Reply> leave_kit(Desk& desk, Exchange const& exchange)
{
    std::string const item = exchange.text("item"), reason = exchange.text("reason").substr(0, 400);
    if (exchange.text("action") == "renew") {
        TRY(desk.job().renew_item(item, reason));
        return Reply::see(item_address(item));
    }
    TRY(desk.job().remove_item(item, reason));
    return Reply::see("/kit");
}

Result<Reply> add_kit(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(Upload const* const file, uploaded(exchange));
    TRY_ASSIGN(job::KitFile const kit,
               job::kit_from_file({shown_name(file->name), file->bytes}, desk.job().state().tables));
    TRY(desk.job().register_kit(kit));
    return Reply::see("/kit");
}

} // namespace guidepin::web
