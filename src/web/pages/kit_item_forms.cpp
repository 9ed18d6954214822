// SPDX-License-Identifier: Apache-2.0
// The forms of the kit, for the register and for one item, and what they send.
#include "web/pages/kit_items.hpp"

#include "base/text.hpp"
#include "web/frame.hpp"
#include "web/pages/pages.hpp"
#include "web/pages/upload.hpp"

#include <utility>

#include <fmt/format.h>

namespace guidepin::web {

using job::KitSort;
using job::KitStanding;
using setup::Fitness;

namespace {

constexpr int finding_lines = 4;

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

Html kit_item_forms(Desk const& desk, Exchange const& exchange, KitStanding const& standing)
{
    Html forms;
    if (exchange.may(Access::enter) && !standing.item.removed)
        forms += pin_form(exchange, standing) + inspection_form(desk, exchange, standing);
    if (exchange.may(Access::lead)) forms += lead_forms(exchange, standing);
    return forms;
}

Html kit_register_forms(Exchange const& exchange, job::KitRegister const& kit)
{
    Html body = html(R"(<details class="do"><summary>Bring in a kit file</summary>)"
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

Result<Reply> change_pins(Desk& desk, Exchange const& exchange)
{
    job::PinsChanged change;
    change.item = exchange.text("item");
    TRY_ASSIGN(change.end, end_of(exchange));
    TRY_ASSIGN(change.to, plant::parse_pins(exchange.text("to")));
    auto const counted = parse_integer(trimmed(exchange.text("pins")));
    if (!counted || !std::in_range<int>(*counted))
        return Error{Errc::invalid_input, "Count the pins and write the number: a plug has 2"};
    change.pins_counted = static_cast<int>(*counted);
    change.note = exchange.text("note").substr(0, 400);
    change.key = exchange.text("key");
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
    inspection.key = exchange.text("key");
    TRY(desk.job().inspect_face(inspection));
    return Reply::see(item_address(inspection.seen.item));
}

Result<Reply> override_item(Desk& desk, Exchange const& exchange)
{
    std::string const item = exchange.text("item");
    TRY(desk.job().override_item(item, exchange.text("reason").substr(0, 400), exchange.text("key")));
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
    std::string const action = exchange.text("action");
    if (action == "renew") {
        TRY(desk.job().renew_item(item, reason));
        return Reply::see(item_address(item));
    }
    if (action != "remove")
        return Error{Errc::invalid_input, "Choose whether the item is renewed or leaves the kit"};
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
