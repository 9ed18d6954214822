// SPDX-License-Identifier: Apache-2.0
#include "job/handover/audit.hpp"

#include "base/text.hpp"
#include "job/files/files.hpp"
#include "job/handover/audit_looks.hpp"
#include "job/sheet/locale.hpp"
#include "record/copy.hpp"
#include "record/digest.hpp"
#include "record/kind.hpp"

#include <algorithm>
#include <filesystem>
#include <map>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using detail::Looking;

/// Looks at everything that the records say, for a job and a package.
Outcome look_at_records(Looking const& looking, Actor const& actor,
                        std::vector<JobFinding> const* known = nullptr)
{
    AuditReport& report = looking.report;
    report.title = looking.state.settings.title;
    report.facts = looking.state.tables.version;
    report.links = looking.state.scheduled();
    report.readings = looking.state.readings.size();
    for (std::size_t i = 0; i < looking.state.scheduled(); ++i) {
        verdict::State const state = looking.assessment.verdicts.links[i].state;
        if (state == verdict::State::pass || state == verdict::State::marginal_pass) ++report.conforming;
    }
    detail::look_at_schedule(looking);
    TRY(detail::look_at_order(looking));
    detail::look_at_references(looking);
    detail::look_at_timing(looking);
    detail::look_at_instruments(looking);
    TRY(detail::look_at_causes(looking, actor, known));
    detail::look_at_values(looking);
    return {};
}

/// Compares the job's derived tables with its records.
Outcome look_at_derived(Looking const& looking)
{
    TRY_ASSIGN(std::string const basis, looking.store.derived_basis());
    TRY_ASSIGN(std::string const chains, record::chains_digest(looking.store));
    if (basis != chains) return {}; // They are out of date; the next change recomputes them.
    TRY_ASSIGN(auto const kept, looking.store.derived_tables());
    std::map<std::string, record::DerivedLink const*> by_name;
    for (record::DerivedLink const& link : kept.links) by_name[link.link] = &link;
    std::vector<std::string> differing;
    for (record::DerivedLink const& link : looking.tables.links) {
        auto const found = by_name.find(link.link);
        if (found == by_name.end() || !(*found->second == link)) differing.push_back(link.link);
    }
    if (differing.empty() && kept.links.size() == looking.tables.links.size()) return {};
    std::string text =
        fmt::format("the job's list differs from its records for {}; recompute the list",
                    differing.empty() ? std::string{"links that are not there"} : detail::some_of(differing));
    detail::add(looking.report, "verdict-differs", "derived tables", differing, std::move(text));
    return {};
}

Outcome look_at_handing_over(Looking const& looking)
{
    if (looking.state.handed_over.empty()) return {};
    HandOver const& last = looking.state.handed_over.back();
    std::int64_t later = 0;
    TRY(looking.store.visit({}, [&](record::RecordView const& record) -> Outcome {
        bool const counts =
            record.kind != record::kind::handed_over && record.kind != record::kind::station_key;
        if (counts && last.at < record.time) ++later;
        return {};
    }));
    if (later > 0)
        detail::add(looking.report, "changed-since-handed-over", "", {},
                    fmt::format("{} record{} came after the package of {}", later, plural_ending(later),
                                date_time(last.at, looking.state.settings)));
    return {};
}

/// Looks at a job file: its records, its derived tables, and what came after its last package.
Outcome look_at_job(Looking const& looking, Actor const& actor,
                    std::vector<JobFinding> const* known = nullptr)
{
    TRY(look_at_records(looking, actor, known));
    TRY(look_at_derived(looking));
    TRY(look_at_handing_over(looking));
    detail::put_in_order(looking.report);
    return {};
}

/// Judges the records that were read. Adds a finding and returns nothing if that fails.
struct Judged
{
    JobState state;
    Assessment assessment;
};
std::optional<Judged> judged(record::Store const& store, Actor const& actor, AuditReport& report)
{
    auto state = load_state(store);
    auto assessment = state ? assess(*state, actor.threads) : Result<Assessment>(state.error());
    if (assessment) return Judged{std::move(*state), std::move(*assessment)};
    detail::add(report, "records-unreadable", "", {}, assessment.error().message);
    detail::put_in_order(report);
    return std::nullopt;
}

