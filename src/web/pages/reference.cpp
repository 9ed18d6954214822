// SPDX-License-Identifier: Apache-2.0
// References and cord checks: what was entered, how it stands, why, and a new one.
#include "web/frame.hpp"
#include "web/pages/pages.hpp"
#include "web/pages/power_drawing.hpp"
#include "web/pages/reference_typing.hpp"

#include "base/text.hpp"
#include "drawing/charts.hpp"
#include "job/groundwork/trust.hpp"
#include "job/kit/kit_register.hpp"
#include "job/paper/pictures.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

Html trust_mark(std::string_view state)
{
    return html(R"(<span class="state {}">{}</span>)", state == "refused" ? "fail" : "pass", state);
}

Html reasons_list(Desk const& desk, std::vector<job::TrustReason> const& reasons)
{
    if (reasons.empty())
        return html(R"(<p class="quiet">Its values are as they should be.</p>)"
                    "\n");
    Html list;
    for (job::TrustReason const& reason : reasons)
        list += html(R"(<li class="{}"><strong>{}</strong> {} {}</li>)"
                     "\n",
                     reason.refuses ? "bad" : "hint",
                     reason.refuses ? "Refused:" : "Remark:", with_times(desk, reason.text),
                     with_times(desk, reason.what_to_do));
    return html(R"(<ul class="reasons">{}</ul>)"
                "\n",
                list);
}

drawing::Standing standing_of(verdict::CordResult result)
{
    switch (result) {
    case verdict::CordResult::good:
        return drawing::Standing::pass;
    case verdict::CordResult::high:
    case verdict::CordResult::low:
        return drawing::Standing::marginal_pass;
    case verdict::CordResult::too_high:
    case verdict::CordResult::below_zero:
    case verdict::CordResult::dark:
        return drawing::Standing::fail;
    case verdict::CordResult::missing:
        break;
    }
    return drawing::Standing::open;
}

Html check_card(Desk const& desk, job::JobState const& state, job::CheckStanding const& standing,
                job::Trust const& trust)
{
    report::Locale const locale = desk.locale();
    job::CordCheckEntry const& entry = state.checks[standing.entry];
    Html pictures;
    for (verdict::CordLimit const& limit : standing.assessment.limits) {
        drawing::BarChart chart;
        chart.name = fmt::format("Cord check {} at {} nm", entry.id, limit.wavelength.value());
        chart.number = [locale](double value, int decimals) { return locale.number(value, decimals); };
        drawing::BarPanel panel;
        panel.label = fmt::format("{} nm", limit.wavelength.value());
        panel.limit = std::max(limit.rules.value(), limit.practice.value());
        for (verdict::CordFibre const& fibre : standing.assessment.fibres) {
            if (fibre.wavelength != limit.wavelength) continue;
            drawing::Bar bar;
            bar.position = fibre.position;
            bar.standing = standing_of(fibre.result);
            if (std::isfinite(fibre.attenuation.value())) bar.value = fibre.attenuation.value();
            panel.bars.push_back(bar);
        }
        chart.panels.push_back(std::move(panel));
        pictures +=
            drawn_both_grown(drawing::bar_drawing(chart, 310, 130), drawing::bar_drawing(chart, 420, 130));
        Html lines;
        for (loss::LimitLine const& line : limit.by_rules)
            lines += html(R"(<li>{}: {} × {} {} = {} dB <span class="quiet">{}</span></li>)", line.what,
                          number_text(line.count), locale.number(line.each, 2), line.unit,
                          locale.number(line.loss.value(), 3), line.source.text());
        std::string const predicted = limit.predicted
                                          ? fmt::format(" Predicted from the joints: {} dB.",
                                                        locale.number(limit.predicted->value(), 2))
                                          : std::string{};
        pictures += html("<details><summary>May lose {} dB at {} nm by the rules, {} dB by the habit of the "
                         "trade.{}</summary><ul>{}</ul></details>\n",
                         locale.number(limit.rules.value(), 2), limit.wavelength.value(),
                         locale.number(limit.practice.value(), 2), predicted, lines);
    }
    return html(R"(<article class="card"><h4>Cord check {} {}</h4><p class="quiet">{}</p>{}{}</article>)"
                "\n",
                entry.id, trust_mark(trust.state), date_time(desk, entry.taken()),
                reasons_list(desk, trust.reasons), pictures);
}

