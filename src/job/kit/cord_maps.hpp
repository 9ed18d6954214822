// SPDX-License-Identifier: Apache-2.0
// Maps the port numbers of an instrument to the numbers on the plugs at the cabling, through the cords of a
// reference.
// Verified by: tests/unit/job/job.cpp (type A, B and mixed cords).
#pragma once

#include "job/state/state.hpp"
#include "plant/test_cords.hpp"

#include <string>

namespace guidepin::job {

struct CordMaps
{
    plant::PositionMap launch;       ///< source port -> launch cord's plug at the cabling
    plant::PositionMap receive_back; ///< meter port -> tail cord's plug at the cabling
};

/// Both functions take a cord that the job does not know for type B, mpo-12.
Result<plant::PositionMap> launch_map_of(JobState const& state, std::string const& launch);
Result<CordMaps> cord_maps(JobState const& state, verdict::ReferenceId const& reference);

} // namespace guidepin::job
