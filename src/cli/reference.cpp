// SPDX-License-Identifier: Apache-2.0
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/registry.hpp"
#include "job/groundwork/trust.hpp"
#include "job/sheet/locale.hpp"

#include <array>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;

Json reasons_json(std::vector<job::TrustReason> const& reasons)
{
    Json json = Json::array();
    for (auto const& reason : reasons)
        json.push_back({{"id", reason.id},
                        {"text", reason.text},
                        {"what_to_do", reason.what_to_do},
                        {"refuses", reason.refuses}});
    return json;
}

/// Prints the state of each of `names`, which are references or cord checks; true if none is refused.
template <class Trust, class Name>
bool report_trust(std::vector<Trust> const& standings, std::vector<Name> const& names, char const* word,
                  World& world, Json& list)
{
    bool good = true;
    for (Name const& name : names) {
        for (Trust const& trust : standings) {
            if (trust.id != name) continue;
            good = good && trust.state != "refused";
            list.push_back(
                {{"id", trust.id.text()}, {"state", trust.state}, {"reasons", reasons_json(trust.reasons)}});
            world.out += world.json ? "" : fmt::format("{} {}: {}\n", word, trust.id, trust.state);
            for (auto const& reason : trust.reasons) {
                if (world.json) continue;
                world.out += fmt::format("  {}: {}{}\n", reason.refuses ? "refused" : "note", reason.text,
                                         reason.what_to_do.empty() ? "" : " " + reason.what_to_do);
            }
        }
    }
    return good;
}

Result<int> run_reference(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), true));
    TRY_ASSIGN(auto const file, job::MappedFile::open(path_in(world, arguments.text("FILE"))));
    TRY_ASSIGN(auto const options, file_options_of(arguments, world));
    job::ReferenceOptions how;
    how.kit = {.source = arguments.text("--source"),
               .meter = arguments.text("--meter"),
               .launch = arguments.text("--launch"),
               .tail = arguments.text("--tail"),
               .substitution = arguments.text("--substitution")};
    how.method = setup::parse_reference_method(arguments.text("--method"));
    how.instrument_positions = arguments.text("--positions") == "instrument";
    for (std::string const& word : arguments.texts("--override")) {
        auto const sign = word.find('=');
        if (sign == std::string::npos || sign == 0 || sign + 1 == word.size())
            return Error{Errc::usage,
                         fmt::format("--override: \"{}\" is not an override; write SERIAL=REASON", word)};
        how.overrides.emplace_back(word.substr(0, sign), word.substr(sign + 1));
    }
    TRY_ASSIGN(auto const outcome, job.take_reference(arguments.text("FILE"), file.bytes(), options, how));
    TRY_ASSIGN(auto const* const assessment, job.assessment());
    Json list = Json::array();
    bool const good =
        report_trust(job::reference_trust(job.state(), *assessment), outcome.ids, "reference", world, list);
    if (world.json) world.out += Json{{"references", list}}.dump(2, ' ', false, damaged_text) + "\n";
    return good ? 0 : 1;
}

Result<int> run_cord_check(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), true));
    TRY_ASSIGN(auto const file, job::MappedFile::open(path_in(world, arguments.text("FILE"))));
    TRY_ASSIGN(auto const options, file_options_of(arguments, world));
    TRY_ASSIGN(auto const outcome, job.take_cord_check(arguments.text("FILE"), file.bytes(), options,
                                                       verdict::ReferenceId(arguments.text("--reference")),
                                                       arguments.text("--positions") == "instrument"));
    TRY_ASSIGN(auto const* const assessment, job.assessment());
    Json list = Json::array();
    bool const good =
        report_trust(job::check_trust(job.state(), *assessment), outcome.ids, "cord check", world, list);
    if (world.json) world.out += Json{{"cord_checks", list}}.dump(2, ' ', false, damaged_text) + "\n";
    return good ? 0 : 1;
}

