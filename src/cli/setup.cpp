// SPDX-License-Identifier: Apache-2.0
// Which cord goes where, which pins, which steps: for one kind of cabling, or for all links of a job.
#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/print.hpp"
#include "cli/registry.hpp"
#include "job/open/choose_set_up.hpp"
#include "job/plan/set_up_card.hpp"
#include "job/plan/set_up_drawings.hpp"
#include "job/plan/set_up_sheet.hpp"
#include "job/sheet/locale.hpp"

#include <array>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;

/// A set-up that was found, ready to be shown.
struct Shown
{
    job::SetupGroup group; ///< number 0 without a job
    job::SetupSheet sheet;
};

struct Answer
{
    std::vector<Shown> groups;
    std::optional<job::JobSetups> whole; ///< of a job; its groups moved away
    std::vector<job::UnsolvedGroup> unsolved;
    report::JobHead head;
    std::vector<std::string> written;
};

// ---- For people ----

std::string facts_text(std::vector<report::Said> const& facts)
{
    Table table({{""}, {""}});
    for (report::Said const& said : facts) table.add({said.label, said.text});
    std::string text = table.text();
    return text.substr(text.find('\n') + 1);
}

std::string line_of_light(drawing::LightPath const& path)
{
    auto const end = [](std::optional<drawing::LightEnd> const& each) -> std::string {
        if (!each) return {};
        bool const up = each->kind == plant::EndKind::plug && each->slope == plant::Slope::up;
        return std::string(plant::name_of(each->pins)) + (each->changed ? "!" : "") +
               (up ? " (up-angled)" : "");
    };
    std::string text;
    for (std::size_t i = 0; i < path.bodies.size(); ++i) {
        drawing::LightBody const& body = path.bodies[i];
        std::string const name = body.serial.empty() ? lowered(body.title) : body.serial;
        if (i > 0) {
            drawing::LightJoint const& joint = path.joints[i - 1];
            text += joint.kind == drawing::JointKind::port
                        ? " >< "
                        : fmt::format(" >{}< ", plant::name_of(joint.keys));
        }
        std::string const left = end(body.left), right = end(body.right);
        text += left.empty() ? "" : left + " ";
        text += body.kind == drawing::BodyKind::cabling ? "[" + name + "]" : name;
        text += right.empty() ? "" : " " + right;
    }
    return text;
}

std::string phases_text(job::SetupSheet const& sheet)
{
    std::string text;
    std::map<std::string, int> told; // the same advice is given once, then by its step
    auto const advice = [&](char const* label, std::string const& words, int number) -> std::string {
        if (words.empty()) return {};
        auto const [known, first] = told.emplace(words, number);
        return first ? fmt::format("      {} {}\n", label, words)
                     : fmt::format("      {} as in {}\n", label, known->second);
    };
    for (job::SheetPhase const& phase : sheet.phases) {
        text += fmt::format("\n{}\n", job::title_of(phase.phase));
        if (phase.path) text += fmt::format("  {}\n", line_of_light(*phase.path));
        if (phase.path && !phase.path->changes.empty())
            text += fmt::format("  new here: {}\n", joined(phase.path->changes, "; "));
        for (report::CardNumber const& number : phase.numbers)
            text +=
                fmt::format("  {}\n    accept {}; refuse {}\n", number.what, number.accept, number.refuse);
        for (setup::Step const& step : phase.steps) {
            text += fmt::format("  {:>2}. {}\n", step.number, step.text);
            text += advice("look for:", step.look_for, step.number);
            text += advice("if not:  ", step.if_not, step.number);
        }
    }
    return text;
}

