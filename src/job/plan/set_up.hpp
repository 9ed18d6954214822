// SPDX-License-Identifier: Apache-2.0
// Setting up one measurement, as a person asks for it: the question in words, its plan with all that follows
// from it, or why there is none. The same for command line and web. Method: docs/methods/setup.md. Verified
// by: tests/unit/job/set_up.cpp (limits agree with the judgement of a cord check, counts, what is refused),
// tests/cli/transcripts/setup.txt.
#pragma once

#include "job/kit/kit_register.hpp"
#include "job/plan/set_up_question.hpp"
#include "job/plan/solved_set_up.hpp"
#include "job/plan/unsolved_set_up.hpp"
#include "job/sheet/kit_file.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::job {

struct SetupAnswer
{
    setup::Question question;
    std::optional<SolvedSetup> solved;
    setup::NoPlan none;     ///< if there is no plan
    UnsolvedGroup unsolved; ///< the same for people
};

/// Solves it and works out what follows. It uses nothing that `rulings` refuse; if that leaves no set-up,
/// the answer says what is refused and the remedy. Errors: those of setup::solve; refused for an instrument
/// that the words name and the rulings refuse; not_found if tables lack a value.
Result<SetupAnswer> set_up(SetupWords const& words, KitFile const* kit, SetupRules const& rules,
                           KitRulings const& rulings = {});

} // namespace guidepin::job
