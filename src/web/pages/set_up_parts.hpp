// SPDX-License-Identifier: Apache-2.0
// The parts of the page "Set-up": one set-up, another way to do it, and the worksheet.
#pragma once

#include "job/plan/set_up_progress.hpp"
#include "web/frame.hpp"

#include <span>

namespace guidepin::web {

inline constexpr std::size_t short_hash = 16; ///< letters of a record's hash in an address

/// One choice of a list: its value in the form, and what a person reads.
struct Choice
{
    std::string_view value, text;
};

Html choice_of(std::string_view name, std::string_view caption, std::span<Choice const> choices,
               std::string_view chosen);
/// The reference methods; the first choice is the job's own.
std::span<Choice const> method_choices();

Html line_of_light(drawing::LightPath const& path);
/// The limits of the cord check as a table; empty if there are none.
Html numbers_list(std::vector<report::CardNumber> const& numbers);
Html step_words(setup::Step const& step);
Html set_up_cautions();
/// Facts, phases and steps of a set-up that is not in use.
Html set_up_details(job::SetupSheet const& sheet, job::SolvedSetup const& solved);
/// Why links have no set-up, and what would help.
Html unsolved_notice(job::UnsolvedGroup const& each);

/// The form to compare another way: ports, cabling, method and kit. `like` gives the first choices.
Html other_way_form(Exchange const& exchange, job::SetupGroup const* like);
/// The other way that the form asks for, and what it changes against `like`.
Result<Html> other_way(Desk& desk, Exchange const& exchange, job::SetupGroup const* like);

/// The set-up in use: its steps with ticks and timers.
Result<Reply> worksheet(Desk& desk, Exchange const& exchange, job::ChosenSetup const& chosen);

} // namespace guidepin::web
