// SPDX-License-Identifier: Apache-2.0
// The register of the kit at the command line: list, add, pin changes, inspections, limits, decisions.
#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/print.hpp"
#include "cli/registry.hpp"
#include "job/kit/kit_register.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <set>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;
using job::KitSort;
using job::KitStanding;

Json number_or_null(std::optional<int> number)
{
    return number ? Json(*number) : Json(nullptr);
}

Json day_or_null(std::optional<setup::Day> day)
{
    return day ? Json(job::day_text(*day)) : Json(nullptr);
}

Json end_json(job::EndStanding const& end)
{
    Json json = {{"end", job::end_name(end.end)},
                 {"pins", end.pins ? Json(plant::name_of(*end.pins)) : Json(nullptr)},
                 {"pins_exchangeable", end.exchangeable},
                 {"matings", end.matings},
                 {"pin_changes", end.pin_changes},
                 {"pins_counted", number_or_null(end.pins_counted)},
                 {"inspection", nullptr}};
    if (end.face)
        json["inspection"] = {{"at", instant_text(end.face->at)}, {"person", end.face->person},
                              {"pass", end.face->pass},           {"type", end.face->type},
                              {"edition", end.face->edition},     {"breaches", end.face->breaches},
                              {"note", end.face->note},           {"outdated", end.face->outdated}};
    return json;
}

Json item_json(KitStanding const& standing)
{
    Json ends = Json::array(), findings = Json::array(), overrides = Json::array();
    for (auto const& end : standing.ends) ends.push_back(end_json(end));
    for (auto const& finding : standing.findings)
        findings.push_back({{"about", setup::name_of(finding.about)},
                            {"fitness", setup::name_of(finding.fitness)},
                            {"text", finding.text},
                            {"override", finding.override_reason}});
    for (auto const& decision : standing.overrides) {
        Json about = Json::array();
        for (setup::FitnessMatter const matter : decision.about) about.push_back(setup::name_of(matter));
        overrides.push_back({{"about", about},
                             {"person", decision.person},
                             {"reason", decision.reason},
                             {"at", instant_text(decision.at)}});
    }
    return {{"item", standing.item.serial},
            {"sort", job::name_of(standing.item.sort)},
            {"name", standing.item.name},
            {"count", standing.item.count},
            {"registered", standing.registered},
            {"removed", standing.item.removed},
            {"reason", standing.item.reason},
            {"calibrated", day_or_null(standing.item.calibrated)},
            {"calibration_due", day_or_null(standing.item.calibration_due)},
            {"ends", ends},
            {"matings", standing.matings},
            {"matings_limit", number_or_null(standing.matings_limit)},
            {"pin_changes", standing.pin_changes},
            {"pin_changes_limit", number_or_null(standing.pin_changes_limit)},
            {"references", standing.references},
            {"links", standing.links},
            {"fitness", setup::name_of(standing.fitness)},
            {"findings", findings},
            {"overrides", overrides}};
}

Json register_json(job::KitRegister const& kit, std::string const& done)
{
    Json items = Json::array();
    for (KitStanding const& standing : kit.items) items.push_back(item_json(standing));
    Json counts = Json::object();
    for (auto const fitness :
         {setup::Fitness::fit, setup::Fitness::warned, setup::Fitness::refused, setup::Fitness::overridden})
        counts[setup::name_of(fitness)] = kit.count(fitness);
    return {{"done", done},
            {"today", job::day_text(kit.today)},
            {"counts", counts},
            {"limits",
             {{"matings", number_or_null(kit.limits.matings)},
              {"pin_changes", number_or_null(kit.limits.pin_changes)},
              {"warn_at", kit.limits.warn_at},
              {"calibration_warning_days", kit.limits.calibration_warning_days},
              {"end_faces_required", kit.limits.end_faces_required}}},
            {"items", items}};
}

std::string what_text(KitStanding const& standing)
{
    job::KitItem const& item = standing.item;
    if (item.is_instrument())
        return fmt::format("{}, {}", job::name_of(item.sort), item.port.face.family.name());
    if (item.sort == KitSort::cord)
        return fmt::format("cord, {}, type {}, {} m{}", item.cord.ends[0].plug.family.name(), item.cord.type,
                           number_text(item.cord.length.value()),
                           item.cord.grade == facts::CordGrade::standard ? ", standard grade" : "");
    if (item.sort == KitSort::adapter) return fmt::format("{} pieces", item.count);
    return "pin tool";
}

