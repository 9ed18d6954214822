// SPDX-License-Identifier: Apache-2.0
// For the reviewer who trusts nobody: compares what a job, or a package that was handed over, claims with
// what its own records say. Rules and what each proves: docs/methods/audit.md. Verified by:
// tests/cli/audit.py (a package or job that breaks each rule once; a sound one breaks none),
// tests/unit/job/audit.cpp (timings and changes worked by hand; the list of rules is that of schema and
// manual).
#pragma once

#include "job/entry/manifest.hpp"
#include "job/findings/findings.hpp"
#include "job/open/job.hpp"

#include <array>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

/// What a finding does to the claim that is handed over.
enum class Weight : std::uint8_t {
    refutes, ///< something that is claimed is not so
    weakens, ///< something that is claimed is not proven
    notes,   ///< what a reviewer should know
};
char const* name_of(Weight weight); ///< "refutes", "weakens", "notes"

struct AuditRule
{
    std::string_view id;
    Weight weight;
    std::string_view about;   ///< what it looks for
    std::string_view settles; ///< what would settle it
};
/// Returns all rules, in the order in which findings of one weight are reported.
std::span<AuditRule const> audit_rules();

struct AuditFinding
{
    std::string id; ///< the same for the same rule and subject: 16 hexadecimal digits
    std::string rule;
    Weight weight = Weight::notes;
    std::string subject;            ///< reference, instrument, file; empty: the whole
    std::vector<std::string> links; ///< concerned, in the order of the schedule
    std::string text;               ///< one sentence with names and numbers
    std::string settles;
};

struct AuditReport
{
    bool package = false; ///< of a folder that was handed over; else of a job file
    std::string title, job, program, facts;
    std::optional<Instant> made; ///< of the package
    std::string signed_by;       ///< station; empty: not signed, or the signature does not hold
    std::int64_t records = 0, stations = 0;
    std::size_t files = 0; ///< that the manifest names
    std::size_t links = 0, conforming = 0, readings = 0;
    std::vector<AuditFinding> findings; ///< by weight, then in the order of the rules

    std::size_t count(Weight weight) const;
};

/// Audits an open job: its records, and the derived tables beside them. `known`: its findings if they are
/// known already, else nullptr.
Result<AuditReport> audit_job(Job& job, Actor const& actor, std::vector<JobFinding> const* known = nullptr);

/// Audits a job file or a package, and reads nothing but that file or folder. Returns an error only if it
/// cannot be read at all, or is neither; whatever is wrong inside becomes a finding.
Result<AuditReport> audit(std::string const& path, Actor const& actor);

} // namespace guidepin::job
