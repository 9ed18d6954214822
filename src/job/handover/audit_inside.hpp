// SPDX-License-Identifier: Apache-2.0
// What the files of the audit share; seen by nobody else.
#pragma once

#include "job/assess/assess.hpp"
#include "job/handover/audit.hpp"

#include <set>

namespace guidepin::job::detail {

/// A job as it is being looked at.
struct Looking
{
    record::Store const& store;
    JobState const& state;
    Assessment const& assessment;
    record::DerivedTables const& tables;
    AuditReport& report;

    std::string name_of(std::uint32_t link) const { return state.readings.links.text(link); }
};

/// Adds a finding of a rule. `weight` where it is not the rule's own.
void add(AuditReport& report, std::string_view rule, std::string subject, std::vector<std::string> links,
         std::string text, std::optional<Weight> weight = std::nullopt);

/// "N-01, N-02, N-03 and 12 more"
std::string some_of(std::vector<std::string> const& names);
/// "3 links"
std::string links_text(std::size_t count);

// Each adds what it finds.
Outcome look_at_chains(record::Store const& store, AuditReport& report);
void look_at_schedule(Looking const& looking);
Outcome look_at_order(Looking const& looking);
void look_at_references(Looking const& looking);
void look_at_timing(Looking const& looking);
void look_at_instruments(Looking const& looking);
Outcome look_at_causes(Looking const& looking, Actor const& actor, std::vector<JobFinding> const* known);
void look_at_values(Looking const& looking);

/// The tables of a package against those that its records give.
Outcome look_at_tables(Looking const& looking, std::string const& folder,
                       std::set<std::string> const& present, Manifest const* manifest);

/// Visits of one instrument to links, in order of time.
struct Visit
{
    std::int64_t first_ms = 0;
    std::uint32_t link = 0;
};
/// The fastest run of three to six changes that is faster than `most_per_hour`; by how many an hour.
/// `resolution_ms` is what the times are rounded to.
struct Haste
{
    std::size_t first = 0, changes = 0; ///< visits first … first + changes
    double per_hour = 0;
    std::vector<std::uint32_t> links; ///< of all runs that are too fast
};
std::optional<Haste> haste_of(std::vector<Visit> const& visits, double most_per_hour,
                              std::int64_t resolution_ms);

} // namespace guidepin::job::detail
