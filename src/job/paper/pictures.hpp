// SPDX-License-Identifier: Apache-2.0
// What a job's standing looks like, as values for the drawings: control charts of references, lines of the
// site map. Pages and papers show the same. Verified by: tests/unit/job/watch.cpp (marks and limits of the
// chart), tests/cli/package.py (both in the summary).
#pragma once

#include "drawing/charts.hpp"
#include "drawing/site_map.hpp"
#include "job/assess/assess.hpp"
#include "report/common.hpp"

namespace guidepin::job {

/// The links of one reference in order of time: how far each is from what it should show, with the
/// estimated change of the doubt that holds most. Limits are three standard uncertainties of one link around
/// the level before; the alarm itself comes from the moving average and the cumulative sums.
drawing::ControlChart control_chart_of(JobState const& state, Assessment const& assessment,
                                       WatchedReference const& reference);
/// The same for one of its doubts, or for none of them (null): then no change is drawn.
drawing::ControlChart control_chart_of(JobState const& state, Assessment const& assessment,
                                       WatchedReference const& reference, Doubt const* doubt);

/// One link of the site map: the worst over wavelengths at each position, with the reading in words;
/// positions without a reading are open.
drawing::SiteLine site_line_of(JobState const& state, report::Locale const& locale,
                               record::DerivedLink const& link);

/// All zones of the job.
drawing::SiteMap site_map_of(JobState const& state, record::DerivedTables const& tables);

} // namespace guidepin::job
