// SPDX-License-Identifier: Apache-2.0
// Lists the findings, and records that a person acknowledges one.
#include "base/text.hpp"
#include "cli/finding_text.hpp"
#include "cli/json_output.hpp"

#include "cli/job_world.hpp"
#include "cli/registry.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;

/// As much of an id as a person types.
constexpr std::size_t shown_digits = 8;

Result<int> run_findings(Arguments const& arguments, World& world)
{
    job::Actor const actor = actor_of(arguments, world);
    TRY_ASSIGN(auto job, open_job(arguments, world, actor, false));
    TRY_ASSIGN(auto const* const assessment, job.assessment());
    job::JobState const& state = job.state();
    TRY_ASSIGN(auto const findings,
               job::findings_of(state, *assessment, actor.threads, actor.progress, actor.progress_context));
    auto const open = static_cast<std::size_t>(std::count_if(
        findings.begin(), findings.end(), [](job::JobFinding const& finding) { return finding.is_open(); }));
    bool const only_open = arguments.has("--open");
    if (world.json) {
        Json list = Json::array();
        for (job::JobFinding const& finding : findings)
            if (!only_open || finding.is_open()) list.push_back(finding_json(state, finding));
        world.out += Json{{"open", open}, {"acknowledged", findings.size() - open}, {"findings", list}}.dump(
                         2, ' ', false, damaged_text) +
                     "\n";
        return open > 0 ? 1 : 0;
    }
    if (findings.empty()) {
        world.out += "No findings: every link reads like others of its kind.\n";
        return 0;
    }
    std::string const acknowledged =
        findings.size() > open ? fmt::format(", {} acknowledged", findings.size() - open) : "";
    world.out += fmt::format("{} finding{} open{}\n", open, plural_ending(open), acknowledged);
    for (job::JobFinding const& entry : findings) {
        if (only_open && !entry.is_open()) continue;
        world.out += fmt::format("\n{}  {}\n", entry.finding.id.substr(0, shown_digits),
                                 job::heading_of(state, entry.finding));
        world.out += fmt::format("  Do first: {}\n", entry.finding.action);
        if (entry.acknowledged) world.out += fmt::format("  {}\n", acknowledged_text(state, entry));
    }
    return open > 0 ? 1 : 0;
}

Result<int> run_acknowledge(Arguments const& arguments, World& world)
{
    job::Actor const actor = actor_of(arguments, world);
    TRY_ASSIGN(auto job, open_job(arguments, world, actor, true));
    job::Acknowledgement acknowledged;
    acknowledged.reason = arguments.text("--reason");
    acknowledged.stands = !arguments.has("--undo");
    {
        TRY_ASSIGN(auto const* const assessment, job.assessment());
        TRY_ASSIGN(auto const findings, job::findings_of(job.state(), *assessment, actor.threads,
                                                         actor.progress, actor.progress_context));
        TRY_ASSIGN(auto const* const entry, job::finding_named(findings, arguments.text("FINDING")));
        if (!acknowledged.stands && !entry->acknowledged)
            return Error{Errc::conflict,
                         fmt::format("Finding {} is not acknowledged, so there is nothing to take back",
                                     entry->finding.id)};
        acknowledged.finding = entry->finding.id;
        acknowledged.evidence = entry->evidence;
    }
    TRY(job.acknowledge(acknowledged));
    if (world.json) {
        world.out += Json{{"finding", acknowledged.finding},
                          {"stands", acknowledged.stands},
                          {"by", actor.name},
                          {"reason", acknowledged.reason}}
                         .dump(2, ' ', false, damaged_text) +
                     "\n";
    } else if (acknowledged.stands) {
        world.out += fmt::format(
            "{} acknowledged finding {}; it stays in the list, and opens again when its evidence changes\n",
            actor.name, acknowledged.finding.substr(0, shown_digits));
    } else {
        world.out += fmt::format("finding {} is open again\n", acknowledged.finding.substr(0, shown_digits));
    }
    return 0;
}

constexpr std::array findings_options{
    job_option,
    Option{"--open", "", "show only findings that nobody acknowledged, or whose evidence changed since"},
};
constexpr std::array acknowledge_options{
    job_option,
    Option{"FINDING", "", "the finding's id, or its first digits", true},
    Option{"--reason", "TEXT", "why you accept it, or why no longer", true},
    Option{"--undo", "", "take an acknowledgement back"},
    operator_option,
    key_option,
};

} // namespace

Command const findings_command{
    "findings",
    "List the findings, and who acknowledged them",
    "Lists every finding of the job with its id: open ones first, the most important at the top. \"guidepin "
    "explain\" gives the evidence. Exit code 1 when a finding is open.",
    "findings hall.guidepin --open",
    findings_options,
    &run_findings};
Command const acknowledge_command{
    "acknowledge",
    "Accept a finding, with a reason",
    "Records that you accept a finding, with name, time and reason. The finding stays in every list and "
    "report. It opens again when its evidence changes: other links or positions, a size beyond its "
    "uncertainty, a higher class of probability.",
    "acknowledge hall.guidepin f7106910 --reason \"cleaned and measured again on Friday\"",
    acknowledge_options,
    &run_acknowledge};

} // namespace guidepin::cli
