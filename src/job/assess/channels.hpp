// SPDX-License-Identifier: Apache-2.0
// A judged link as a channel for applications.
#pragma once

#include "job/assess/assess.hpp"
#include "verdict/applications.hpp"

namespace guidepin::job {

/// A scheduled link. Its losses are those that count for the verdict; none when nothing was measured.
Result<verdict::Channel> channel_of(JobState const& state, Assessment const& assessment, std::size_t link);

} // namespace guidepin::job
