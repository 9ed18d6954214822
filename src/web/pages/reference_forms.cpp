// SPDX-License-Identifier: Apache-2.0
// The forms of the page "Reference", and what they say about the kit that was used.
#include "web/pages/reference_parts.hpp"

#include "base/text.hpp"
#include "job/kit/kit_register.hpp"
#include "web/pages/reference_typing.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

Html choice_of(std::string_view name, std::string_view label, std::vector<std::string> const& ids, bool none,
               std::string const& chosen)
{
    Html options = none ? html(R"(<option value="">none</option>)") : Html{};
    for (std::string const& id : ids) options += option(id, id, id == chosen);
    return html(R"(<label>{}<select name="{}">{}</select></label>)"
                "\n",
                label, name, options);
}

/// The kit of the earlier reference that the new one should repeat is chosen at first.
Html kit_choices(job::JobState const& state, Exchange const& exchange)
{
    auto const like = state.reference_index.find(verdict::ReferenceId(exchange.text("like")));
    job::TestKit const kit =
        like == state.reference_index.end() ? job::TestKit{} : state.references[like->second].kit;
    return html(
        R"(<div class="filters">{}{}{}{}{}</div>)"
        "\n",
        choice_of("source", "Source", job::usable_as(state, job::InstrumentRole::source), false, kit.source),
        choice_of("meter", "Meter", job::usable_as(state, job::InstrumentRole::meter), false, kit.meter),
        choice_of("launch", "Launch cord", job::usable_as(state, setup::Role::launch), false, kit.launch),
        choice_of("tail", "Tail cord", job::usable_as(state, setup::Role::tail), true, kit.tail),
        choice_of("substitution", "Known or substitution cord",
                  job::usable_as(state, setup::Role::substitution), true, kit.substitution));
}

/// What the register refuses today, and a reason to use it anyway. A file may come from another day, when
/// another item was refused: the last line takes any item.
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
            lines += html(R"(<li><input type="hidden" name="override-item" value="{}">)"
                          R"(<label>Use {} anyway, because<input name="override-reason" )"
                          R"(maxlength="400"></label></li>)"
                          "\n",
                          serial, serial);
    }
    if (!exchange.may(Access::lead)) {
        if (refused == 0) return {};
        return html(R"(<ul class="reasons">{}</ul><p class="quiet">A lead may use it anyway, with a )"
                    "reason.</p>\n",
                    lines);
    }
    if (!items.empty())
        lines += html(R"(<li><label>{}<select name="override-item">)"
                      R"(<option value="">none</option>{}</select></label><label>Use it anyway, because)"
                      R"(<input name="override-reason" maxlength="400"></label></li>)"
                      "\n",
                      refused > 0 ? "Another refused item" : "Refused item", items);
    return html(R"(<details{}><summary>{}</summary><ul class="reasons">{}</ul></details>)"
                "\n",
                refused > 0 ? html(" open") : Html{},
                refused == 0   ? std::string{"Use a refused item of the kit"}
                : refused == 1 ? std::string{"One item of the kit is refused today"}
                               : fmt::format("{} items of the kit are refused today", refused),
                lines);
}

Html kit_fields(Desk const& desk, Exchange const& exchange)
{
    return kit_choices(desk.job().state(), exchange) + override_fields(desk, exchange);
}

} // namespace

Html reference_forms(Desk& desk, Exchange const& exchange)
{
    Html ids;
    auto const& references = desk.job().state().references;
    for (auto reference = references.rbegin(); reference != references.rend(); ++reference)
        ids += html(R"(<option value="{}">{}</option>)", reference->id, reference->id);
    Html body =
        html(R"(<details class="do" id="take"><summary>Take a reference</summary>)"
             "\n"
             R"({}{}<label>File with the powers<input type="file" name="file" )"
             R"(accept=".csv,.txt,text/csv" required></label>)"
             "\n{}<button>Bring in the reference</button>{}\n",
             form(exchange, "/reference/take"), kit_fields(desk, exchange), numbering_choice(), end_form());
    body += typed_reference_form(desk, exchange, kit_fields(desk, exchange)) + html("</details>\n");
    if (references.empty()) return body;
    body += html(R"(<details class="do" id="check"><summary>Check the cords</summary>)"
                 "\n"
                 R"({}<label>Of reference<select name="reference">{}</select></label>)"
                 "\n"
                 R"(<label>File with the check<input type="file" name="file" )"
                 R"(accept=".csv,.txt,text/csv" required></label>)"
                 "\n{}<button>Bring in the check</button>{}{}</details>\n",
                 form(exchange, "/reference/check"), ids, numbering_choice(), end_form(),
                 typed_check_form(desk, exchange, ids));
    Html events;
    for (int i = 0; i < verdict::void_kinds; ++i) {
        auto const kind = static_cast<verdict::VoidKind>(i);
        if (kind != verdict::VoidKind::time_limit)
            events +=
                html(R"(<option value="{}">{}</option>)", verdict::name_of(kind), verdict::words_of(kind));
    }
    body += html(R"(<details class="do" id="event"><summary>Something happened to a )"
                 "reference</summary>\n"
                 R"({}<label>What<select name="event">{}</select></label>)"
                 "\n"
                 R"(<label>Reference<select name="reference">)"
                 R"(<option value="">all references in force</option>{}</select></label>)"
                 "\n"
                 R"(<label>Note<input name="note" maxlength="400"></label>)"
                 "\n"
                 R"(<p class="quiet">Readings after the event are held until you take a new )"
                 "reference. Nothing is deleted.</p><button>Save the event</button>{}</details>\n",
                 form(exchange, "/reference/event"), events, ids, end_form());
    return body;
}

job::TestKit kit_of(Exchange const& exchange)
{
    return {.source = exchange.text("source"),
            .meter = exchange.text("meter"),
            .launch = exchange.text("launch"),
            .tail = exchange.text("tail"),
            .substitution = exchange.text("substitution")};
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

} // namespace guidepin::web