Html powers(Desk const& desk, job::JobState const& state, job::ReferenceStanding const& standing)
{
    report::Locale const locale = desk.locale();
    job::ReferenceEntry const& entry = state.references[standing.entry];
    Html parts;
    for (verdict::ReferenceRow const& row : standing.assessment.rows) {
        std::map<int, std::pair<double, int>> sums;
        for (std::size_t i = 0; i < entry.size(); ++i) {
            if (entry.wavelength_nm[i] != row.wavelength.value()) continue;
            sums[entry.position[i]].first += entry.power_dbm[i];
            ++sums[entry.position[i]].second;
        }
        PowerRow picture;
        picture.name = fmt::format("Reference {} at {} nm", entry.id, row.wavelength.value());
        bool const multimode = row.wavelength.value() <= 1300;
        std::string const kind = multimode ? "multimode" : "single-mode";
        if (auto const* const low = state.tables.fact(fmt::format("readiness.power.{}.lowest", kind)))
            picture.low = low->value;
        if (auto const* const high = state.tables.fact(fmt::format("readiness.power.{}.highest", kind)))
            picture.high = high->value;
        for (auto const& [position, sum] : sums) picture.powers[position] = sum.first / sum.second;
        picture.number = [locale](double value, int decimals) { return locale.number(value, decimals); };
        parts += html("<div><h4>{} nm</h4>{}<p>Mean {} dBm, spread {} dB over {} fibres{}.</p></div>\n",
                      row.wavelength.value(),
                      drawn_both_grown(power_drawing(picture, 310), power_drawing(picture, 420)),
                      locale.number(row.mean.value(), 2), locale.number(row.spread.value(), 2), row.fibres,
                      row.repeatability
                          ? fmt::format("; repeated within {} dB (standard deviation of one reading)",
                                        locale.number(row.repeatability->value(), 3))
                          : std::string{"; not repeated"});
    }
    return parts;
}

/// A lead's word that the reference is relied on though the watch doubts it, or that this no longer counts.
Html rely_form(Exchange const& exchange, std::string const& id, job::WatchedReference const& reference)
{
    if (!exchange.may(Access::lead)) return {};
    bool doubted = false;
    bool relied_on = false;
    for (job::Doubt const& doubt : reference.doubts) {
        doubted = doubted || (doubt.material && !doubt.trusted);
        relied_on = relied_on || doubt.trusted;
    }
    if (!doubted && !relied_on) return {};
    return html(
        R"(<details class="do" id="rely"><summary>{}</summary>)"
        "\n"
        R"({}<input type="hidden" name="id" )"
        R"(value="{}">{}<label>Why<textarea name="reason" rows="2" maxlength="{}" )"
        R"(required></textarea></label><p class="turn">{}{}</p>{}</details>)"
        "\n",
        doubted ? fmt::format("Rely on {} all the same", id) : fmt::format("No longer rely on {}", id),
        form(exchange, "/reference/rely"), id,
        doubted
            ? html("<p>Its readings count again for the doubts as they stand now; one that grows, or a new "
                   "one, holds them again. Your name, the time and your reason stay in the record and in "
                   "what is handed over.</p>")
            : html("<p>What is doubted holds its readings again.</p>"),
        job::longest_reason / 4, doubted ? html("<button>Rely on it</button>") : Html{},
        relied_on ? html(R"(<button class="quiet" name="undo" value="1">No longer rely on it</button>)")
                  : Html{},
        end_form());
}

