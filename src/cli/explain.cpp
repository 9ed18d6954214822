// SPDX-License-Identifier: Apache-2.0
// Names the causes of unusual readings, and what to do first.
#include "cli/finding_text.hpp"
#include "cli/json_output.hpp"

#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/registry.hpp"

#include <array>
#include <set>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

Result<int> run_explain(Arguments const& arguments, World& world)
{
    job::Actor const actor = actor_of(arguments, world);
    TRY_ASSIGN(auto job, open_job(arguments, world, actor, false));
    TRY_ASSIGN(auto const* const assessment, job.assessment());
    job::JobState const& state = job.state();
    std::set<std::uint32_t> wanted;
    for (std::string const& name : arguments.texts("--links")) {
        std::uint32_t const link = state.readings.links.find(name);
        if (link == verdict::Dictionary::missing) {
            std::vector<std::string> known;
            for (std::uint32_t i = 0; i < state.readings.links.size(); ++i)
                known.push_back(state.readings.links.text(i));
            return Error{Errc::not_found,
                         fmt::format("The job has no link {}{}", name, did_you_mean(name, known))};
        }
        wanted.insert(link);
    }
    TRY_ASSIGN(auto const all,
               job::findings_of(state, *assessment, actor.threads, actor.progress, actor.progress_context));
    std::vector<job::JobFinding const*> findings;
    for (job::JobFinding const& finding : all) {
        auto const& links = finding.finding.links;
        bool const shown = wanted.empty() || std::any_of(links.begin(), links.end(), [&](std::uint32_t link) {
                               return wanted.count(link) > 0;
                           });
        if (shown) findings.push_back(&finding);
    }
    if (world.json) {
        auto list = nlohmann::ordered_json::array();
        for (job::JobFinding const* const finding : findings) list.push_back(finding_json(state, *finding));
        world.out += nlohmann::ordered_json{{"findings", list}}.dump(2, ' ', false, damaged_text) + "\n";
        return findings.empty() ? 0 : 1;
    }
    if (findings.empty()) {
        world.out += wanted.empty() ? "Nothing stands out: every link reads like others of its kind.\n"
                                    : "No finding names these links.\n";
        return 0;
    }
    world.out +=
        fmt::format("{} finding{}, most important first\n", findings.size(), plural_ending(findings.size()));
    for (job::JobFinding const* const finding : findings)
        world.out += fmt::format("\n{}", finding_text(state, *finding));
    return 1;
}

constexpr std::array explain_options{
    job_option,
    Option{"--links", "LINK", "show only findings that name one of these links", false, true},
};

} // namespace

Command const explain_command{
    "explain",
    "Name the causes of unusual readings, and what to do first",
    "Compares all readings of the job and names causes: in a fibre, a joint, a whole link, a test cord or a "
    "reference, and wrong wiring, wrong labels and copied values. Each cause comes with its probability, its "
    "evidence in numbers, what else it could be, and the most useful next step. Exit code 1 when there are "
    "findings.",
    "explain hall.guidepin --links N-07",
    explain_options,
    &run_explain};

} // namespace guidepin::cli
