// SPDX-License-Identifier: Apache-2.0
// What a step asks for, from its id. Records keep the id alone, so whoever reads them gets the kind from
// here. Verified by: tests/unit/setup/steps.cpp (every step of every plan has its kind; ways back past pins).
#pragma once

#include "setup/steps.hpp"

#include <cstddef>
#include <cstdint>
#include <string_view>
#include <vector>

namespace guidepin::setup {

enum class StepKind : std::uint8_t {
    ask_release,
    keep_reference, ///< nothing to take: the reference in force goes on
    check_charge,
    warm_up,
    lay_out,
    light_off,
    light_on,
    open,
    cap,
    change_pins, ///< and to count, inspect and write down what was changed
    inspect,
    mate,
    take_reference,
    leave_launch_cord,
    measure_check,
    look_at_arrival,
    accept_check,
    measure_link,
    each_further_link,
    keep_capped,
    other, ///< an id that this program does not write
};

/// Returns the kind of the step with this id, such as mate for "reference.mate.launch-cord-to-meter".
StepKind kind_of_step(std::string_view id);

/// Says whether the way back from this step leads into another phase and past a change of pins: the plugs
/// there then have other pins than the earlier step expects.
bool goes_back_past_pins(std::vector<Step> const& steps, std::size_t at);

} // namespace guidepin::setup
