// SPDX-License-Identifier: Apache-2.0
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/print.hpp"
#include "cli/registry.hpp"
#include "intake/write.hpp"
#include "job/assess/channels.hpp"
#include "job/handover/package.hpp"
#include "job/sheet/locale.hpp"

#include <array>
#include <map>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;

Result<int> run_report(Arguments const& arguments, World& world)
{
    job::Actor const actor = actor_of(arguments, world);
    TRY_ASSIGN(auto job, open_job(arguments, world, actor, !arguments.has("--draft")));
    job::PackageOptions options;
    options.draft = arguments.has("--draft");
    options.folder = path_in(world, arguments.text("--out"));
    options.links = arguments.texts("--links");
    options.paper =
        report::parse_paper(arguments.has("--paper") ? arguments.text("--paper") : job.state().settings.paper)
            .value_or(report::Paper::a4);
    options.made = {world.clock.now_ms(), job.state().settings.zone_offset_minutes};
    if (arguments.has("--made")) {
        auto const made = parse_instant(arguments.text("--made"), job.state().settings.zone_offset_minutes);
        if (!made)
            return Error{Errc::usage,
                         fmt::format("--made: \"{}\" is not a time; write it as 2026-03-02T08:15",
                                     arguments.text("--made"))};
        options.made = *made;
    }
    TRY_ASSIGN(job::Package const package, job::write_package(job, actor, options));
    if (world.json) {
        Json files = Json::array();
        for (auto const& file : package.files) files.push_back({{"name", file.name}, {"pages", file.pages}});
        world.out += Json{{"folder", arguments.text("--out")},
                          {"files", files},
                          {"manifest_sha256", package.manifest_sha256},
                          {"signed", package.is_signed}}
                         .dump(2, ' ', false, damaged_text) +
                     "\n";
    } else {
        world.out += fmt::format("package in {}:\n", arguments.text("--out"));
        for (auto const& file : package.files) {
            world.out += fmt::format(
                "  {}{}\n", file.name,
                file.pages > 0 ? ", " + counted(static_cast<std::uint64_t>(file.pages), "page") : "");
        }
        world.out += package.is_signed
                         ? fmt::format("signed, and recorded as handed over; manifest {}\n\"guidepin audit "
                                       "{}\" shows what a reviewer will find\n",
                                       package.manifest_sha256.substr(0, 16), arguments.text("--out"))
                         : "a draft: it is not signed, and no record says that it was handed over\n";
    }
    return 0;
}

Result<int> run_applications(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), false));
    job::JobState const& state = job.state();
    TRY_ASSIGN(auto const* const assessment, job.assessment());
    std::vector<std::string> const wanted = arguments.texts("--application");
    std::vector<std::string> const links = arguments.texts("--links");
    bool const all = arguments.has("--all");
    bool const weak = arguments.has("--weak");
    Json rows = Json::array();
    bool good = true;
    std::map<std::string, std::array<int, 3>> counts;
    for (std::size_t i = 0; i < state.scheduled(); ++i) {
        plant::LinkSpec const& link = state.links[i];
        if (!links.empty() && std::find(links.begin(), links.end(), link.id) == links.end()) continue;
        if (assessment->verdicts.links[i].readings == 0) continue;
        TRY_ASSIGN(verdict::Channel channel, job::channel_of(state, *assessment, i));
        channel.weak_rows = weak;
        std::vector<verdict::ApplicationSupport> supports;
        if (all) {
            supports = verdict::application_support(channel, state.tables, weak);
        } else {
            for (std::string const& name : wanted.empty() ? link.applications : wanted) {
                TRY_ASSIGN(auto const* const application, state.tables.application(name));
                supports.push_back(verdict::application_support(*application, channel, state.tables));
            }
        }
        for (verdict::ApplicationSupport const& support : supports) {
            ++counts[support.application->name][static_cast<std::size_t>(support.support)];
            bool const promised = std::find(link.applications.begin(), link.applications.end(),
                                            support.application->id) != link.applications.end();
            if (promised && support.support == verdict::Support::not_supported) good = false;
            if (world.json) {
                Json checks = Json::array();
                for (auto const& check : support.checks)
                    checks.push_back({{"topic", check.topic},
                                      {"result", verdict::name_of(check.mark)},
                                      {"text", check.text}});
                rows.push_back({{"link", link.id},
                                {"application", support.application->name},
                                {"support", verdict::name_of(support.support)},
                                {"marginal", support.marginal},
                                {"reason", support.reason},
                                {"checks", checks},
                                {"conditions", support.conditions},
                                {"rests_on_memory", support.rests_on_memory}});
            } else if (!links.empty() || (support.support != verdict::Support::supported && !all)) {
                world.out +=
                    fmt::format("  {}  {}: {}{}  {}\n", link.id, support.application->name,
                                verdict::name_of(support.support), support.marginal ? ", marginal" : "",
                                job::with_times(support.reason, state.settings));
            }
        }
    }
    if (world.json) {
        world.out += Json{{"links", rows}}.dump(2, ' ', false, damaged_text) + "\n";
    } else {
        for (auto const& [name, count] : counts) {
            world.out +=
                fmt::format("{}: supported by {}, not supported by {}, undecided for {}\n", name,
                            counted(static_cast<std::uint64_t>(count[0]), "link"), count[1], count[2]);
        }
        world.out += "Some limits of applications come from memory; \"guidepin facts NAME\" shows each with "
                     "its source.\n";
    }
    return good ? 0 : 1;
}

