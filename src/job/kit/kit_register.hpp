// SPDX-License-Identifier: Apache-2.0
// The register of the kit: what the job sheet and the records say of each instrument, cord, adapter and pin
// tool, how often its ends were mated and their pins changed, and whether it is fit to be used. Counting
// rule: docs/methods/setup.md#register. Verified by: tests/unit/job/kit_register.cpp (counts worked by hand
// for each method, gates, overrides and what ends them).
#pragma once

#include "job/kit/end_faces.hpp"
#include "job/kit/kit_book.hpp"
#include "job/kit/kit_of_job.hpp"
#include "job/kit/kit_rulings.hpp"

#include <string_view>
#include <vector>

namespace guidepin::job {

struct KitRegister
{
    std::vector<KitStanding> items; ///< in the order in which they came; removed ones last
    setup::RegisterLimits limits;
    setup::Day today;

    KitStanding const* find(std::string_view serial) const;
    int count(setup::Fitness fitness) const; ///< of items that are still in the kit
};
KitRegister kit_register(KitBook const& book, setup::Day today);
KitRegister kit_register(JobState const& state, setup::Day today);

} // namespace guidepin::job