std::string methods_text(job::SolvedSetup const& solved)
{
    Table table({{"method"},
                 {"pin changes", Align::right},
                 {"matings", Align::right},
                 {"items", Align::right},
                 {"joints hidden", Align::right},
                 {"U, k = 2", Align::right},
                 {""}});
    for (job::MethodRow const& row : solved.methods) {
        std::string const note = row.chosen ? "chosen" : !row.permitted ? "not permitted here" : "";
        std::vector<std::string> cells{setup::name_of(row.shadow.arrangement)};
        if (row.cost) {
            cells.push_back(fmt::format("{}", row.cost->pin_changes));
            cells.push_back(fmt::format("{}", row.cost->reference_matings));
            cells.push_back(fmt::format("{}", row.cost->items));
        } else {
            cells.insert(cells.end(), 3, "-");
        }
        cells.push_back(fmt::format("{}", row.shadow.joints_removed));
        cells.push_back(job::with_decimals(fixed_text(row.expanded_uncertainty.value(), 2), solved.locale) +
                        " dB");
        cells.push_back(row.cost ? note : note + (note.empty() ? "" : ": ") + "not possible with this kit");
        table.add(std::move(cells));
    }
    return table.text();
}

std::string unsolved_text(std::vector<job::UnsolvedGroup> const& unsolved)
{
    std::string text;
    for (job::UnsolvedGroup const& each : unsolved) {
        text += each.links.empty()
                    ? std::string("No set-up is possible.\n")
                    : fmt::format("No set-up for {} link{}: {}\n", each.links.size(),
                                  each.links.size() == 1 ? "" : "s", job::links_text(each.links, 6));
        for (std::string_view const line : split(each.reason, '\n')) text += fmt::format("  {}\n", line);
        if (!each.remedy.empty()) text += fmt::format("  Borrow or buy: {}.\n", each.remedy);
        for (std::string const& way : each.ways)
            text += fmt::format("  {} {}.\n", each.remedy.empty() ? "Possible:" : "Or:", way);
    }
    return text;
}

std::string cost_text(setup::JobCost const& cost)
{
    return fmt::format("{} set-up{}, {} reference{}, {} pin change{}", cost.setups,
                       cost.setups == 1 ? "" : "s", cost.references, cost.references == 1 ? "" : "s",
                       cost.pin_changes, cost.pin_changes == 1 ? "" : "s");
}

std::string job_text(job::JobSetups const& all)
{
    std::string text =
        fmt::format("\nWhole job: {}{}\n", cost_text(all.cost),
                    all.exact ? "" : " (many kinds of link: a good order, perhaps not the best)");
    Table ways({{"another way"},
                {"set-ups", Align::right},
                {"references", Align::right},
                {"pin changes", Align::right},
                {"joints hidden", Align::right}});
    for (setup::JobAlternative const& each : all.alternatives) {
        if (!each.cost) {
            ways.add({each.name, "not possible"});
            continue;
        }
        ways.add({each.name, fmt::format("{}", each.cost->setups), fmt::format("{}", each.cost->references),
                  fmt::format("{}", each.cost->pin_changes),
                  fmt::format("{}", each.most_joints_in_reference)});
    }
    text += ways.text();
    Table kit({{"kit to bring"},
               {"needed", Align::right},
               {"spare", Align::right},
               {"in kit", Align::right},
               {"labels"}});
    for (setup::KitLine const& line : all.kit_list)
        kit.add({line.text, fmt::format("{}", line.needed), fmt::format("{}", line.spare),
                 fmt::format("{}", line.in_kit), joined(line.ids, ", ")});
    text += "\n" + kit.text();
    for (std::string const& remark : all.remarks) text += fmt::format("\n{}\n", remark);
    return text;
}

std::string group_line(Shown const& shown)
{
    return fmt::format("{}\n  {} link{}: {}\n  {}\n", shown.sheet.title, shown.sheet.links.size(),
                       shown.sheet.links.size() == 1 ? "" : "s", job::links_text(shown.sheet.links, 8),
                       shown.group.why);
}

std::string whole_text(Shown const& shown)
{
    std::string text = shown.sheet.title + "\n";
    if (!shown.group.why.empty()) text += fmt::format("  {}\n", shown.group.why);
    text += "\n" + facts_text(shown.sheet.facts) + phases_text(shown.sheet) + "\n" +
            methods_text(shown.group.setup);
    text += "\nCautions\n";
    for (setup::Caution const& caution : setup::cautions()) text += fmt::format("  {}\n", caution.text);
    return text;
}

// ---- For programs ----

Json cost_json(setup::JobCost const& cost)
{
    return {{"setups", cost.setups},
            {"references", cost.references},
            {"pin_changes", cost.pin_changes},
            {"reference_matings", cost.reference_matings}};
}

