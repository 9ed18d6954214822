// SPDX-License-Identifier: Apache-2.0
// What is handed over: a folder with summary, certificates, tables, the job's records and a signed manifest
// of all of it (docs/formats/package.md). Verified by: tests/cli/package.py (files there, PDFs read back, the
// same bytes a second time), tests/store/job/package.cpp (faults and kill -9 at every call).
#pragma once

#include "job/open/job.hpp"
#include "report/paper.hpp"

#include <string>
#include <vector>

namespace guidepin::job {

struct PackageOptions
{
    std::string folder;
    std::vector<std::string> links; ///< only these on certificates; empty: all scheduled ones
    report::Paper paper = report::Paper::a4;
    Instant made;
    /// Not signed, and no record says that it was handed over: for looking at it first.
    bool draft = false;
};

struct PackageFile
{
    std::string name; ///< within the folder
    int pages = 0;    ///< of a PDF
};

struct Package
{
    std::vector<PackageFile> files;
    std::string manifest_sha256; ///< of manifest.json
    bool is_signed = false;
};

/// Writes all files and their manifest beside `options.folder` and moves them there in one step; then adds
/// the record that they were handed over. So a program that is killed leaves the older package whole, the
/// record does not change what is inside, and the same job gives the same package again. `job` must be open
/// for writing unless it is a draft. Errors: damaged, naming the first record that does not hold; conflict,
/// if the folder holds files that no package names; environment.
Result<Package> write_package(Job& job, Actor const& actor, PackageOptions const& options);

} // namespace guidepin::job