/// The links under this reference in order of time: did it stand still?
Html watched(Desk const& desk, Exchange const& exchange, job::JobState const& state,
             job::Assessment const& assessment, std::string const& id)
{
    job::WatchedReference const* const reference = assessment.watching->find(id, state);
    if (!reference) return {};
    report::Locale const locale = desk.locale();
    drawing::ControlChart chart = job::control_chart_of(state, assessment, *reference);
    chart.number = [locale](double value, int decimals) { return locale.number(value, decimals); };
    Html doubts;
    for (job::Doubt const& doubt : reference->doubts) {
        Html witnesses;
        for (job::WatchWitness const& witness : doubt.witnesses)
            witnesses += html("<li>{}: {} ({} dB)</li>\n", witness.what,
                              witness.moved ? "had moved" : "had not moved", locale.number(witness.by_db, 2));
        std::string held;
        if (!doubt.held.empty())
            held = fmt::format("{} of {} links {} held for it.", doubt.held.size(), reference->tests.size(),
                               doubt.held.size() == 1 ? "is" : "are");
        doubts += html(R"(<li class="{}"><strong>{}</strong> {} {}{}</li>)"
                       "\n",
                       doubt.held.empty() ? "hint" : "bad", job::doubt_text(state, *reference, doubt) + ".",
                       held, job::doubt_action(state, *reference, doubt),
                       witnesses.empty() ? Html{} : html("<ul>{}</ul>", witnesses));
    }
    Html const words = doubts.empty() ? html(R"(<p class="quiet">The links speak for it: nothing moved.</p>)"
                                             "\n")
                                      : html(R"(<ul class="reasons">{}</ul>)"
                                             "\n",
                                             doubts);
    return html(R"(<section id="still"><h3>Did it stand still?</h3>)"
                "\n"
                R"(<p class="quiet">Each point is a )"
                "link: how far all its "
                "fibres together stand over what links like it show.</p>\n{}{}{}</section>\n",
                drawn_both_grown(drawing::control_drawing(chart, 310, 200),
                                 drawing::control_drawing(chart, 900, 230)),
                words, rely_form(exchange, id, *reference));
}

std::string kit_text(job::TestKit const& kit)
{
    std::string text;
    auto const say = [&](char const* what, std::string const& id) {
        if (!id.empty()) text += fmt::format("{}{} {}", text.empty() ? "" : ", ", what, id);
    };
    say("source", kit.source);
    say("meter", kit.meter);
    say("launch cord", kit.launch);
    say("tail cord", kit.tail);
    say("known cord", kit.substitution);
    return text.empty() ? "kit not stated" : text;
}

Html history(Desk const& desk, std::vector<job::ReferenceNow> const& standings, std::string const& shown)
{
    Html rows;
    for (job::ReferenceNow const& now : standings) {
        rows += html(R"(<li><a href="/reference?id={}"{}><b>{}</b><span class="state {}">{}</span><span )"
                     R"(class="quiet">{}taken {}</span></a></li>)"
                     "\n",
                     url_escaped(now.id), now.id == shown ? html(R"( aria-current="true")") : Html{}, now.id,
                     now.condition == job::ReferenceCondition::in_force ? "pass" : "held",
                     job::name_of(now.condition), now.doubt.empty() ? std::string{} : now.doubt + ", ",
                     date_time(desk, now.taken));
    }
    return html(R"(<ul class="standings">{}</ul>)"
                "\n",
                rows);
}

Html choice_of(std::string_view name, std::string_view label, std::vector<std::string> const& ids, bool none,
               std::string const& chosen)
{
    Html options = none ? html(R"(<option value="">none</option>)") : Html{};
    for (std::string const& id : ids) options += option(id, id, id == chosen);
    return html(R"(<label>{}<select name="{}">{}</select></label>)"
                "\n",
                label, name, options);
}

/// The kit of the reference that another is to be taken like stands chosen.
Html kit_choices(job::JobState const& state, Exchange const& exchange)
{
    auto const like = state.reference_index.find(exchange.text("like"));
    job::TestKit const kit =
        like == state.reference_index.end() ? job::TestKit{} : state.references[like->second].kit;
    return html(R"(<div class="filters">{}{}{}{}{}</div>)"
                "\n",
                choice_of("source", "Source", job::usable_as(state, "source"), false, kit.source),
                choice_of("meter", "Meter", job::usable_as(state, "meter"), false, kit.meter),
                choice_of("launch", "Launch cord", job::usable_as(state, "launch"), false, kit.launch),
                choice_of("tail", "Tail cord", job::usable_as(state, "tail"), true, kit.tail),
                choice_of("substitution", "Known or substitution cord", job::usable_as(state, "substitution"),
                          true, kit.substitution));
}

