// SPDX-License-Identifier: Apache-2.0
// What the kit may be used for on a day: what the register refuses, the way out of each refusal, and what a
// person decided to use anyway. Rules: docs/methods/setup.md#register. Verified by:
// tests/unit/job/kit_register.cpp (gates, overrides and what ends them).
#pragma once

#include "job/kit/kit_book.hpp"
#include "job/sheet/kit_file.hpp"

#include <map>
#include <string>
#include <vector>

namespace guidepin::job {

/// Checks that this kit may be used for a reference on that day. The reference itself counts as one mating of
/// each end. `decisions` count beside those of the records.
/// Errors: refused, naming each item, why, and the way out.
Outcome may_be_used(KitBook const& book, TestKit const& kit, setup::Day today,
                    std::vector<KitOverride> const& decisions = {});
Outcome may_be_used(JobState const& state, TestKit const& kit, setup::Day today,
                    std::vector<KitOverride> const& decisions = {});

/// What speaks against one item of a kit: each refusal with its way out, and what is refused but used by a
/// person's decision ("LS-1: out of calibration for 3 days. Used by decision of Ines: …").
struct ItemRuling
{
    std::vector<std::string> refused, overridden;
};
/// By serial. Items that nothing speaks against are left out.
using KitRulings = std::map<std::string, ItemRuling, std::less<>>;

/// Returns which items of this kit a set-up may not use on that day. As for a reference, one mating of each
/// end is counted. An item that the job knows is judged by its records. An instrument that is not registered
/// is judged by the calibration date of the kit itself, if it gives one. With `state` null there is no job,
/// and the kit's own dates alone count.
KitRulings kit_rulings(KitFile const& kit, JobState const* state, setup::Day today);

/// Returns the kit without what the rulings refuse.
KitFile without_refused(KitFile kit, KitRulings const& rulings);

/// Returns what a person's decision would cover now: `about` is filled in. Errors: not_found (no such item),
/// invalid_input (nothing of it is refused, or no reason).
Result<KitOverride> override_now(KitBook const& book, std::string const& serial, std::string const& reason,
                                 setup::Day today);
Result<KitOverride> override_now(JobState const& state, std::string const& serial, std::string const& reason,
                                 setup::Day today);

} // namespace guidepin::job