std::string ends_text(KitStanding const& standing)
{
    std::vector<std::string> ends;
    for (auto const& end : standing.ends)
        ends.push_back(fmt::format("{}{}", end.pins ? plant::name_of(*end.pins) : "no pins",
                                   end.exchangeable ? "*" : ""));
    return joined(ends, " / ");
}

std::string count_text(int count, std::optional<int> limit)
{
    return limit ? fmt::format("{} of {}", count, *limit) : fmt::format("{}", count);
}

/// "pass / not yet": by end.
std::string faces_text(KitStanding const& standing)
{
    std::vector<std::string> faces;
    for (auto const& end : standing.ends)
        faces.emplace_back(!end.face            ? "not yet"
                           : end.face->outdated ? "again"
                           : end.face->pass     ? "pass"
                                                : "fail");
    if (std::set<std::string>(faces.begin(), faces.end()).size() == 1) faces.resize(1);
    return joined(faces, " / ");
}

std::string state_text(KitStanding const& standing)
{
    return standing.item.removed ? "left the kit" : setup::name_of(standing.fitness);
}

void add_row(Table& table, KitStanding const& standing)
{
    bool const wears = standing.item.sort == KitSort::cord;
    table.add(
        {standing.item.serial, state_text(standing), what_text(standing), ends_text(standing),
         standing.ends.empty() ? "" : count_text(standing.matings, standing.matings_limit),
         wears ? count_text(standing.pin_changes, standing.pin_changes_limit) : "",
         standing.item.is_instrument()
             ? (standing.item.calibration_due ? job::day_text(*standing.item.calibration_due) : "not stated")
             : "",
         standing.ends.empty() ? "" : faces_text(standing)});
}

Table table_of_kit()
{
    return Table({{"item"},
                  {"state"},
                  {"what"},
                  {"pins, near / far"},
                  {"matings", Align::right},
                  {"pin changes", Align::right},
                  {"calibrated until"},
                  {"end faces"}});
}

std::string findings_text(KitStanding const& standing)
{
    std::string text;
    for (auto const& finding : standing.findings) {
        text += fmt::format("  {}: {}", setup::name_of(finding.fitness), finding.text);
        if (!finding.override_reason.empty())
            text += fmt::format(" Used by decision of {}.", finding.override_reason);
        text += '\n';
    }
    for (auto const& end : standing.ends) {
        if (!end.face) continue;
        for (std::string const& breach : end.face->breaches)
            text += fmt::format("    {}, {} end: {} ({}, IEC 61300-3-35, edition {})\n", standing.item.serial,
                                job::end_name(end.end), breach, end.face->type, end.face->edition);
        if (!end.face->note.empty() && !end.face->pass) text += fmt::format("    {}\n", end.face->note);
    }
    if (standing.item.removed)
        text += fmt::format("  {} left the kit: {}\n", standing.item.serial, standing.item.reason);
    return text;
}

std::string limits_text(job::KitRegister const& kit)
{
    std::vector<std::string> limits, own;
    if (kit.limits.matings) limits.push_back(fmt::format("{} matings", *kit.limits.matings));
    if (kit.limits.pin_changes) limits.push_back(fmt::format("{} pin changes", *kit.limits.pin_changes));
    if (kit.limits.end_faces_required) limits.emplace_back("every end inspected");
    if (limits.empty()) return {};
    for (KitStanding const& standing : kit.items) {
        if (!standing.item.removed && (standing.item.matings_limit || standing.item.pin_changes_limit))
            own.push_back(standing.item.serial);
    }
    return fmt::format(
        "Limits of a cord: {}; warning from {} % of a limit, {} days before a calibration ends\n{}",
        joined(limits, ", "), number_text(kit.limits.warn_at * 100), kit.limits.calibration_warning_days,
        own.empty()
            ? ""
            : fmt::format("Own limits, from the job sheet or \"limits ITEM\": {}\n", some_of(own, 6)));
}