Json cost_json(setup::Cost const& cost)
{
    return {{"pin_changes", cost.pin_changes},
            {"reference_matings", cost.reference_matings},
            {"items", cost.items}};
}

Json map_json(plant::PositionMap const& map)
{
    Json list = Json::array();
    for (int p = 1; p <= plant::max_positions; ++p) {
        if (map.at(p) > 0) list.push_back({p, map.at(p)});
    }
    return list;
}

Json cord_json(job::SolvedSetup const& solved, std::optional<setup::CordUse> const& use)
{
    if (!use) return nullptr;
    return solved.question.kit.cords[static_cast<std::size_t>(use->cord)].id;
}

Json group_json(Shown const& shown)
{
    job::SolvedSetup const& solved = shown.group.setup;
    Json links = Json::array();
    for (setup::GroupedLink const& link : shown.group.links)
        links.push_back({{"link", link.id}, {"launch_end", link.from_end_b ? "b" : "a"}});
    Json maps = Json::array();
    for (job::ShownFor const& each : solved.shown) {
        maps.push_back({{"links", each.links},
                        {"cabling", each.map.cabling_class},
                        {"shown", each.map.shown_class},
                        {"same_numbers", each.map.same_numbers},
                        {"text", each.map.text},
                        {"cabling_map", map_json(each.map.expected)},
                        {"shown_map", map_json(each.map.shown)}});
    }
    Json checks = Json::array();
    for (job::CheckNumbers const& each : solved.checks) {
        checks.push_back({{"wavelength_nm", each.wavelength.value()},
                          {"expected_least_db", each.expected_least.value()},
                          {"expected_most_db", each.expected_most.value()},
                          {"refused_below_db", each.refused_below.value()},
                          {"good_up_to_db", each.good_up_to.value()},
                          {"refused_above_db", each.refused_above.value()},
                          {"arithmetic", each.arithmetic},
                          {"rests_on_memory", each.rests_on_memory}});
    }
    Json methods = Json::array();
    for (job::MethodRow const& row : solved.methods) {
        methods.push_back({{"method", setup::name_of(row.shadow.arrangement)},
                           {"chosen", row.chosen},
                           {"permitted", row.permitted},
                           {"cost", row.cost ? cost_json(*row.cost) : Json(nullptr)},
                           {"blocker", row.blocker},
                           {"joints_hidden", row.shadow.joints_removed},
                           {"expanded_uncertainty_db", row.expanded_uncertainty.value()},
                           {"hides", row.shadow.hides},
                           {"check_tells", row.shadow.check_tells}});
    }
    Json facts = Json::array();
    for (report::Said const& said : shown.sheet.facts)
        facts.push_back({{"label", said.label}, {"text", said.text}});
    auto const body = job::setup_body(shown.sheet);
    return {{"number", shown.group.number > 0 ? Json(shown.group.number) : Json(nullptr)},
            {"title", shown.sheet.title},
            {"links", links},
            {"new_reference", shown.group.new_reference},
            {"why", shown.group.why},
            {"method", setup::name_of(solved.plan.arrangement)},
            {"check", setup::name_of(solved.plan.check)},
            {"cost", cost_json(solved.plan.cost)},
            {"instruments", {{"source", solved.source_serial}, {"meter", solved.meter_serial}}},
            {"kit_assumed", solved.kit_assumed},
            {"decisions", solved.decisions},
            {"cords",
             {{"launch", cord_json(solved, solved.plan.launch)},
              {"tail", cord_json(solved, solved.plan.tail)},
              {"extra", cord_json(solved, solved.plan.extra)},
              {"known", cord_json(solved, solved.plan.known)}}},
            {"counting",
             {{"end_connections", solved.counting.end_connections_present},
              {"joints_removed", solved.counting.joints_removed},
              {"cord_grade", facts::name_of(solved.counting.grade)}}},
            {"shown_maps", maps},
            {"shown_missing", solved.shown_missing},
            {"cord_check", checks},
            {"cord_check_missing", solved.checks_missing},
            {"methods", methods},
            {"facts", facts},
            {"phases", body ? Json::parse(*body)["phases"] : Json::array()},
            {"record", shown.sheet.hash.empty() ? Json(nullptr) : Json(shown.sheet.hash)}};
}

