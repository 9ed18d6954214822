// SPDX-License-Identifier: Apache-2.0
// A judged link as a channel for applications.
#pragma once

#include "job/assess/assess.hpp"
#include "verdict/applications.hpp"

namespace guidepin::job {

/// Returns a scheduled link as a channel. Its losses are those that count for the verdict; it has none if
/// nothing was measured.
Result<verdict::Channel> channel_of(JobState const& state, Assessment const& assessment, std::size_t link);

} // namespace guidepin::job