/// What the register refuses today, and a reason to use it all the same. A file may be of another day, on
/// which another item was refused: the last line takes any.
Html override_fields(Desk const& desk, Exchange const& exchange)
{
    job::JobState const& state = desk.job().state();
    job::KitRegister const kit = job::kit_register(state, desk.today());
    Html lines, items;
    std::size_t refused = 0;
    for (job::KitStanding const& standing : kit.items) {
        if (standing.item.removed) continue;
        std::string const& serial = standing.item.serial;
        if (standing.fitness != setup::Fitness::refused) {
            items += html(R"(<option value="{}">{}</option>)", serial, serial);
            continue;
        }
        ++refused;
        std::vector<std::string> why;
        for (setup::FitnessFinding const& finding : standing.findings) {
            if (finding.fitness == setup::Fitness::refused) why.push_back(finding.text);
        }
        lines += html(R"(<li class="bad">{}</li>)"
                      "\n",
                      joined(why, " "));
        if (exchange.may(Access::lead))
            lines += html(R"(<li><input type="hidden" name="override-item" value="{}"><label>Use {} all the )"
                          R"(same, because<input name="override-reason" maxlength="400"></label></li>)"
                          "\n",
                          serial, serial);
    }
    if (!exchange.may(Access::lead)) {
        if (refused == 0) return {};
        return html(R"(<ul class="reasons">{}</ul><p class="quiet">A lead may use it all the same, with a )"
                    "reason.</p>\n",
                    lines);
    }
    if (!items.empty())
        lines += html(R"(<li><label>{}<select name="override-item"><option value="">none</option>{}</select>)"
                      R"(</label><label>Use it all the same, because<input name="override-reason" )"
                      R"(maxlength="400"></label></li>)"
                      "\n",
                      refused > 0 ? "Another item that is refused" : "Item that is refused", items);
    return html(R"(<details{}><summary>{}</summary><ul class="reasons">{}</ul></details>)"
                "\n",
                refused > 0 ? html(" open") : Html{},
                refused == 0   ? std::string{"An item of the kit is refused"}
                : refused == 1 ? std::string{"One item of the kit is refused today"}
                               : fmt::format("{} items of the kit are refused today", refused),
                lines);
}

Html kit_fields(Desk const& desk, Exchange const& exchange)
{
    return kit_choices(desk.job().state(), exchange) + override_fields(desk, exchange);
}

Html doing(Desk& desk, Exchange const& exchange)
{
    Html ids;
    auto const& references = desk.job().state().references;
    for (auto reference = references.rbegin(); reference != references.rend(); ++reference)
        ids += html(R"(<option value="{}">{}</option>)", reference->id, reference->id);
    Html body =
        html(R"(<details class="do" id="take"><summary>Take a reference</summary>)"
             "\n{}{}"
             R"(<label>File with the powers<input type="file" name="file" accept=".csv,.txt,text/csv" )"
             "required></label>\n{}<button>Bring in the reference</button>{}\n",
             form(exchange, "/reference/take"), kit_fields(desk, exchange), numbering_choice(), end_form());
    body += typed_reference_form(desk, exchange, kit_fields(desk, exchange)) + html("</details>\n");
    if (references.empty()) return body;
    body += html(R"(<details class="do" id="check"><summary>Check the cords</summary>)"
                 "\n{}<label>Of reference<select "
                 R"(name="reference">{}</select></label>)"
                 "\n"
                 R"(<label>File with the check<input type="file" )"
                 R"(name="file" )"
                 R"(accept=".csv,.txt,text/csv" required></label>)"
                 "\n{}<button>Bring in the "
                 "check</button>{}{}</details>\n",
                 form(exchange, "/reference/check"), ids, numbering_choice(), end_form(),
                 typed_check_form(desk, exchange, ids));
    Html events;
    for (int i = 0; i < verdict::void_kinds; ++i) {
        auto const kind = static_cast<verdict::VoidKind>(i);
        if (kind != verdict::VoidKind::time_limit)
            events +=
                html(R"(<option value="{}">{}</option>)", verdict::name_of(kind), verdict::words_of(kind));
    }
    body += html(R"(<details class="do" id="event"><summary>Something happened to a reference</summary>)"
                 "\n{}"
                 R"(<label>What<select name="event">{}</select></label>)"
                 "\n"
                 R"(<label>To<select name="reference"><option )"
                 R"(value="">all in force</option>{}</select></label>)"
                 "\n"
                 R"(<label>In your words<input name="note" )"
                 R"(maxlength="400"></label>)"
                 "\n"
                 R"(<p class="quiet">Readings after it are held until a new reference is )"
                 "taken; nothing is deleted.</p><button>Note it</button>{}</details>\n",
                 form(exchange, "/reference/event"), events, ids, end_form());
    return body;
}

} // namespace

