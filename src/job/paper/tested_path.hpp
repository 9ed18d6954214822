// SPDX-License-Identifier: Apache-2.0
// The light path on a certificate: source, launch cord, cabling, tail cord and meter, as the kit register and
// the job sheet know them at the moment of the test. Verified by: tests/cli/package.py,
// tests/unit/job/kit_register.cpp.
#pragma once

#include "drawing/light_path.hpp"
#include "job/kit/kit_register.hpp"
#include "job/state/state.hpp"
#include "plant/link_model.hpp"
#include "setup/method.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::job {

/// What the readings of a link that count were taken with.
struct TestedWith
{
    TestKit kit;                                  ///< of the reference; empty if there is none
    std::optional<setup::ReferenceMethod> method; ///< of the reference
    Instant at;                                   ///< of the last of the readings
    bool from_b = false;                          ///< all of them were launched at end B
};

/// Returns the light path, launch cord at the end where it was. Draws as unknown what nobody registered.
/// Draws what cannot be mated as registered, too, and says so in `remarks`.
drawing::LightPath tested_path(JobState const& state, plant::LinkSpec const& link,
                               plant::LinkModel const& model, TestedWith const& with,
                               std::vector<std::string>& remarks);

} // namespace guidepin::job
