// SPDX-License-Identifier: Apache-2.0
#include "job/plan/check_arrival.hpp"

#include "job/sheet/locale.hpp"
#include "plant/connector.hpp"
#include "setup/implied.hpp"

#include <fmt/format.h>

namespace guidepin::job {

namespace {

constexpr std::string_view shown_of_length =
    "; the instrument shows that, or less what it took out with the reference.";

} // namespace

std::string arrival_text(setup::Question const& question, setup::Plan const& plan,
                         report::Locale const& locale)
{
    auto const map = setup::check_map(question, plan);
    if (!map) return {};
    auto const positions = plant::positions_of(question.cabling.first.plug.occupied);
    if (positions.empty()) return {};
    int const first = positions.front(), last = positions.back();
    return fmt::format(
        "Position {} of the launch cord's plug arrives at {} of the tail cord's plug, {} at {}. "
        "Launch cord to tail cord {} of cord in all{}",
        first, map->at(first), last, map->at(last), cord_length(setup::check_length(question, plan), locale),
        shown_of_length);
}

std::string_view arrival_in_short(std::string_view arrival)
{
    if (arrival.ends_with(shown_of_length)) arrival.remove_suffix(shown_of_length.size());
    return arrival;
}

} // namespace guidepin::job