Result<AuditReport> audit_package(std::string const& path, Actor const& actor)
{
    TRY_ASSIGN(detail::Folder const folder, detail::folder_of(path));
    AuditReport report;
    report.package = true;
    auto const sealed = detail::look_at_manifest(folder, report);
    TRY_ASSIGN(auto const bytes, MappedFile::open(folder.path + "/" + records_name));
    auto const store = record::read_copy(bytes.bytes(), records_name);
    if (!store) {
        if (store.error().code == Errc::newer_version) return store.error();
        detail::add(report, "records-unreadable", "", {}, store.error().message);
        detail::put_in_order(report);
        return report;
    }
    TRY_ASSIGN(auto const id, (*store)->property("job-id"));
    report.job = id.value_or("");
    TRY(detail::look_at_chains(**store, report));
    if (sealed) TRY(detail::look_at_ends(**store, *sealed, report));
    auto const all = judged(**store, actor, report);
    if (!all) return report;
    auto const tables = derive(all->state, all->assessment);
    Looking const looking{**store, all->state, all->assessment, tables, report};
    TRY(look_at_records(looking, actor));
    TRY(detail::look_at_tables(looking, folder.path, folder.present, sealed ? &sealed->manifest : nullptr));
    detail::put_in_order(report);
    return report;
}

Result<AuditReport> audit_file(std::string const& path, Actor const& actor)
{
    record::OpenOptions open;
    open.maker = {actor.program, facts::built_in_tables().version};
    TRY_ASSIGN(auto const store, record::open_sqlite(path, open));
    AuditReport report;
    report.program = actor.program;
    TRY_ASSIGN(auto const id, store->property("job-id"));
    report.job = id.value_or("");
    TRY(detail::look_at_chains(*store, report));
    auto const all = judged(*store, actor, report);
    if (!all) return report;
    auto const tables = derive(all->state, all->assessment);
    TRY(look_at_job({*store, all->state, all->assessment, tables, report}, actor));
    return report;
}

} // namespace

std::size_t AuditReport::count(Weight weight) const
{
    return static_cast<std::size_t>(
        std::count_if(findings.begin(), findings.end(),
                      [&](AuditFinding const& finding) { return finding.weight == weight; }));
}

namespace detail {

std::string some_of(std::vector<std::string> const& names)
{
    constexpr std::size_t shown = 4;
    if (names.size() <= shown + 1) return joined(names, ", ");
    return fmt::format("{} and {} more", joined({names.begin(), names.begin() + shown}, ", "),
                       names.size() - shown);
}

std::string links_text(std::size_t count)
{
    return count == 1 ? std::string{"1 link"} : fmt::format("{} links", count);
}

Outcome look_at_chains(record::Store const& store, AuditReport& report)
{
    TRY_ASSIGN(record::CheckReport const checked, record::check(store));
    report.records = checked.records;
    report.stations = checked.stations;
    if (checked.first) add(report, "record-changed", "", {}, checked.first->text());
    return {};
}

} // namespace detail

Result<AuditReport> audit_job(Job& job, Actor const& actor, std::vector<JobFinding> const* known)
{
    AuditReport report;
    report.program = actor.program;
    TRY_ASSIGN(auto const id, job.store().property("job-id"));
    report.job = id.value_or("");
    TRY(detail::look_at_chains(job.store(), report));
    TRY_ASSIGN(Assessment const* const assessment, job.assessment());
    auto const tables = derive(job.state(), *assessment);
    TRY(look_at_job({job.store(), job.state(), *assessment, tables, report}, actor, known));
    return report;
}

Result<AuditReport> audit(std::string const& path, Actor const& actor)
{
    std::error_code ignored;
    return std::filesystem::is_directory(path, ignored) ? audit_package(path, actor)
                                                        : audit_file(path, actor);
}

} // namespace guidepin::job