Json answer_json(Answer const& answer)
{
    Json groups = Json::array();
    for (Shown const& shown : answer.groups) groups.push_back(group_json(shown));
    Json unsolved = Json::array();
    for (job::UnsolvedGroup const& each : answer.unsolved)
        unsolved.push_back({{"links", each.links},
                            {"reason", each.reason},
                            {"remedy", each.remedy.empty() ? Json(nullptr) : Json(each.remedy)},
                            {"ways", each.ways}});
    Json kit = Json::array();
    Json ways = Json::array();
    Json remarks = Json::array();
    if (answer.whole) {
        for (setup::KitLine const& line : answer.whole->kit_list)
            kit.push_back({{"what", line.text},
                           {"needed", line.needed},
                           {"spare", line.spare},
                           {"in_kit", line.in_kit},
                           {"labels", line.ids},
                           {"why", line.why}});
        for (setup::JobAlternative const& each : answer.whole->alternatives)
            ways.push_back({{"name", each.name},
                            {"cost", each.cost ? cost_json(*each.cost) : Json(nullptr)},
                            {"most_joints_hidden", each.most_joints_in_reference},
                            {"blocker", each.blocker}});
        remarks = answer.whole->remarks;
    }
    return {{"groups", groups},
            {"unsolved", unsolved},
            {"cost", answer.whole ? cost_json(answer.whole->cost) : Json(nullptr)},
            {"exact", answer.whole ? answer.whole->exact : true},
            {"kit_list", kit},
            {"alternatives", ways},
            {"remarks", remarks},
            {"written", answer.written}};
}

// ---- The work ----

Result<std::optional<job::KitFile>> kit_given(Arguments const& arguments, World const& world,
                                              facts::Tables const& tables)
{
    if (!arguments.has("--kit")) return std::optional<job::KitFile>{};
    std::string const name = arguments.text("--kit");
    TRY_ASSIGN(std::string const text, job::read_file(path_in(world, name)));
    TRY_ASSIGN(job::KitFile kit, job::kit_from_file({name, text}, tables));
    return std::optional(std::move(kit));
}

/// The day of the work: as given, else today.
Result<setup::Day> work_day(Arguments const& arguments, World const& world, std::int16_t zone_offset_minutes)
{
    if (!arguments.has("--on")) return job::day_of(Instant{world.clock.now_ms(), zone_offset_minutes});
    auto const day = job::parse_day(arguments.text("--on"));
    if (!day) return Error{Errc::usage, "--on: " + day.error().message};
    return *day;
}

Result<Answer> single(Arguments const& arguments, World const& world)
{
    facts::Tables const& tables = facts::built_in_tables();
    TRY_ASSIGN(auto const kit, kit_given(arguments, world, tables));
    job::SetupWords words;
    words.source = arguments.text("--source");
    words.meter = arguments.text("--meter");
    words.cabling = arguments.text("--cabling");
    words.face = arguments.text("--face");
    words.adapters = arguments.text("--adapters");
    words.family = arguments.text("--family");
    words.fibres = arguments.text("--fibres");
    words.category = arguments.text("--category");
    words.type = arguments.text("--type");
    words.names = arguments.text("--names");
    words.methods = arguments.texts("--methods");
    words.cord_check = !arguments.has("--no-cord-check");
    job::SetupRules rules;
    rules.tables = &tables;
    auto const named = tables.rule_set(arguments.text("--rules"));
    if (!named) return Error{Errc::usage, "--rules: " + named.error().message};
    rules.rules = *named;
    TRY_ASSIGN(setup::Day const today, work_day(arguments, world, 0));
    job::KitRulings const rulings = kit ? job::kit_rulings(*kit, nullptr, today) : job::KitRulings{};
    TRY_ASSIGN(job::SetupAnswer found, job::set_up(words, kit ? &*kit : nullptr, rules, rulings));
    Answer answer;
    if (found.solved) {
        Shown shown;
        shown.group.setup = std::move(*found.solved);
        shown.sheet = job::sheet_of(shown.group.setup);
        answer.groups.push_back(std::move(shown));
        return answer;
    }
    answer.unsolved.push_back(std::move(found.unsolved));
    return answer;
}

