// SPDX-License-Identifier: Apache-2.0
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/print.hpp"
#include "cli/registry.hpp"
#include "intake/csv.hpp"

#include <array>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

Result<int> run_readings(Arguments const& arguments, World& world)
{
    if (arguments.has("--propose-columns")) {
        std::string const name = arguments.text("--propose-columns");
        // One byte more than the proposal reads shows that the file is longer.
        TRY_ASSIGN(auto const file,
                   job::MappedFile::open_beginning(path_in(world, name), intake::looked_at_most + 1));
        TRY_ASSIGN(std::string const proposal,
                   intake::propose_column_map(file.bytes(), intake::LayoutKind::readings, name));
        if (world.json) {
            world.out += nlohmann::ordered_json{{"file", name}, {"column_map", proposal}}.dump(2, ' ', false,
                                                                                               damaged_text) +
                         "\n";
        } else {
            world.out += proposal;
        }
        return 0;
    }
    if (!arguments.has("JOB") || !arguments.has("FILE")) {
        return Error{
            Errc::usage,
            "readings needs a JOB and a FILE (or --propose-columns FILE). See: guidepin readings --help"};
    }
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), true));
    TRY_ASSIGN(auto const file, job::MappedFile::open(path_in(world, arguments.text("FILE"))));
    TRY_ASSIGN(auto const options, file_options_of(arguments, world));
    job::ReadingsOptions how;
    how.reference = arguments.text("--reference");
    how.operator_name = arguments.text("--measured-by");
    how.again = arguments.has("--again");
    how.instrument_positions = arguments.text("--positions") == "instrument";
    auto imported = job.import_readings(arguments.text("FILE"), file.bytes(), options, how);
    if (!imported && imported.error().code == Errc::invalid_input && !arguments.has("--columns")) {
        Error const& error = imported.error();
        return Error{error.code,
                     error.message +
                         "\n\"guidepin readings --propose-columns FILE\" writes a first column map for a "
                         "file of another layout; --keep-good-rows keeps the good rows.",
                     error.file, error.line};
    }
    TRY_ASSIGN(auto const outcome, std::move(imported));
    if (world.json) {
        nlohmann::ordered_json const json = {
            {"file", arguments.text("FILE")}, {"readings", outcome.rows},
            {"links", outcome.links},         {"first_tests", outcome.new_links},
            {"retests", outcome.retested},    {"unknown_links", outcome.unknown_links},
            {"held_readings", outcome.held},  {"repeated_rows", outcome.repeated_rows},
            {"bad_rows", outcome.bad_rows},   {"warnings", outcome.warnings}};
        world.out += json.dump(2, ' ', false, damaged_text) + "\n";
        return 0;
    }
    world.out +=
        fmt::format("{} of {}: {} tested for the first time, {} again\n", counted(outcome.rows, "reading"),
                    counted(outcome.links, "link"), outcome.new_links, outcome.retested);
    if (outcome.held > 0) {
        world.out += fmt::format("  {} held; \"guidepin verdicts {} --state held\" says why\n",
                                 counted(outcome.held, "reading"), arguments.text("JOB"));
    }
    if (!outcome.unknown_links.empty()) {
        world.out +=
            fmt::format("  not in the schedule, so kept but open: {}\n", some_of(outcome.unknown_links, 8));
    }
    for (std::string const& warning : outcome.warnings) world.out += fmt::format("  note: {}\n", warning);
    return 0;
}

constexpr std::array readings_options{
    Option{"JOB", "", "the job's file"},
    Option{"FILE", "", "the readings: one row per position and wavelength (docs/formats/csv.md)"},
    map_option,
    Option{"--propose-columns", "FILE",
           "write a first column map for this file, for you to correct; imports nothing"},
    Option{"--reference", "ID", "reference of rows that name none"},
    Option{"--measured-by", "NAME", "who measured the rows that name nobody"},
    Option{"--positions", "P",
           "how the file numbers positions: as on the cabling's plugs, or as on the instrument's ports",
           false, false, "cabling", "cabling,instrument"},
    Option{"--again", "", "import the file although the same bytes were imported before"},
    keep_option,
    separator_option,
    decimal_option,
    operator_option,
    key_option,
};

} // namespace

Command const readings_command{
    "readings",
    "Import readings",
    "Imports readings: attenuation (or power), far position and length of each position at each wavelength. "
    "Each link gets one record. A later reading of the same place replaces an earlier one in the verdict; "
    "the record keeps both.",
    "readings hall.guidepin day-1.csv",
    readings_options,
    &run_readings};

} // namespace guidepin::cli
