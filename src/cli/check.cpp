// SPDX-License-Identifier: Apache-2.0
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/print.hpp"
#include "cli/readable.hpp"
#include "cli/registry.hpp"
#include "job/assess/compare_derived.hpp"
#include "job/state/record_kinds.hpp"
#include "record/copy.hpp"

#include <array>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

Result<int> run_check(Arguments const& arguments, World& world)
{
    record::OpenOptions open;
    open.maker = {GUIDEPIN_VERSION, facts::built_in_tables().version};
    TRY_ASSIGN(auto const store, record::open_sqlite(path_in(world, arguments.text("JOB")), open));
    TRY_ASSIGN(record::CheckReport const report, record::check(*store));
    // What a package prints: handing over adds a record of its own, which is left out.
    auto const ends = record::heads_without_last(*store, job::kinds_left_out_at_the_end());
    std::string digest;
    if (ends) {
        digest = record::chains_digest(*ends);
    } else {
        TRY_ASSIGN(digest, record::chains_digest(*store));
    }
    std::string derived = "as the records say";
    bool derived_hold = true;
    if (!report.first) {
        TRY_ASSIGN(auto const found, job::compare_derived(*store));
        derived = found.text;
        derived_hold = found.holds;
    }
    std::string const caution = store->caution();
    if (world.json) {
        nlohmann::ordered_json json = {{"records", report.records},
                                       {"stations", report.stations},
                                       {"signed_heads", report.heads},
                                       {"digest", digest},
                                       {"holds", !report.first && derived_hold},
                                       {"derived_tables", derived}};
        json["caution"] = caution.empty() ? nlohmann::ordered_json(nullptr) : nlohmann::ordered_json(caution);
        json["first_defect"] = report.first ? nlohmann::ordered_json(readable(report.first->text()))
                                            : nlohmann::ordered_json(nullptr);
        world.out += json.dump(2, ' ', false, damaged_text) + "\n";
    } else {
        world.out += fmt::format("{} of {}, {}\n", counted(report.records, "record"),
                                 counted(report.stations, "station"), counted(report.heads, "signed head"));
        if (report.first) {
            world.out += fmt::format("broken: {}\n", readable(report.first->text()));
        } else {
            world.out += fmt::format("every record is intact; digest of the chains: {}\n", digest);
            world.out +=
                fmt::format("derived tables: {}\n",
                            derived_hold ? "they match the records"
                                         : readable(derived) + "; \"guidepin rebuild\" computes them again");
        }
        if (!caution.empty()) world.out += fmt::format("caution: {}\n", readable(caution));
    }
    return report.first || !derived_hold ? 1 : 0;
}

Result<int> run_rebuild(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), true));
    TRY(warn_of_defects(job, arguments.text("JOB")));
    TRY_ASSIGN(bool const same, job.rebuild());
    if (world.json) {
        world.out +=
            nlohmann::ordered_json{{"links", job.state().readings.links.size()}, {"same_as_before", same}}
                .dump(2, ' ', false, damaged_text) +
            "\n";
    } else {
        world.out += fmt::format("derived tables recomputed from the records: {}\n",
                                 same ? "same bytes as before" : "they differed before");
    }
    return 0;
}

constexpr std::array check_options{job_option};
constexpr std::array rebuild_options{job_option, operator_option, key_option};

} // namespace

Command const check_command{
    "check",
    "Check that the job's records are intact",
    "Checks the hashes and signatures of every chain of records, and the derived tables, and names the first "
    "broken record. Exit code 1 when a record is broken or a table differs.",
    "check hall.guidepin",
    check_options,
    &run_check};
Command const rebuild_command{"rebuild",
                              "Recompute the derived tables from the records",
                              "The program computes verdicts, lists and counts from the records, so they can "
                              "be deleted at any time. This command recomputes all of them.",
                              "rebuild hall.guidepin",
                              rebuild_options,
                              &run_rebuild};

} // namespace guidepin::cli