job::TestKit kit_of(Exchange const& exchange)
{
    return {exchange.text("source"), exchange.text("meter"), exchange.text("launch"), exchange.text("tail"),
            exchange.text("substitution")};
}

Result<std::vector<std::pair<std::string, std::string>>> overrides_of(Exchange const& exchange)
{
    std::vector<std::string> const items = exchange.texts("override-item");
    std::vector<std::string> const reasons = exchange.texts("override-reason");
    job::TestKit const named = kit_of(exchange);
    std::array<std::string, 5> const kit{named.source, named.meter, named.launch, named.tail,
                                         named.substitution};
    std::vector<std::pair<std::string, std::string>> overrides;
    for (std::size_t i = 0; i < std::min(items.size(), reasons.size()); ++i) {
        std::string const reason(trimmed(reasons[i]));
        if (reason.empty()) continue;
        if (items[i].empty())
            return Error{Errc::invalid_input,
                         fmt::format("\"{}\": choose the item that this is about", reason)};
        // What is not used here is not decided about here.
        bool const used =
            std::any_of(kit.begin(), kit.end(), [&](std::string const& id) { return id == items[i]; });
        if (used) overrides.emplace_back(items[i], reason.substr(0, 400));
    }
    if (!overrides.empty() && !exchange.may(Access::lead))
        return Error{Errc::refused,
                     fmt::format("A {} may not do this: a lead decides that a refused item is used",
                                 job::name_of(exchange.role))};
    return overrides;
}

Result<Upload const*> uploaded(Exchange const& exchange)
{
    auto const found = exchange.uploads.find("file");
    if (found == exchange.uploads.end() || found->second.bytes.empty())
        return Error{Errc::invalid_input, "Choose a file first; an empty file holds nothing"};
    if (found->second.bytes.find('\0') != std::string::npos)
        return Error{Errc::invalid_input, "This file is no text: bring a CSV file"};
    return &found->second;
}

