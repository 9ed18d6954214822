// SPDX-License-Identifier: Apache-2.0
#include "setup/step_kind.hpp"

#include <algorithm>
#include <array>

namespace guidepin::setup {

namespace {

struct NamedKind
{
    std::string_view name;
    StepKind kind;
};

/// Steps that only one phase has, by their whole id.
constexpr std::array whole_ids{
    NamedKind{"prepare.released", StepKind::ask_release},
    NamedKind{"prepare.still-in-force", StepKind::keep_reference},
    NamedKind{"prepare.charge", StepKind::check_charge},
    NamedKind{"prepare.warm-up", StepKind::warm_up},
    NamedKind{"prepare.lay-out", StepKind::lay_out},
    NamedKind{"reference.take", StepKind::take_reference},
    NamedKind{"reference.leave", StepKind::leave_launch_cord},
    NamedKind{"cord-check.measure", StepKind::measure_check},
    NamedKind{"cord-check.arrival", StepKind::look_at_arrival},
    NamedKind{"cord-check.accept", StepKind::accept_check},
    NamedKind{"test.start", StepKind::measure_link},
    NamedKind{"test.each-link", StepKind::each_further_link},
    NamedKind{"test.keep-capped", StepKind::keep_capped},
};

/// Steps that several phases have, by the part of the id that follows the phase.
constexpr std::array parts{
    NamedKind{"light-off", StepKind::light_off}, NamedKind{"light-on", StepKind::light_on},
    NamedKind{"open", StepKind::open},           NamedKind{"cap", StepKind::cap},
    NamedKind{"pins", StepKind::change_pins},    NamedKind{"inspect-a", StepKind::inspect},
    NamedKind{"inspect-b", StepKind::inspect},   NamedKind{"mate", StepKind::mate},
};

template <class Kinds>
StepKind kind_named(Kinds const& kinds, std::string_view name)
{
    auto const found =
        std::find_if(kinds.begin(), kinds.end(), [name](NamedKind const& each) { return each.name == name; });
    return found == kinds.end() ? StepKind::other : found->kind;
}

} // namespace

StepKind kind_of_step(std::string_view id)
{
    // An id that was there already ends in "-again".
    constexpr std::string_view again = "-again";
    while (id.ends_with(again)) id.remove_suffix(again.size());
    if (StepKind const kind = kind_named(whole_ids, id); kind != StepKind::other) return kind;
    auto const dot = id.find('.');
    if (dot == std::string_view::npos) return StepKind::other;
    id.remove_prefix(dot + 1);
    return kind_named(parts, id.substr(0, id.find('.')));
}

bool goes_back_past_pins(std::vector<Step> const& steps, std::size_t at)
{
    Step const& step = steps[at];
    if (step.goes_back_to.empty()) return false;
    std::size_t back = at;
    while (back > 0 && steps[back].id != step.goes_back_to) --back;
    if (steps[back].phase == step.phase) return false;
    return std::any_of(steps.begin() + static_cast<std::ptrdiff_t>(back),
                       steps.begin() + static_cast<std::ptrdiff_t>(at),
                       [](Step const& between) { return kind_of_step(between.id) == StepKind::change_pins; });
}

} // namespace guidepin::setup
