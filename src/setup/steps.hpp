// SPDX-License-Identifier: Apache-2.0
// A plan as steps that a person can follow: one action each, what to look for, what to do when it is not so.
// Verified by: tests/unit/setup/steps.cpp (each joint is inspected before it is mated, nothing touches the
// source after the reference, every way back exists and lies behind).
#pragma once

#include "setup/implied.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::setup {

struct Caution
{
    std::string id; ///< "live-fibre"
    std::string text;
};
/// Every caution of a set-up, in order.
std::vector<Caution> const& cautions();

struct Step
{
    int number = 0; ///< from 1
    std::string id; ///< stable within a set-up: "reference.mate.launch-cord-to-meter"
    Phase phase = Phase::prepare;
    std::string text;                  ///< the one action
    std::string subject;               ///< what it is done to, where a shorter wording needs it by itself
    std::string look_for;              ///< how it shows that it was done well
    std::string if_not;                ///< what to do when it does not
    std::string goes_back_to;          ///< id of an earlier step; "" where nothing has to be done again
    std::vector<std::string> cautions; ///< ids
    std::optional<double> minutes;     ///< a timer to run
};

/// `checks` as check_expectations() gives them: the numbers to accept or refuse by. `arrival`: where light
/// must arrive in the cord check, and the length to expect, as one sentence; "" where it is not known.
/// Errors: not_found when the tables lack the warm-up time.
Result<std::vector<Step>> steps(Question const& question, Plan const& plan,
                                std::vector<CheckExpectation> const& checks, facts::Tables const& tables,
                                std::string const& arrival = {});

} // namespace guidepin::setup
