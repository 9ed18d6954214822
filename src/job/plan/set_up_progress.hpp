// SPDX-License-Identifier: Apache-2.0
// How far the work on a chosen set-up is, from the records of its steps alone; and what changes if it is done
// another way. Verified by: tests/unit/job/set_up.cpp.
#pragma once

#include "job/plan/set_up_sheet.hpp"

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace guidepin::job {

/// What a step-done record may say of a step: its id alone is "done".
constexpr std::string_view step_started = ".started"; ///< its timer runs from here
constexpr std::string_view step_undone = ".undone";   ///< the tick before was a slip

struct StepStanding
{
    setup::Step step;
    bool done = false;
    std::optional<Instant> started; ///< of a step with a timer
    std::optional<Instant> at;      ///< when it was done
    std::string person;
    /// When its timer is over: started plus its minutes.
    std::optional<Instant> timer_over() const;
};

struct SetupProgress
{
    std::vector<StepStanding> steps; ///< as in the sheet
    std::size_t done = 0;
    std::optional<std::size_t> next; ///< the first that is not done
    /// From the step that takes the reference: when it becomes too old.
    std::optional<Instant> reference_over;
};

/// Returns the progress. `records`: in the order of their time; those of other set-ups are ignored.
SetupProgress progress_of(SetupSheet const& sheet, std::span<StepDone const> records,
                          double reference_age_hours);

/// One thing that is different the other way.
struct SetupDifference
{
    std::string what, before, after;
};
/// Returns what differs in method, cords, pin changes, matings, items, steps, hidden joints, uncertainty,
/// limits of the check and what the instrument shows.
std::vector<SetupDifference> differences(SolvedSetup const& before, SolvedSetup const& after);

/// Returns the chosen set-up whose record's hash begins with this (at least 8 letters), or nullptr.
ChosenSetup const* find_setup(JobState const& state, std::string_view hash);
/// Returns its sheet, with hash, time and person.
Result<SetupSheet> sheet_of(ChosenSetup const& chosen);

} // namespace guidepin::job
