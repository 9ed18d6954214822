// SPDX-License-Identifier: Apache-2.0
// The kit that a job has, as the set-up room takes it. Verified by: tests/unit/job/set_up.cpp,
// tests/unit/job/kit_register.cpp.
#pragma once

#include "job/sheet/kit_file.hpp"
#include "job/sheet/settings.hpp"
#include "job/state/state.hpp"

#include <string>
#include <vector>

namespace guidepin::job {

/// The kit as the job sheet names it. A job sheet does not name fibre, adapters or pin tools: angled cords
/// count as single-mode, flat ones as multimode, and adapters and a pin tool count as available. `remarks`
/// gets a sentence that says so.
KitFile kit_of_settings(Settings const& settings, std::vector<std::string>& remarks);

/// The job's own kit: what is registered, with the pins that each cord has now. If no instrument is
/// registered, the kit of the job sheet.
KitFile kit_of_job(JobState const& state, std::vector<std::string>& remarks);

} // namespace guidepin::job