Result<int> run_event(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), true));
    job::ReferenceEvent event;
    event.event = arguments.text("EVENT");
    event.reference = verdict::ReferenceId(arguments.text("--reference"));
    event.note = arguments.text("--note");
    event.at = {world.clock.now_ms(), job.state().settings.zone_offset_minutes};
    if (arguments.has("--at")) {
        auto const at = parse_instant(arguments.text("--at"), job.state().settings.zone_offset_minutes);
        if (!at)
            return Error{Errc::usage, fmt::format("--at: \"{}\" is not a time; write it as 2026-03-02T08:15",
                                                  arguments.text("--at"))};
        event.at = *at;
    }
    TRY(job.note_event(event));
    if (world.json) {
        world.out += Json{{"event", event.event},
                          {"reference", event.reference.text()},
                          {"at", instant_text(event.at)}}
                         .dump(2, ' ', false, damaged_text) +
                     "\n";
    } else {
        world.out +=
            fmt::format("{} recorded on {}{}: readings after it are held until you take a new reference\n",
                        event.event, job::date_time(event.at, job.state().settings),
                        event.reference.empty() ? "" : " for reference " + event.reference.text());
    }
    return 0;
}

constexpr std::array reference_options{
    job_option,
    Option{"FILE", "", "the powers: one row per position and wavelength (docs/formats/csv.md)", true},
    Option{"--source", "ID", "the light source"},
    Option{"--meter", "ID", "the power meter"},
    Option{"--launch", "ID", "the launch cord"},
    Option{"--tail", "ID", "the tail cord"},
    Option{"--substitution", "ID", "the substitution cord"},
    Option{"--method",
           "M",
           "reference method, if it differs from the job's",
           false,
           false,
           {},
           "one-cord,two-cord,three-cord"},
    Option{"--positions", "P",
           "how the file numbers positions: as on the cords' plugs, or as on the instrument's ports", false,
           false, "cabling", "cabling,instrument"},
    Option{"--override", "SERIAL=REASON", "use an item that the register refuses, with your reason", false,
           true},
    map_option,
    keep_option,
    separator_option,
    decimal_option,
    operator_option,
    key_option,
};
constexpr std::array check_options{
    job_option,
    Option{"FILE", "", "the check's readings: one row per position and wavelength (docs/formats/csv.md)",
           true},
    Option{"--reference", "ID", "reference of rows that name none"},
    Option{"--positions", "P",
           "how the file numbers positions: as on the cords' plugs, or as on the instrument's ports", false,
           false, "cabling", "cabling,instrument"},
    map_option,
    keep_option,
    separator_option,
    decimal_option,
    operator_option,
    key_option,
};
constexpr std::array event_options{
    job_option,
    Option{"EVENT",
           "",
           "what happened",
           true,
           false,
           {},
           "launch-cord-left-source,launch-cord-cleaned,cord-changed,adapter-changed,instrument-changed,"
           "wavelength-or-mode-changed,power-cycle,temperature-change,drift-check-failed,negative-loss,"
           "person-voided"},
    Option{"--reference", "ID", "the reference that the event voids (default: every reference in force)"},
    Option{"--at", "TIME", "when it happened (default: now)"},
    Option{"--note", "TEXT", "a note in your own words"},
    operator_option,
    key_option,
};

} // namespace

Command const reference_command{
    "reference",
    "Import a reference and say whether it may be used",
    "Records the powers of a reference per position and wavelength and checks them: complete, plausible, "
    "even across the row, repeatable, instruments in calibration. Exit code 1 when the reference is refused. "
    "Caution: light from a fibre is invisible and can harm the eye; never look into an end.",
    "reference hall.guidepin reference-1.csv --source LS-1 --meter PM-1 --launch TRC-01",
    reference_options,
    &run_reference};
Command const cord_check_command{
    "cord-check",
    "Import the cord check that follows a reference",
    "Compares the loss of the cords, joined directly or with a known cord between them, with what their "
    "joints should lose. Readings under the reference are held until a check is accepted. Exit code 1 when "
    "the check is refused.",
    "cord-check hall.guidepin check-1.csv --reference R-1",
    check_options,
    &run_cord_check};
Command const reference_event_command{
    "reference-event",
    "Record an event that voids a reference",
    "Records that the launch cord left the source, the power failed, or an instrument or cord was changed. "
    "Readings after the event are held; nothing is deleted.",
    "reference-event hall.guidepin launch-cord-left-source --reference R-1",
    event_options,
    &run_event};

} // namespace guidepin::cli