std::string shown_name(std::string_view name)
{
    auto const slash = name.find_last_of("/\\");
    if (slash != std::string_view::npos) name = name.substr(slash + 1);
    std::string shown;
    for (char const letter : name.substr(0, 120)) {
        if (static_cast<unsigned char>(letter) >= 0x20 && letter != 0x7f) shown += letter;
    }
    return shown.empty() || !is_utf8(shown) ? "file" : shown;
}

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
    std::string shown = exchange.text("id");
    if (shown.empty() && !standings.empty()) shown = standings.front().id;
    auto const found = state.reference_index.find(shown);
    if (standings.empty()) {
        seen =
            html(R"(<p class="sentence">No reference yet. Take one: the powers of every position at every )"
                 "wavelength, then check the cords.</p>\n");
    } else if (found == state.reference_index.end()) {
        return Error{Errc::not_found, fmt::format("The job has no reference \"{}\"", shown)};
    } else {
        job::ReferenceEntry const& entry = state.references[found->second];
        job::ReferenceStanding const& standing = assessment->references[found->second];
        auto const trusts = job::reference_trust(state, *assessment);
        auto const checks = job::check_trust(state, *assessment);
        auto const now = job::reference_now(state, *assessment, found->second, desk.now());
        Html cards;
        for (std::size_t const c : standing.checks)
            cards += check_card(desk, state, assessment->checks[c], checks[c]);
        if (cards.empty())
            cards =
                html("<p>Not checked yet: until a cord check is accepted, readings under it are held.</p>\n");
        Html const condition =
            now.condition == job::ReferenceCondition::refused
                ? Html{} // the word before it says so
                : html(R"( <span class="quiet">·</span> <span class="state {}">{}</span>)",
                       now.condition == job::ReferenceCondition::in_force ? "pass" : "held",
                       job::name_of(now.condition));
        seen = html(
            "<h2>{} {}{}</h2>\n{}{}<dl "
            R"(class="facts">{}{}{}</dl>)"
            "\n"
            R"(<section><h3>Powers</h3><div class="gallery">{}</div></section>)"
            "\n"
            R"(<section><h3>Cord checks</h3><div class="gallery">{}</div></section>)"
            "\n"
            R"({}<p><a class="button )"
            R"(quiet" href="/links?reference={}">Links measured under {}</a></p>)"
            "\n",
            entry.id, trust_mark(trusts[found->second].state), condition,
            now.doubt.empty() ? Html{}
                              : html(R"(<p class="notice bad">{} is {}: <a href="#still">what its links )"
                                     "show</a>.</p>\n",
                                     entry.id, now.doubt),
            reasons_list(desk, trusts[found->second].reasons), fact("Taken", date_time(desk, entry.taken())),
            fact("Method", entry.method), fact("Kit", kit_text(entry.kit)), powers(desk, state, standing),
            cards, watched(desk, exchange, state, *assessment, entry.id), url_escaped(entry.id), entry.id);
        seen += html("<section><h2>All references</h2>{}</section>\n", history(desk, standings, shown));
    }
    Html deeds;
    if (exchange.may(Access::enter))
        deeds =
            html(R"(<p class="deeds"><a class="button quiet" href="#take">Take a reference</a>{}</p>)"
                 "\n",
                 standings.empty()
                     ? Html{}
                     : html(R"( <a class="button quiet" href="#check">Check the cords</a> <a class="button )"
                            R"(quiet" href="#event">Something happened</a>)"));
    std::string const address = exchange.has("id") ? "/reference?id=" + url_escaped(shown) : "/reference";
    return framed(desk, exchange, "Reference",
                  html("<h1>Reference</h1>\n{}{}{}", deeds, live("reference", address, seen),
                       exchange.may(Access::enter) ? html(R"(<section class="doing">{}</section>)"
                                                          "\n",
                                                          doing(desk, exchange))
                                                   : Html{}));
}

Result<Reply> take_reference(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(Upload const* const file, uploaded(exchange));
    job::ReferenceOptions how;
    how.kit = kit_of(exchange);
    how.instrument_positions = exchange.text("positions") == "instrument";
    TRY_ASSIGN(how.overrides, overrides_of(exchange));
    TRY_ASSIGN(auto const outcome, desk.job().take_reference(shown_name(file->name), file->bytes, {}, how));
    return Reply::see("/reference?id=" + url_escaped(outcome.ids.empty() ? "" : outcome.ids.back()));
}

Result<Reply> take_check(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(Upload const* const file, uploaded(exchange));
    TRY_ASSIGN(auto const outcome,
               desk.job().take_cord_check(shown_name(file->name), file->bytes, {}, exchange.text("reference"),
                                          exchange.text("positions") == "instrument"));
    std::string reference = exchange.text("reference");
    for (auto const& check : desk.job().state().checks) {
        if (!outcome.ids.empty() && check.id == outcome.ids.back()) reference = check.reference;
    }
    return Reply::see("/reference?id=" + url_escaped(reference));
}

Result<Reply> note_event(Desk& desk, Exchange const& exchange)
{
    job::ReferenceEvent event;
    event.event = exchange.text("event");
    event.reference = exchange.text("reference");
    event.note = exchange.text("note").substr(0, 400);
    event.at = desk.now();
    if (!verdict::parse_void_kind(event.event))
        return Error{Errc::invalid_input,
                     fmt::format("\"{}\" is no event that voids a reference", event.event)};
    if (!event.reference.empty() && !desk.job().state().reference_index.contains(event.reference))
        return Error{Errc::not_found, fmt::format("The job has no reference \"{}\"", event.reference)};
    TRY(desk.job().note_event(event));
    return Reply::see("/reference");
}

Result<Reply> rely_on_reference(Desk& desk, Exchange const& exchange)
{
    std::string const id = exchange.text("id");
    TRY(desk.job().rely_on_reference(id, std::string(trimmed(exchange.text("reason"))),
                                     !exchange.has("undo")));
    return Reply::see("/reference?id=" + url_escaped(id));
}

} // namespace guidepin::web
