// SPDX-License-Identifier: Apache-2.0
// The kit of a job as a kit file holds it, and the way from a kit file to records. Verified by:
// tests/unit/job/set_up.cpp, tests/unit/job/kit_register.cpp.
#pragma once

#include "job/sheet/kit_file.hpp"
#include "job/sheet/settings.hpp"
#include "job/state/state.hpp"

#include <string>
#include <vector>

namespace guidepin::job {

/// Returns the registered items that are still in the kit, with the pins that each cord has now.
KitFile kit_now(JobState const& state);

/// Returns the kit as the job sheet names it. A job sheet does not name fibre, adapters or pin tools: angled
/// cords count as single-mode, flat ones as multimode, and adapters and a pin tool count as available.
/// `remarks` gets a sentence that says so.
KitFile kit_of_settings(Settings const& settings, std::vector<std::string>& remarks);

/// Returns the job's own kit: what is registered, with the pins that each cord has now. If no instrument is
/// registered, returns the kit of the job sheet.
KitFile kit_of_job(JobState const& state, std::vector<std::string>& remarks);

/// Returns the serials of items in the kit that may serve so. A known cord may serve for substitution.
std::vector<std::string> usable_as(JobState const& state, InstrumentRole role);
std::vector<std::string> usable_as(JobState const& state, setup::Role role);

/// Returns the items of a kit file for the records, one each.
std::vector<KitItem> items_of(KitFile const& file);

} // namespace guidepin::job