Result<int> run_export(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), false));
    std::string const what = arguments.text("WHAT");
    std::string bytes;
    if (what == "schedule") {
        bytes = intake::schedule_csv(job.state().links);
    } else if (what == "readings") {
        bytes = intake::readings_csv(job.state().readings);
    } else {
        record::RecordQuery query;
        query.order = record::RecordQuery::Order::chain;
        TRY(job.store().visit(query, [&](record::RecordView const& record) -> Outcome {
            bytes += record::envelope(record);
            bytes += '\n';
            return {};
        }));
    }
    if (arguments.has("--out")) {
        TRY(job::write_file(path_in(world, arguments.text("--out")), bytes));
        if (world.json)
            world.out +=
                Json{{"what", what}, {"file", arguments.text("--out")}, {"bytes", bytes.size()}}.dump(
                    2, ' ', false, damaged_text) +
                "\n";
        else
            world.out += fmt::format("{} written to {}\n", what, arguments.text("--out"));
    } else if (world.json) {
        world.out +=
            Json{{"what", what}, {"bytes", bytes.size()}, {"text", bytes}}.dump(2, ' ', false, damaged_text) +
            "\n";
    } else {
        world.out += bytes;
    }
    return 0;
}

constexpr std::array report_options{
    job_option,
    Option{"--out", "DIR", "the folder to write: a new or empty folder, or an older package to replace",
           true},
    Option{"--links", "ID", "write certificates of these links only", false, true},
    Option{"--paper", "P", "paper size (default: the job's)", false, false, {}, "a4,letter"},
    Option{"--made", "TIME", "the time to print on the package (default: now)"},
    Option{"--draft", "", "do not sign the package, and do not record that it was handed over"},
    operator_option,
    key_option,
};
constexpr std::array application_options{
    job_option,
    Option{"--application", "NAME", "judge these applications instead of the promised ones", false, true},
    Option{"--links", "ID", "judge these links only, and give every reason", false, true},
    Option{"--all", "", "judge every application in the tables"},
    Option{"--weak", "", "use uncertain limits too: drafts, and values weakly remembered"},
};
constexpr std::array export_options{
    job_option,
    Option{"WHAT", "", "what to write", true, false, {}, "schedule,readings,records"},
    Option{"--out", "FILE", "the file to write (default: standard output)"},
};

} // namespace

Command const report_command{
    "report",
    "Write the package to hand over",
    "Writes a folder with the summary, the certificates by zone, all links, readings and values as workbook, "
    "CSV and JSON, a copy of the job's records, and a manifest of all files, signed with the station's key; "
    "and records that the package was handed over. The same job and the same --made give the same bytes. "
    "Acceptance is the decision of the qualified person who signs.",
    "report hall.guidepin --out package",
    report_options,
    &run_report};
Command const applications_command{
    "applications",
    "Say which network applications each link supports",
    "Compares each measured link with the published limits of the applications that the schedule promises: "
    "length, loss at the positions used, polarity, face, reflectance. Exit code 1 when a promised "
    "application is not supported.",
    "applications hall.guidepin --links N-01",
    application_options,
    &run_applications};
Command const export_command{
    "export",
    "Write schedule, readings or records as text",
    "Writes the schedule or the readings in the plain CSV layouts (positions as on the cabling's plugs, "
    "attenuation in dB), or every record as canonical JSON, one per line.",
    "export hall.guidepin readings --out readings.csv",
    export_options,
    &run_export};

} // namespace guidepin::cli