std::string register_text(job::KitRegister const& kit)
{
    std::string text =
        fmt::format("Kit on {}: {} fit, {} warned, {} refused, {} overridden\n", job::day_text(kit.today),
                    kit.count(setup::Fitness::fit), kit.count(setup::Fitness::warned),
                    kit.count(setup::Fitness::refused), kit.count(setup::Fitness::overridden));
    text += limits_text(kit);
    Table table = table_of_kit();
    bool exchangeable = false;
    for (KitStanding const& standing : kit.items) {
        add_row(table, standing);
        for (auto const& end : standing.ends) exchangeable = exchangeable || end.exchangeable;
    }
    text += table.text();
    if (exchangeable) text += "  * made for changing pins in the field\n";
    for (KitStanding const& standing : kit.items) text += findings_text(standing);
    if (kit.items.empty())
        text += "The register is empty. Write a kit file (docs/formats/kit.md) and add it: guidepin kit JOB "
                "add KIT.toml\n";
    return text;
}

Result<std::optional<int>> limit_word(Arguments const& arguments, char const* name, std::optional<int> before)
{
    if (!arguments.has(name)) return before;
    std::string const word = arguments.text(name);
    if (word == "none") return std::optional<int>{};
    auto const count = parse_integer(word);
    if (!count || *count < 1 || *count > 1'000'000)
        return Error{
            Errc::usage,
            fmt::format("{}: \"{}\" is not a limit; write a number from 1 to 1000000, or none", name, word)};
    return std::optional<int>{static_cast<int>(*count)};
}

Result<int> end_word(Arguments const& arguments)
{
    auto const end = job::parse_end(arguments.text("--end"));
    if (!end)
        return Error{Errc::usage, "--end is missing: write near (at the instrument) or far (at the cabling)"};
    return *end;
}

/// Adds the items of a kit file; returns the result in one sentence.
Result<std::string> add_kit(job::Job& job, World const& world, std::string const& item)
{
    TRY_ASSIGN(std::string const text, job::read_file(path_in(world, item)));
    TRY_ASSIGN(job::KitFile const file, job::kit_from_file({item, text}, job.state().tables));
    TRY_ASSIGN(job::KitOutcome const outcome, job.register_kit(file));
    return fmt::format("{} added, {} replaced, {} unchanged", outcome.added, outcome.replaced,
                       outcome.unchanged);
}

Result<std::string> change_pins(job::Job& job, Arguments const& arguments, std::string const& item)
{
    job::PinsChanged change;
    change.item = item;
    TRY_ASSIGN(change.end, end_word(arguments));
    if (!arguments.has("--to"))
        return Error{Errc::usage, "--to is missing: write what the end is now, pinned or unpinned"};
    TRY_ASSIGN(change.to, plant::parse_pins(arguments.text("--to")));
    if (!arguments.has("--pins"))
        return Error{Errc::usage, "--pins is missing: count the pins that you took out, or the pins in the "
                                  "plug if you put them in"};
    TRY_ASSIGN(change.pins_counted, arguments.integer("--pins"));
    change.note = arguments.text("--note");
    TRY(job.change_pins(change));
    return fmt::format("{}: the {} end is now {}, {} pin{} counted; inspect the end before you mate it", item,
                       job::end_name(change.end), plant::name_of(change.to), change.pins_counted,
                       plural_ending(change.pins_counted));
}

Result<std::string> inspect(job::Job& job, Arguments const& arguments, std::string const& item)
{
    job::FaceInspected inspection;
    inspection.seen.item = item;
    job::KitRegister const kit = job::kit_register(job.state(), {});
    KitStanding const* const known = kit.find(item);
    if (!known || !known->item.is_instrument()) {
        TRY_ASSIGN(inspection.seen.end, end_word(arguments));
    }
    inspection.seen.type = arguments.text("--type");
    inspection.edition = arguments.text("--edition");
    inspection.seen.loose_debris = arguments.has("--loose-debris");
    std::vector<std::string> const found = arguments.texts("--found");
    // A clean end has to be stated: leaving the option out does not make an end clean.
    if (found.empty() && !inspection.seen.loose_debris)
        return Error{
            Errc::usage,
            "--found is missing: write what you saw, such as \"3 A scratch 2.5\", or none for a clean end"};
    bool const none = std::find(found.begin(), found.end(), "none") != found.end();
    if (none && found.size() > 1)
        return Error{Errc::usage,
                     "--found: none means a clean end; leave it out when you give other findings"};
    for (std::string const& words : found) {
        if (!none) TRY(job::add_finding(inspection.seen, words));
    }
    inspection.cleaned = arguments.has("--cleaned");
    inspection.note = arguments.text("--note");
    TRY(job.inspect_face(inspection));
    return fmt::format("{}: inspection of the {} end recorded", item, job::end_name(inspection.seen.end));
}

