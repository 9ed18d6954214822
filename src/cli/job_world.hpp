// SPDX-License-Identifier: Apache-2.0
// What commands on a job share: who acts, where files are, and the progress bar.
#pragma once

#include "cli/command.hpp"
#include "job/files/files.hpp"
#include "job/open/job.hpp"

#include <string>

namespace guidepin::cli {

inline constexpr Option job_option{"JOB", "", "the job's file", true};
inline constexpr Option operator_option{"--operator", "NAME",
                                        "your name, for the records (default: the user's name)"};
inline constexpr Option key_option{
    "--station-key", "FILE",
    "this station's secret key, created on first use (default: in the user's data folder)"};
inline constexpr Option map_option{"--columns", "FILE",
                                   "a column map for a file of another layout (docs/formats/column-map.md)"};
inline constexpr Option keep_option{"--keep-good-rows", "",
                                    "keep the good rows when some are bad; the bad ones are listed"};
inline constexpr Option separator_option{
    "--separator",        "S", "comma, semicolon or tab (default: found in the file)", false, false, {},
    "comma,semicolon,tab"};
inline constexpr Option decimal_option{
    "--decimal",  "D", "point or comma in the file's numbers (default: found in the file)", false, false, {},
    "point,comma"};

/// Operator, key, clock, bar: from the options and the environment.
job::Actor actor_of(Arguments const& arguments, World& world);

/// Opens the job that the command names, and writes cautions about its file to standard error.
Result<job::Job> open_job(Arguments const& arguments, World const& world, job::Actor const& actor,
                          bool writing);
/// Writes to standard error that a record of the job is broken, if one is. The command goes on.
Outcome warn_of_defects(job::Job const& job, std::string const& name);

std::string path_in(World const& world, std::string const& path);

Result<job::FileOptions> file_options_of(Arguments const& arguments, World const& world);

/// "a, b, c and 12 more".
std::string some_of(std::vector<std::string> const& names, std::size_t shown);

} // namespace guidepin::cli
