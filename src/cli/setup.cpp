// SPDX-License-Identifier: Apache-2.0
// Which cord goes where, which pins, which steps: for one kind of cabling, or for all links of a job.
#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/registry.hpp"
#include "cli/setup_answer.hpp"
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

Result<FoundSetups> single(Arguments const& arguments, World const& world)
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
    FoundSetups answer;
    if (found.solved) {
        FoundSetup one;
        one.group.setup = std::move(*found.solved);
        one.sheet = job::sheet_of(one.group.setup);
        answer.groups.push_back(std::move(one));
        return answer;
    }
    answer.unsolved.push_back(std::move(found.unsolved));
    return answer;
}

Result<FoundSetups> of_job(Arguments const& arguments, World& world)
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
    FoundSetups answer;
    int wanted = 0;
    bool const wants_one = record || arguments.has("--card") || arguments.has("--drawings");
    if (all.groups.empty() && (wants_one || arguments.has("--group"))) {
        std::string reasons = unsolved_text(all.unsolved);
        while (reasons.ends_with('\n')) reasons.pop_back();
        return Error{Errc::refused, reasons};
    }
    if (arguments.has("--group")) {
        TRY_ASSIGN(wanted, arguments.integer("--group"));
        if (wanted < 1 || wanted > static_cast<int>(all.groups.size()))
            return Error{Errc::usage,
                         fmt::format("--group {}: the job has set-ups 1 to {}", wanted, all.groups.size())};
    } else if (all.groups.size() == 1) {
        wanted = 1;
    }
    if (wants_one && wanted == 0)
        return Error{Errc::usage, fmt::format("Choose a set-up: --group 1 to {}", all.groups.size())};
    for (job::SetupGroup& group : all.groups) {
        if (wanted > 0 && group.number != wanted) continue;
        FoundSetup one;
        one.sheet = job::sheet_of(group.setup, &group);
        one.group = std::move(group);
        answer.groups.push_back(std::move(one));
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

Outcome write_papers(Arguments const& arguments, World& world, FoundSetups& answer)
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
                return Error{Errc::usage,
                             fmt::format("--made: \"{}\" is not a time; write it as 2026-03-05T10:00Z",
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

Result<int> run_setup(Arguments const& arguments, World& world)
{
    bool const with_job = arguments.has("JOB");
    if (!with_job && (arguments.has("--record") || arguments.has("--group")))
        return Error{Errc::usage, "--record and --group need a JOB"};
    FoundSetups answer;
    if (with_job) {
        TRY_ASSIGN(answer, of_job(arguments, world));
    } else {
        TRY_ASSIGN(answer, single(arguments, world));
    }
    TRY(write_papers(arguments, world, answer));
    int const code = answer.unsolved.empty() ? 0 : 1;
    world.out +=
        world.json ? setup_json(answer).dump(2, ' ', false, damaged_text) + "\n" : setup_text(answer);
    return code;
}

constexpr std::array setup_options{
    Option{"JOB", "", "the job's file: groups its links into as few set-ups as possible"},
    Option{"--source", "PINS",
           "pins of the source's port: pinned or unpinned; or the source's serial in the kit"},
    Option{"--meter", "PINS",
           "pins of the meter's port: pinned, unpinned, neutral (touches no plug); or the meter's serial"},
    Option{"--cabling", "PINS", "pins of the cabling's two ends, such as unpinned,unpinned"},
    Option{"--face", "FACE", "end faces of the cabling and ports", false, false, "flat", "flat,angled"},
    Option{"--adapters", "KEYS",
           "adapters at the cabling's two ends: opposed, aligned, or bare for a plug without adapter", false,
           false, "opposed,opposed"},
    Option{"--family", "F", "array connector: mpo-12, mpo-24, mpo-16, mpo-32", false, false, "mpo-12"},
    Option{"--fibres", "P", "positions under test: 12, 8-outer, 1-4,9-12 … (default: all)"},
    Option{"--category", "C", "fibre of the cabling (default: OM4 for flat ends, OS2 for angled ends)"},
    Option{"--type", "T", "polarity type of the cabling (default: B, two rows I-B)"},
    Option{"--names", "A,B", "names of the cabling's two ends"},
    Option{"--methods", "M",
           "permitted methods: one-cord,changer,two-cord,three-cord (default: one-cord, or the job's)", false,
           true},
    Option{"--no-cord-check", "", "leave out the cord check, at your risk"},
    Option{"--rules", "ID", "rule set for the limits, if no job is given", false, false, "tia-568.3-e"},
    Option{"--kit", "FILE", "your cords, adapters, tools and instruments (docs/formats/kit.md)"},
    Option{"--group", "N", "show one set-up of the job, with its steps"},
    Option{"--from-end-a", "", "launch every link of the job at its end A"},
    Option{"--card", "FILE", "write the job card, a PDF of at most two pages"},
    Option{"--drawings", "DIR", "write each phase's line of light, and every plug's end face, as SVG"},
    Option{"--paper", "P", "paper size of the card", false, false, "a4", "a4,letter"},
    Option{"--made", "TIME", "the time to print on the card (default: now)"},
    Option{"--record", "", "record this set-up in the job; its card then carries the record's code"},
    Option{"--on", "DATE",
           "the day of the work, such as 2026-03-02: the register judges the kit for it (default: today)"},
    operator_option,
    key_option,
};

} // namespace

Command const setup_command{
    "setup",
    "Find cords, pins, adapters and steps for a measurement",
    "Finds which cord goes where, and when to change pins, for the reference, the cord check and the test: "
    "with the fewest pin changes, then with the fewest matings. Shows which joints the method counts and "
    "which it hides, what the instrument will show, and the limits to accept or refuse by. Without a kit it "
    "lists what to bring. Exit code 1 when there is no set-up: the answer then names the rule and the joint, "
    "and what would help: one or two more items, the other launch end, another method, or how to end a "
    "refusal of the register.",
    "setup --source pinned --meter pinned --cabling unpinned,unpinned",
    setup_options,
    &run_setup};

} // namespace guidepin::cli