Result<std::string> set_limits(job::Job& job, Arguments const& arguments, std::string const& item)
{
    if (!item.empty()) {
        job::KitRegister const kit = job::kit_register(job.state(), {});
        KitStanding const* const known = kit.find(item);
        TRY_ASSIGN(auto const matings,
                   limit_word(arguments, "--matings", known ? known->item.matings_limit : std::nullopt));
        TRY_ASSIGN(auto const changes, limit_word(arguments, "--pin-changes",
                                                  known ? known->item.pin_changes_limit : std::nullopt));
        TRY(job.limit_item(item, matings, changes));
        return fmt::format("{}: own limits recorded", item);
    }
    setup::RegisterLimits limits =
        job.state().kit.limits.empty() ? setup::RegisterLimits{} : job.state().kit.limits.back().limits;
    TRY_ASSIGN(limits.matings, limit_word(arguments, "--matings", limits.matings));
    TRY_ASSIGN(limits.pin_changes, limit_word(arguments, "--pin-changes", limits.pin_changes));
    if (arguments.has("--warn-at")) {
        TRY_ASSIGN(limits.warn_at, arguments.number("--warn-at"));
    }
    if (arguments.has("--calibration-days")) {
        TRY_ASSIGN(limits.calibration_warning_days, arguments.integer("--calibration-days"));
    }
    if (arguments.has("--inspected")) limits.end_faces_required = arguments.text("--inspected") == "required";
    TRY(job.limit_kit(limits));
    return std::string("Limits of the register recorded");
}

enum class Action { list, add, pin_change, inspect, limits, override_item, renew, remove };

/// `word` is one of the choices of ACTION: the parser refuses any other.
Action action_of(std::string_view word)
{
    constexpr std::array<std::pair<std::string_view, Action>, 8> actions{{{"list", Action::list},
                                                                          {"add", Action::add},
                                                                          {"pin-change", Action::pin_change},
                                                                          {"inspect", Action::inspect},
                                                                          {"limits", Action::limits},
                                                                          {"override", Action::override_item},
                                                                          {"renew", Action::renew},
                                                                          {"remove", Action::remove}}};
    for (auto const& [name, action] : actions) {
        if (name == word) return action;
    }
    assert(false);
    return Action::list;
}

/// Does what the command asks for; returns the result in one sentence.
Result<std::string> act(job::Job& job, Action action, Arguments const& arguments, World const& world)
{
    std::string const item = arguments.text("ITEM"), reason = arguments.text("--reason");
    if (item.empty() && action != Action::list && action != Action::limits)
        return Error{Errc::usage, fmt::format("kit {}: {} is missing", arguments.text("ACTION"),
                                              action == Action::add ? "the kit file" : "the item's serial")};
    switch (action) {
    case Action::list:
        break;
    case Action::add:
        return add_kit(job, world, item);
    case Action::pin_change:
        return change_pins(job, arguments, item);
    case Action::inspect:
        return inspect(job, arguments, item);
    case Action::limits:
        return set_limits(job, arguments, item);
    case Action::remove:
        TRY(job.remove_item(item, reason));
        return fmt::format("{} left the kit", item);
    case Action::renew:
        TRY(job.renew_item(item, reason));
        return fmt::format("{}: matings, pin changes and inspections start again at zero", item);
    case Action::override_item:
        TRY(job.override_item(item, reason));
        return fmt::format("You may now use {}; the record keeps your name and reason", item);
    }
    return std::string{};
}

