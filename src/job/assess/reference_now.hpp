// SPDX-License-Identifier: Apache-2.0
// Whether a reference can be measured under at a moment, and what it needs first. Verified by:
// tests/unit/job/entries.cpp, tests/unit/job/reference_choice.cpp.
#pragma once

#include "job/assess/assess.hpp"

#include <optional>
#include <string>

namespace guidepin::job {

enum class ReferenceCondition : std::uint8_t {
    in_force,
    doubted, ///< by the watch, and nobody decided to rely on it
    wants_check,
    check_failed,
    too_old,
    voided,
    refused
};
char const* name_of(ReferenceCondition condition); ///< "in force", "wants its cord check", …

struct ReferenceNow
{
    verdict::ReferenceId id;
    Instant taken;
    ReferenceCondition condition = ReferenceCondition::in_force;
    std::optional<double> minutes_left; ///< of its age; none unless in force
    std::string needs;                  ///< one sentence: what it needs next
    std::string
        doubt; ///< "in doubt since S-04", whatever else speaks against it; empty: no doubt holds readings
};

/// Returns the condition of one reference at `now`.
ReferenceNow reference_now(JobState const& state, Assessment const& assessment, std::size_t reference,
                           Instant now);
} // namespace guidepin::job
