// SPDX-License-Identifier: Apache-2.0
// Lists the imports of readings, and withdraws one.
#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/registry.hpp"

#include <algorithm>
#include <array>
#include <map>
#include <set>
#include <tuple>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;

/// The name of an import: the number of its record, with enough of the station's id to be unique.
std::string name_of(job::SourceFile const& file, bool one_station)
{
    return one_station ? fmt::format("{}", file.sequence)
                       : fmt::format("{}:{}", file.station.substr(0, 8), file.sequence);
}

struct Import
{
    job::SourceFile const* file = nullptr;
    std::size_t links = 0, readings = 0; ///< that count; 0 once it is withdrawn
};

std::vector<Import> imports_of(job::JobState const& state)
{
    std::vector<Import> imports;
    for (job::SourceFile const& file : state.files) {
        if (file.layout == "readings") imports.push_back({&file, 0, 0});
    }
    // The tests of an import follow its own record in the chain of its station.
    std::map<std::string, std::map<std::int64_t, std::size_t>> by_station;
    for (std::size_t i = 0; i < imports.size(); ++i)
        by_station[imports[i].file->station][imports[i].file->sequence] = i;
    for (job::TestEntry const& test : state.tests) {
        auto const station = by_station.find(test.station);
        if (station == by_station.end()) continue;
        auto const after = station->second.upper_bound(test.sequence);
        if (after == station->second.begin()) continue;
        Import& import = imports[std::prev(after)->second];
        ++import.links;
        import.readings += test.rows;
    }
    return imports;
}

bool one_station(std::vector<Import> const& imports)
{
    return std::all_of(imports.begin(), imports.end(), [&](Import const& import) {
        return import.file->station == imports.front().file->station;
    });
}

Json import_json(Import const& import, bool single)
{
    job::SourceFile const& file = *import.file;
    return {{"import", name_of(file, single)},
            {"file", file.name},
            {"brought_in", instant_text(file.recorded)},
            {"by", file.person},
            {"links", import.links},
            {"readings", import.readings},
            {"withdrawn", !file.withdrawn.empty()},
            {"reason", file.withdrawn}};
}

void list(std::vector<Import> const& imports, Arguments const& arguments, World& world)
{
    bool const single = one_station(imports);
    if (world.json) {
        Json rows = Json::array();
        for (Import const& import : imports) rows.push_back(import_json(import, single));
        world.out += Json{{"imports", rows}}.dump(2, ' ', false, damaged_text) + "\n";
        return;
    }
    if (imports.empty()) {
        world.out += "No readings were imported yet.\n";
        return;
    }
    std::size_t width = 0;
    for (Import const& import : imports) width = std::max(width, name_of(*import.file, single).size());
    for (Import const& import : imports) {
        job::SourceFile const& file = *import.file;
        world.out += fmt::format("{:>{}}  {}, imported{} at {}: {}\n", name_of(file, single), width,
                                 file.name, file.person.empty() ? std::string{} : " by " + file.person,
                                 instant_text(file.recorded),
                                 file.withdrawn.empty() ? counted(import.readings, "reading") + " of " +
                                                              counted(import.links, "link")
                                                        : "withdrawn: " + file.withdrawn);
    }
    world.out +=
        fmt::format("\"guidepin withdraw {} IMPORT --reason TEXT\" withdraws one\n", arguments.text("JOB"));
}

/// "12", or "1f3a9c02:12" with at least the beginning of the station.
Result<Import> found(std::vector<Import> const& imports, std::string const& wanted)
{
    auto const colon = wanted.find(':');
    std::string const station = colon == std::string::npos ? std::string{} : lowered(wanted.substr(0, colon));
    auto const sequence = parse_integer(colon == std::string::npos ? wanted : wanted.substr(colon + 1));
    if (!sequence || (colon != std::string::npos && station.empty()))
        return Error{Errc::usage, fmt::format("\"{}\" is not an import: write the number that \"guidepin "
                                              "withdraw JOB\" shows, such as 12 or 1f3a9c02:12",
                                              wanted)};
    std::vector<Import> fitting;
    for (Import const& import : imports) {
        if (import.file->sequence == *sequence && import.file->station.starts_with(station))
            fitting.push_back(import);
    }
    if (fitting.size() == 1) return fitting.front();
    if (fitting.empty())
        return Error{Errc::not_found,
                     fmt::format("The job has no import {}; \"guidepin withdraw JOB\" lists them", wanted)};
    return Error{
        Errc::usage,
        fmt::format(
            "{} stations have an import {}: write the station too, as \"guidepin withdraw JOB\" shows it",
            fitting.size(), wanted)};
}

Result<int> run_withdraw(Arguments const& arguments, World& world)
{
    bool const writing = arguments.has("IMPORT");
    if (!writing && arguments.has("--reason"))
        return Error{
            Errc::usage,
            "IMPORT is missing: name the import that the reason is for. See: guidepin withdraw --help"};
    if (writing && !arguments.has("--reason"))
        return Error{Errc::usage, "--reason is missing (why you withdraw the import; the record keeps it). "
                                  "See: guidepin withdraw --help"};
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), writing));
    auto const imports = imports_of(job.state());
    if (!writing) {
        list(imports, arguments, world);
        return 0;
    }
    TRY_ASSIGN(Import import, found(imports, arguments.text("IMPORT")));
    bool const single = one_station(imports);
    job::Withdrawal withdrawal;
    withdrawal.station = import.file->station;
    withdrawal.sequence = import.file->sequence;
    withdrawal.reason = arguments.text("--reason");
    std::string const name = import.file->name;
    TRY(job.withdraw_import(withdrawal));
    // The job was read again: pointers into its old state are no longer valid.
    auto const now = imports_of(job.state());
    auto const same = std::find_if(now.begin(), now.end(), [&](Import const& other) {
        return other.file->station == withdrawal.station && other.file->sequence == withdrawal.sequence;
    });
    if (same == now.end()) return Error{Errc::internal, "An import that was just withdrawn is missing"};
    if (world.json) {
        Json row = import_json(*same, single);
        row["links"] = import.links;
        row["readings"] = import.readings;
        world.out += row.dump(2, ' ', false, damaged_text) + "\n";
    } else {
        world.out += fmt::format("{} is withdrawn: {} of {} no longer count{}; the record keeps them\n", name,
                                 counted(import.readings, "reading"), counted(import.links, "link"),
                                 import.readings == 1 ? "s" : "");
    }
    return 0;
}

constexpr std::array withdraw_options{
    job_option,
    Option{"IMPORT", "",
           "the import to withdraw, by the number that the list shows (default: list the imports)"},
    Option{"--reason", "TEXT", "why you withdraw it; the record keeps it"},
    operator_option,
    key_option,
};

} // namespace

Command const withdraw_command{
    "withdraw",
    "Withdraw an import of readings",
    "Without IMPORT it lists the imported files of readings. With IMPORT the readings of that file no longer "
    "count: verdicts are as if it had never been imported. Nothing is deleted: the record keeps readings, "
    "name and reason. To replace a schedule, import a new one; to void a reference, record an event.",
    "withdraw hall.guidepin 12 --reason \"readings of the hall next door\"",
    withdraw_options,
    &run_withdraw};

} // namespace guidepin::cli
