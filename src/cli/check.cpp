// SPDX-License-Identifier: Apache-2.0
#include "cli/job_world.hpp"
#include "cli/print.hpp"
#include "cli/registry.hpp"
#include "record/copy.hpp"
#include "record/kind.hpp"

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
    TRY_ASSIGN(std::string const chains, record::chains_digest(*store));
    // What a package prints: handing over adds a record of its own, which does not count.
    constexpr std::array last_kinds{record::kind::handed_over};
    auto const ends = record::heads_without_last(*store, last_kinds);
    std::string const digest = ends ? record::chains_digest(*ends) : chains;
    std::string derived = "as the records say";
    bool derived_hold = true;
    if (!report.first) {
        auto const container = store->verify_container();
        if (!container) {
            derived = container.error().message;
            derived_hold = false;
        } else {
            TRY_ASSIGN(auto const state, job::load_state(*store));
            TRY_ASSIGN(auto const assessment, job::assess(state, 2));
            auto const expected = job::derive(state, assessment);
            TRY_ASSIGN(auto const kept, store->derived_tables());
            TRY_ASSIGN(std::string const basis, store->derived_basis());
            auto by_link = [](record::DerivedLink const& a, record::DerivedLink const& b) {
                return a.link < b.link;
            };
            auto links = expected.links;
            std::sort(links.begin(), links.end(), by_link);
            if (basis.empty() && kept.links.empty()) {
                derived = "not there; \"guidepin rebuild\" makes them";
            } else if (basis != chains) {
                derived = "older than the records; \"guidepin rebuild\" makes them anew";
                derived_hold = false;
            } else if (links != kept.links) {
                auto const differs =
                    std::mismatch(links.begin(), links.end(), kept.links.begin(), kept.links.end());
                derived =
                    fmt::format("differ from what the records say, first at link {}; \"guidepin rebuild\" "
                                "makes them anew",
                                differs.first != links.end() ? differs.first->link : differs.second->link);
                derived_hold = false;
            }
        }
    }
    if (world.json) {
        nlohmann::ordered_json json = {{"records", report.records},
                                       {"stations", report.stations},
                                       {"signed_heads", report.heads},
                                       {"digest", digest},
                                       {"holds", !report.first && derived_hold},
                                       {"derived_tables", derived}};
        json["first_defect"] =
            report.first ? nlohmann::ordered_json(report.first->text()) : nlohmann::ordered_json(nullptr);
        world.out += json.dump(2) + "\n";
    } else {
        world.out += fmt::format("{} of {}, {}\n", counted(report.records, "record"),
                                 counted(report.stations, "station"), counted(report.heads, "signed head"));
        if (report.first) {
            world.out += fmt::format("does not hold: {}\n", report.first->text());
        } else {
            world.out += fmt::format("every record holds; all of them together: {}\n", chains);
            world.out += fmt::format("derived tables: {}\n", derived);
        }
    }
    return report.first || !derived_hold ? 1 : 0;
}

Result<int> run_rebuild(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(auto job,
               job::Job::open(path_in(world, arguments.text("JOB")), actor_of(arguments, world), true));
    TRY(warn_of_defects(job, arguments.text("JOB")));
    TRY_ASSIGN(bool const same, job.rebuild());
    if (world.json) {
        world.out +=
            nlohmann::ordered_json{{"links", job.state().readings.links.size()}, {"same_as_before", same}}
                .dump(2) +
            "\n";
    } else {
        world.out += fmt::format("derived tables made anew from the records: {}\n",
                                 same ? "the same bytes as before" : "they differed before");
    }
    return 0;
}

constexpr std::array check_options{job_option};
constexpr std::array rebuild_options{job_option, operator_option, key_option};

} // namespace

Command const check_command{
    "check",
    "Check that the job's records hold",
    "Walks every chain of records, its hashes and signatures, and the derived tables, and names the first "
    "record that does not hold. Exit code 1 when something does not.",
    "check hall.guidepin",
    check_options,
    &run_check};
Command const rebuild_command{"rebuild",
                              "Make the derived tables anew from the records",
                              "Verdicts, lists and counts are computed from the records and may be dropped "
                              "at any time. This computes all of them again.",
                              "rebuild hall.guidepin",
                              rebuild_options,
                              &run_rebuild};

} // namespace guidepin::cli
