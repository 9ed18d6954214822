// SPDX-License-Identifier: Apache-2.0
// The picture of a finding: rows of the links it is about, their map, or the links of a reference in order of
// time. The same on screen and on paper. Verified by: tests/unit/job/finding_picture.cpp (which picture,
// values by hand).
#pragma once

#include "cause/columns.hpp"
#include "cause/finding.hpp"
#include "drawing/charts.hpp"
#include "drawing/scene.hpp"
#include "job/assess/assess.hpp"

#include <optional>
#include <vector>

namespace guidepin::job {

class FindingPictures
{
  public:
    /// Keeps references to both: they must live on.
    static Result<FindingPictures> of(JobState const& state, Assessment const& assessment);
    /// The same with cause_columns() of them.
    FindingPictures(JobState const& state, Assessment const& assessment, cause::Columns columns);

    /// About `width` wide; nothing where there is nothing to draw.
    Result<std::optional<drawing::Scene>> picture(cause::Finding const& finding, double width) const;

    /// Links under the finding's reference in order of time: control_chart_of() the doubt that is the same
    /// fault, as on the reference's page. Of a reference that the job does not know: each link's middle above
    /// what links of its kind show elsewhere, in dB, links of the finding marked as held, the first of them
    /// as the signal; the change lies before the first of them.
    std::optional<drawing::ControlChart> course(cause::Finding const& finding) const;

  private:
    std::optional<drawing::ControlChart> watched_course(cause::Finding const& finding) const;
    /// Measured against drawn, where they are what is wrong.
    std::optional<drawing::Scene> lengths(cause::Finding const& finding, double width) const;
    double middle_of(cause::LinkRow const& link) const;

    JobState const* state_;
    Assessment const* assessment_;
    cause::Columns columns_;
    std::vector<double> middles_; ///< by link, fibre taken out; NaN: not measured
};

} // namespace guidepin::job