Result<int> run_kit(Arguments const& arguments, World& world)
{
    Action const action = action_of(arguments.text("ACTION"));
    bool const changes = action != Action::list;
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), changes));
    std::string done;
    if (changes) {
        TRY_ASSIGN(done, act(job, action, arguments, world));
    }
    setup::Day today = job::day_of(Instant{world.clock.now_ms(), job.state().settings.zone_offset_minutes});
    if (arguments.has("--on")) {
        auto const day = job::parse_day(arguments.text("--on"));
        if (!day) return Error{Errc::usage, "--on: " + day.error().message};
        today = *day;
    }
    job::KitRegister const kit = job::kit_register(job.state(), today);
    // After an action on one item that item's state decides; otherwise the whole register does.
    KitStanding const* const one =
        changes && action != Action::add ? kit.find(arguments.text("ITEM")) : nullptr;
    bool const refused = one ? !one->item.removed && one->fitness == setup::Fitness::refused
                             : kit.count(setup::Fitness::refused) > 0;
    if (world.json) {
        world.out += register_json(kit, done).dump(2, ' ', false, damaged_text) + "\n";
    } else {
        if (!done.empty()) world.out += done + "\n";
        if (action == Action::limits && !one) {
            world.out += limits_text(kit);
        } else if (one) {
            Table table = table_of_kit();
            add_row(table, *one);
            world.out += table.text() + findings_text(*one);
        } else {
            world.out += register_text(kit);
        }
    }
    return refused ? 1 : 0;
}

constexpr std::array kit_options{
    job_option,
    Option{"ACTION", "", "what to do", false, false, "list",
           "list,add,pin-change,inspect,limits,override,renew,remove"},
    Option{"ITEM", "", "the item's serial; for add: the kit file (docs/formats/kit.md)"},
    Option{"--on", "DATE", "show the kit as of this day, such as 2026-03-02 (default: today)"},
    Option{"--end", "E", "pin-change, inspect: which end", false, false, {}, "near,far"},
    Option{"--to", "PINS", "pin-change: what the end is now", false, false, {}, "pinned,unpinned"},
    Option{"--pins", "N", "pin-change: number of pins that you took out, or that are now in the plug"},
    Option{"--found", "WORDS",
           "inspect: what you saw: position, zone, scratch or defect, size in um, such as \"3 A scratch "
           "2.5\"; \"none\" for a clean end",
           false, true},
    Option{"--type",
           "T",
           "inspect: which criteria to use (default: those for the item's fibre and face)",
           false,
           false,
           {},
           "multimode-pc,single-mode-pc,single-mode-pc-26,single-mode-apc"},
    Option{"--edition", "E", "inspect: edition of IEC 61300-3-35 (default: the latest in the tables)"},
    Option{"--loose-debris", "", "inspect: you saw loose debris"},
    Option{"--cleaned", "", "inspect: you cleaned the end just before"},
    Option{"--matings", "N", "limits: most matings of an end, or none"},
    Option{"--pin-changes", "N", "limits: most pin changes of an end, or none"},
    Option{"--warn-at", "SHARE", "limits: warn from this share of a limit on, such as 0.9"},
    Option{"--calibration-days", "N", "limits: warn this many days before a calibration ends"},
    Option{"--inspected",
           "HOW",
           "limits: whether every end must be inspected",
           false,
           false,
           {},
           "required,not-required"},
    Option{"--reason", "TEXT", "override, renew, remove: the reason"},
    Option{"--note", "TEXT", "pin-change, inspect: a note in your own words"},
    operator_option,
    key_option,
};

} // namespace

Command const kit_command{
    "kit",
    "Show and change the register of the kit",
    "Lists instruments, cords, adapters and pin tools with their state (fit, warned, refused or overridden), "
    "their matings and pin changes from the records, their calibration and their end faces. Adds items from "
    "a kit file, records pin changes and inspections, sets limits, and records the decision to use a refused "
    "item. A loose pin damages the next connector that is mated: count the pins. Never look into an end that "
    "may carry light. Exit code 1 when an item is refused.",
    "kit hall.guidepin",
    kit_options,
    &run_kit};

} // namespace guidepin::cli
