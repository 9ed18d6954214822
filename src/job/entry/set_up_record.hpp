// SPDX-License-Identifier: Apache-2.0
// A set-up in use, as its record keeps it: facts, steps, numbers and each phase's line of light.
// Verified by: tests/unit/job/set_up.cpp.
#pragma once

#include "base/result.hpp"
#include "drawing/light_path.hpp"
#include "report/job_card.hpp"
#include "setup/steps.hpp"
#include "units/instant.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

struct SheetPhase
{
    setup::Phase phase = setup::Phase::prepare;
    std::optional<drawing::LightPath> path; ///< none while preparing
    std::vector<setup::Step> steps;
    std::vector<report::CardNumber> numbers;
};

struct SetupSheet
{
    std::string title;               ///< "Set-up 2: OS2, mpo-12, pinned to pinned"
    std::vector<report::Said> facts; ///< cabling, links, method, instruments, cords, what it implies
    std::vector<std::string> links;  ///< empty without a job
    std::vector<SheetPhase> phases;  ///< in order, prepare first
    // Of its record, not in the body.
    std::string hash;
    Instant at;
    std::string person;
};

/// The short name of a phase in records and file names: "prepare", "reference", "cord-check", "test".
std::string_view phase_id(setup::Phase phase);

/// The body of its record. Errors: those of the canonical form (a number that is none).
Result<std::string> setup_body(SetupSheet const& sheet);
Result<SetupSheet> setup_of(std::string_view body);

} // namespace guidepin::job
