// SPDX-License-Identifier: Apache-2.0
// From a judged job to the documents' plain values.
#pragma once

#include "job/assess/assess.hpp"
#include "job/sheet/locale.hpp"
#include "report/certificate.hpp"
#include "report/summary.hpp"
#include "report/tables.hpp"

#include <string>
#include <vector>

namespace guidepin::job {

/// "0.79 dB at 7, 850 nm; links like it show 0.20 to 0.55 dB": a link that stands out, in words.
std::string standout_text(LinkStandout const& standout, report::Locale const& locale);

/// One scheduled link. `link` is its index.
Result<report::LinkCertificate> certificate_of(JobState const& state, Assessment const& assessment,
                                               std::size_t link);

/// The row of a link for lists and certificates, from DerivedLink::row.
drawing::Row row_of(std::string const& name, plant::Family const& family, std::string const& row);

Result<report::Summary> summary_of(JobState const& state, Assessment const& assessment,
                                   record::DerivedTables const& tables, std::string const& record_hash);

/// The findings for the summary, with their pictures.
Result<std::vector<report::ListedFinding>> listed_findings(JobState const& state,
                                                           Assessment const& assessment, int threads = 1);

/// "links", "readings" and "values", each row by row.
std::vector<report::Table> tables_of(JobState const& state, Assessment const& assessment,
                                     record::DerivedTables const& tables);

/// Values of basis memory that decided something in this job, with how to replace them.
std::vector<report::Unconfirmed> unconfirmed_of(JobState const& state, Assessment const& assessment);

} // namespace guidepin::job
