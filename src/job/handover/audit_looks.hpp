// SPDX-License-Identifier: Apache-2.0
// The looks of the audit: each compares one side of a job or package with its records and adds findings. For
// the files of the audit alone. Verified by: tests/cli/audit.py, tests/unit/job/audit.cpp.
#pragma once

#include "job/assess/assess.hpp"
#include "job/handover/audit.hpp"

#include <optional>
#include <set>
#include <string>
#include <vector>

namespace guidepin::job::detail {

/// The job that the audit looks at.
struct Looking
{
    record::Store const& store;
    JobState const& state;
    Assessment const& assessment;
    record::DerivedTables const& tables;
    AuditReport& report;

    std::string name_of(std::uint32_t link) const { return state.readings.links.text(link); }
    /// Returns the names of links in the order of the schedule, each once.
    std::vector<std::string> names_of(std::set<std::uint32_t> const& links) const
    {
        std::vector<std::string> names;
        for (std::uint32_t const link : links) names.push_back(name_of(link));
        return names;
    }
    /// Says whether the reading counts: planned, and not superseded by a later one.
    bool is_current(std::uint32_t row) const
    {
        return (assessment.verdicts.reading_flags[row] & (verdict::superseded | verdict::not_planned)) == 0;
    }
};

/// Adds a finding of a rule. `weight` replaces the rule's own.
void add(AuditReport& report, std::string_view rule, std::string subject, std::vector<std::string> links,
         std::string text, std::optional<Weight> weight = std::nullopt);

/// "N-01, N-02, N-03 and 12 more"
std::string some_of(std::vector<std::string> const& names);
/// "3 links"
std::string links_text(std::size_t count);

/// Puts the findings in the order of their weight, then of the list of rules.
void put_in_order(AuditReport& report);

/// The folder of a package, and the names in it.
struct Folder
{
    std::string path;
    std::set<std::string> present; ///< folders end in "/"
};
/// Errors: not_found for a folder that cannot be read, invalid_input for one without records.
Result<Folder> folder_of(std::string const& path);

// Each adds what it finds.

/// Compares the files with the manifest. Returns the manifest, or nothing if it cannot be read.
std::optional<SealedManifest> look_at_manifest(Folder const& folder, AuditReport& report);
/// Compares the ends of the chains with those that the manifest names.
Outcome look_at_ends(record::Store const& store, SealedManifest const& sealed, AuditReport& report);
Outcome look_at_chains(record::Store const& store, AuditReport& report);
void look_at_schedule(Looking const& looking);
Outcome look_at_order(Looking const& looking);
void look_at_references(Looking const& looking);
void look_at_timing(Looking const& looking);
void look_at_instruments(Looking const& looking);
Outcome look_at_causes(Looking const& looking, Actor const& actor, std::vector<JobFinding> const* known);
void look_at_values(Looking const& looking);

/// Compares the tables of a package with those that its records give.
Outcome look_at_tables(Looking const& looking, std::string const& folder,
                       std::set<std::string> const& present, Manifest const* manifest);

/// When an instrument came to a link.
struct Visit
{
    std::int64_t first_ms = 0;
    std::uint32_t link = 0;
};
/// The fastest run of three to six changes from link to link.
struct Haste
{
    std::size_t first = 0, changes = 0; ///< visits first … first + changes
    double per_hour = 0;
    std::vector<std::uint32_t> links; ///< of all runs that are too fast
};
/// Returns the fastest run if it is faster than `most_per_hour`. `visits` are those of one instrument in
/// order of time; `resolution_ms` is what their times are rounded to.
std::optional<Haste> haste_of(std::vector<Visit> const& visits, double most_per_hour,
                              std::int64_t resolution_ms);

} // namespace guidepin::job::detail