Result<Answer> of_job(Arguments const& arguments, World& world)
{
    bool const record = arguments.has("--record");
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), record));
    job::JobSetupWish wish;
    TRY_ASSIGN(wish.kit, kit_given(arguments, world, job.state().tables));
    wish.methods = arguments.texts("--methods");
    TRY_ASSIGN(setup::Day const today, work_day(arguments, world, job.state().settings.zone_offset_minutes));
    wish.today = today;
    wish.either_end = !arguments.has("--from-end-a");
    TRY_ASSIGN(job::JobSetups all, job::job_setups(job.state(), wish));
    Answer answer;
    int wanted = 0;
    bool const one = record || arguments.has("--card") || arguments.has("--drawings");
    if (all.groups.empty() && (one || arguments.has("--group"))) {
        std::string reasons = unsolved_text(all.unsolved);
        while (reasons.ends_with('\n')) reasons.pop_back();
        return Error{Errc::refused, reasons};
    }
    if (arguments.has("--group")) {
        TRY_ASSIGN(wanted, arguments.integer("--group"));
        if (wanted < 1 || wanted > static_cast<int>(all.groups.size()))
            return Error{Errc::usage,
                         fmt::format("--group {}: this job has set-ups 1 to {}", wanted, all.groups.size())};
    } else if (all.groups.size() == 1) {
        wanted = 1;
    }
    if (one && wanted == 0)
        return Error{Errc::usage, fmt::format("Which set-up is meant? --group 1 to {}", all.groups.size())};
    for (job::SetupGroup& group : all.groups) {
        if (wanted > 0 && group.number != wanted) continue;
        Shown shown;
        shown.sheet = job::sheet_of(group.setup, &group);
        shown.group = std::move(group);
        answer.groups.push_back(std::move(shown));
    }
    all.groups.clear();
    if (wanted == 0) {
        answer.unsolved = all.unsolved;
        answer.whole = std::move(all);
    }
    job::Settings const& settings = job.state().settings;
    answer.head = {settings.title, settings.site, settings.client, settings.contractor};
    if (record) {
        TRY_ASSIGN(answer.groups.front().sheet.hash, job::choose(job, answer.groups.front().group, today));
    }
    return answer;
}

Outcome write_papers(Arguments const& arguments, World& world, Answer& answer)
{
    if (answer.groups.empty()) return {};
    job::SetupSheet const& sheet = answer.groups.front().sheet;
    if (arguments.has("--card")) {
        job::CardOptions options;
        if (auto const paper = report::parse_paper(arguments.text("--paper"))) options.paper = *paper;
        options.made = {world.clock.now_ms(), 0};
        if (arguments.has("--made")) {
            auto const made = parse_instant(arguments.text("--made"));
            if (!made)
                return Error{Errc::usage, fmt::format("--made: \"{}\" is no time such as 2026-03-05T10:00Z",
                                                      arguments.text("--made"))};
            options.made = *made;
        }
        options.program = GUIDEPIN_VERSION;
        TRY_ASSIGN(std::string const pdf, job::job_card_pdf(sheet, answer.head, options));
        TRY(job::write_file(path_in(world, arguments.text("--card")), pdf));
        answer.written.push_back(arguments.text("--card"));
    }
    if (arguments.has("--drawings")) {
        std::string const folder = arguments.text("--drawings");
        TRY(job::make_folder(path_in(world, folder)));
        auto files = job::setup_drawings(sheet);
        for (auto& face : job::end_face_files(answer.groups.front().group.setup))
            files.push_back(std::move(face));
        for (auto const& [name, svg] : files) {
            TRY(job::write_file(path_in(world, folder + "/" + name), svg));
            answer.written.push_back(folder + "/" + name);
        }
    }
    return {};
}

