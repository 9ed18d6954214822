// SPDX-License-Identifier: Apache-2.0
// How often each fault is met before anything is measured, and when to speak: data/causes.toml.
// Verified by: tests/unit/cause/finding.cpp.
#pragma once

#include "cause/finding.hpp"
#include "facts/tables.hpp"

namespace guidepin::cause {

struct Priors
{
    std::array<double, cause_count> rate{}; ///< per link or per reference, see the facts
    double macrobend_multimode = 0.0003;
    double dark_dirty = 0.1; ///< of dirty or damaged end faces, those that pass no light
    double mirrored_trunk = 0.7, mirrored_adapter = 0.2;
    double false_doubt = 0.01; ///< per sound reference, what a watch over it doubts
    double report_from = 0.7;
    double sharpness = 1;
};

/// not_found when the tables lack one of the facts causes.*; invalid_input for a share outside 0 to 1.
Result<Priors> priors_of(facts::Tables const& tables);

} // namespace guidepin::cause
