// SPDX-License-Identifier: Apache-2.0
// Reviews a job, or a package that was handed over.
#include "job/handover/audit.hpp"

#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/registry.hpp"

#include <array>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;

Json report_json(job::AuditReport const& report)
{
    Json findings = Json::array();
    for (job::AuditFinding const& finding : report.findings) {
        findings.push_back({{"id", finding.id},
                            {"rule", finding.rule},
                            {"weight", job::name_of(finding.weight)},
                            {"subject", finding.subject},
                            {"links", finding.links},
                            {"text", finding.text},
                            {"settles", finding.settles}});
    }
    return {{"what", report.package ? "package" : "job"},
            {"title", report.title},
            {"job", report.job},
            {"program", report.program},
            {"facts", report.facts},
            {"made", report.made ? Json(instant_text(*report.made)) : Json(nullptr)},
            {"signed_by", report.signed_by.empty() ? Json(nullptr) : Json(report.signed_by)},
            {"records", report.records},
            {"stations", report.stations},
            {"files", report.files},
            {"links", report.links},
            {"conforming", report.conforming},
            {"readings", report.readings},
            {"refutes", report.count(job::Weight::refutes)},
            {"weakens", report.count(job::Weight::weakens)},
            {"notes", report.count(job::Weight::notes)},
            {"findings", findings}};
}

std::string head_text(job::AuditReport const& report)
{
    std::string text = fmt::format("{}: {}\n", report.package ? "package" : "job", report.title);
    text += fmt::format("  {} of {} conform by the records; {}, {} of {}\n", report.conforming,
                        counted(static_cast<std::int64_t>(report.links), "link", "links"),
                        counted(static_cast<std::int64_t>(report.readings), "reading", "readings"),
                        counted(report.records, "record", "records"),
                        counted(report.stations, "station", "stations"));
    if (report.package && report.made) {
        text +=
            fmt::format("  made {} with program {}, {}\n", instant_text(*report.made), report.program,
                        report.signed_by.empty()
                            ? std::string{"not signed"}
                            : fmt::format("signed by station {} over {}", report.signed_by,
                                          counted(static_cast<std::int64_t>(report.files), "file", "files")));
    }
    return text;
}

std::string closing_text(job::AuditReport const& report)
{
    std::size_t const refuting = report.count(job::Weight::refutes),
                      weakening = report.count(job::Weight::weakens);
    std::string_view const what = report.package ? "package" : "job";
    if (refuting > 0)
        return fmt::format("\nThe records refute the {}: {} of its claims {} false.\n", what, refuting,
                           refuting == 1 ? "is" : "are");
    return fmt::format(
        "\nNothing refutes the {}; {} it. Acceptance is the decision of the qualified person who signs.\n",
        what,
        weakening == 0 ? std::string{"nothing weakens"}
                       : counted(static_cast<std::int64_t>(weakening), "finding weakens", "findings weaken"));
}

Result<int> run_audit(Arguments const& arguments, World& world)
{
    job::Actor const actor = actor_of(arguments, world);
    TRY_ASSIGN(auto const report, job::audit(path_in(world, arguments.text("JOB")), actor));
    int const code = report.count(job::Weight::refutes) > 0 ? 1 : 0;
    if (world.json) {
        world.out += report_json(report).dump(2, ' ', false, damaged_text) + "\n";
        return code;
    }
    world.out += head_text(report);
    constexpr std::array headings{"Refutes a claim", "Weakens a claim", "Notes"};
    for (job::Weight const weight : {job::Weight::refutes, job::Weight::weakens, job::Weight::notes}) {
        if (report.count(weight) == 0) continue;
        world.out +=
            fmt::format("\n{} ({})\n", headings[static_cast<std::size_t>(weight)], report.count(weight));
        for (job::AuditFinding const& finding : report.findings) {
            if (finding.weight != weight) continue;
            world.out += fmt::format("  {}\n    {}\n", finding.rule, finding.text);
            if (weight != job::Weight::notes)
                world.out += fmt::format("    To settle it: {}.\n", finding.settles);
        }
    }
    world.out += closing_text(report);
    return code;
}

constexpr std::array audit_options{
    Option{"JOB", "", "a job's file, or the folder of a package", true},
};

} // namespace

Command const audit_command{
    "audit",
    "Review a job or a package as a stranger would",
    "Checks every claim against the records: files against the signed manifest, records against their chain, "
    "the schedule against the evidence, and the order in time of references, cord checks and calibrations. "
    "It looks for times that no person can keep and for copied values, and it recomputes limits and "
    "verdicts. Of a package it reads nothing but the folder. Each finding refutes a claim, weakens it, or is "
    "a note. Exit code 1 when a finding refutes a claim.",
    "audit hall.guidepin",
    audit_options,
    &run_audit};

} // namespace guidepin::cli
