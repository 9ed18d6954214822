// SPDX-License-Identifier: Apache-2.0
// Which reference a link can be measured under: by the wavelengths of its powers and by plug and face of its
// registered cords. Verified by: tests/unit/job/reference_choice.cpp (each reason by a case of its own,
// order).
#pragma once

#include "job/assess/assess.hpp"
#include "job/assess/reference_now.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::job {

/// Returns why readings of this scheduled link cannot rest on the reference, from whichever end they are
/// launched
/// ("R-2 holds no power at 1310 nm"); nothing if no known fact is against it. By the rule that
/// holds such readings: job/groundwork/reference_cover.hpp.
std::optional<std::string> why_unsuited(JobState const& state, Groundwork const& ground,
                                        ReferenceEntry const& reference, std::size_t link);

struct ReferenceOffer
{
    verdict::ReferenceId id;
    ReferenceNow now;
    std::size_t like_it = 0; ///< tests of links of the same plug, face and category under it
};

/// Returns the references that suit the link, the best first: those in force, then those that links like it
/// were measured under, then the newest.
std::vector<ReferenceOffer> references_for(JobState const& state, Assessment const& assessment,
                                           std::size_t link, Instant now);

} // namespace guidepin::job