Result<int> run(Arguments const& arguments, World& world)
{
    bool const with_job = arguments.has("JOB");
    if (!with_job && (arguments.has("--record") || arguments.has("--group")))
        return Error{Errc::usage, "--record and --group are for the set-ups of a job: name its file"};
    Answer answer;
    if (with_job) {
        TRY_ASSIGN(answer, of_job(arguments, world));
    } else {
        TRY_ASSIGN(answer, single(arguments, world));
    }
    TRY(write_papers(arguments, world, answer));
    int const code = answer.unsolved.empty() ? 0 : 1;
    if (world.json) {
        world.out += answer_json(answer).dump(2, ' ', false, damaged_text) + "\n";
        return code;
    }
    bool const overview = answer.whole.has_value();
    for (Shown const& shown : answer.groups) world.out += overview ? group_line(shown) : whole_text(shown);
    world.out += unsolved_text(answer.unsolved);
    if (overview) {
        world.out += job_text(*answer.whole);
        world.out += "\nSteps and numbers of one: --group N; its card: --group N --card FILE.pdf\n";
    }
    if (!answer.groups.empty() && !answer.groups.front().sheet.hash.empty())
        world.out += fmt::format("\nrecorded as {}\n", answer.groups.front().sheet.hash);
    for (std::string const& file : answer.written) world.out += fmt::format("written: {}\n", file);
    return code;
}

constexpr std::array options{
    Option{"JOB", "", "the job's file: its links are grouped into as few set-ups as possible"},
    Option{"--source", "PINS", "pins of the source's port: pinned or unpinned; or its serial in the kit"},
    Option{"--meter", "PINS",
           "of the meter's port: pinned, unpinned, neutral (touches no plug); or its serial"},
    Option{"--cabling", "PINS", "pins of the cabling's two ends: unpinned,unpinned"},
    Option{"--face", "FACE", "end faces of the cabling and ports", false, false, "flat", "flat,angled"},
    Option{"--adapters", "KEYS",
           "at the cabling's two ends: opposed, aligned, or bare for a plug that hangs free", false, false,
           "opposed,opposed"},
    Option{"--family", "F", "array connector: mpo-12, mpo-24, mpo-16, mpo-32", false, false, "mpo-12"},
    Option{"--fibres", "P", "positions under test: 12, 8-outer, 1-4,9-12 … (default: all)"},
    Option{"--category", "C", "fibre of the cabling (default: OM4 where flat, OS2 where angled)"},
    Option{"--type", "T", "polarity type of the cabling (default: B, two rows I-B)"},
    Option{"--names", "A,B", "what the cabling's two ends are called"},
    Option{"--methods", "M",
           "permitted methods: one-cord,changer,two-cord,three-cord (default: one-cord, or the job's)", false,
           true},
    Option{"--no-cord-check", "", "leave the cord check out, at your risk"},
    Option{"--rules", "ID", "rule set for the limits, without a job", false, false, "tia-568.3-e"},
    Option{"--kit", "FILE", "your cords, adapters, tools and instruments (docs/formats/kit.md)"},
    Option{"--group", "N", "one set-up of the job, with its steps"},
    Option{"--from-end-a", "", "launch every link of the job at its end A"},
    Option{"--card", "FILE", "write the job card: a PDF of two sides at most"},
    Option{"--drawings", "DIR", "write each phase's line of light, and every plug's end face, as SVG"},
    Option{"--paper", "P", "paper of the card", false, false, "a4", "a4,letter"},
    Option{"--made", "TIME", "the time to print on the card (default: now)"},
    Option{"--record", "", "keep this set-up in the job; its card then carries the record's code"},
    Option{"--on", "DATE",
           "the day of the work, for the register of the kit, as 2026-03-02 (default: today)"},
    operator_option,
    key_option,
};

} // namespace

Command const setup_command{
    "setup",
    "Find cords, pins, adapters and steps for a measurement",
    "Solves which cord goes where and when pins are changed, for the reference, the cord check and the test, "
    "with the fewest pin changes, then the fewest matings. Says what the method counts and hides, what the "
    "instrument will show, and the numbers to accept or refuse by. Without a kit it says what to bring. Exit "
    "code 1 when there is no set-up: then the rule and the joint are named, and what would help: an item or "
    "two, the other launch end, another method, or what ends a refusal of the register.",
    "setup --source pinned --meter pinned --cabling unpinned,unpinned",
    options,
    &run};

} // namespace guidepin::cli
