// SPDX-License-Identifier: Apache-2.0
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/print.hpp"
#include "cli/registry.hpp"

#include <array>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

Result<int> run_schedule(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), true));
    TRY_ASSIGN(auto const file, job::MappedFile::open(path_in(world, arguments.text("FILE"))));
    TRY_ASSIGN(auto const options, file_options_of(arguments, world));
    TRY_ASSIGN(auto const outcome, job.import_schedule(arguments.text("FILE"), file.bytes(), options));
    if (world.json) {
        nlohmann::ordered_json const json = {{"file", arguments.text("FILE")},
                                             {"added", outcome.added},
                                             {"replaced", outcome.replaced},
                                             {"links", job.state().scheduled()},
                                             {"warnings", outcome.warnings}};
        world.out += json.dump(2, ' ', false, damaged_text) + "\n";
        return 0;
    }
    world.out += fmt::format("{} added, {} replaced; {} in the schedule\n", counted(outcome.added, "link"),
                             outcome.replaced, job.state().scheduled());
    for (std::string const& warning : outcome.warnings) world.out += fmt::format("  note: {}\n", warning);
    return 0;
}

constexpr std::array schedule_options{
    job_option,       Option{"FILE", "", "the schedule: one row per link (docs/formats/csv.md)", true},
    map_option,       keep_option,
    separator_option, decimal_option,
    operator_option,  key_option,
};

} // namespace

Command const schedule_command{"schedule",
                               "Import the schedule of links",
                               "Adds the links that the job promises to test. A new row replaces an earlier "
                               "row of the same link; its readings stay.",
                               "schedule hall.guidepin schedule.csv",
                               schedule_options,
                               &run_schedule};

} // namespace guidepin::cli
