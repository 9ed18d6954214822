// SPDX-License-Identifier: Apache-2.0
// A reference and a cord check typed by hand, for people in the aisle without a file.
#pragma once

#include "web/frame.hpp"

namespace guidepin::web {

/// `kit` are the fields that say what was used.
Html typed_reference_form(Desk const& desk, Exchange const& exchange, Html const& kit);
/// `references` are the options to choose from, the newest first.
Html typed_check_form(Desk const& desk, Exchange const& exchange, Html const& references);

/// How positions are numbered: on the cabling's side, or as the instrument shows them.
Html numbering_choice();
/// Whether a form says that positions are numbered as the instrument shows them.
bool numbered_by_instrument(Exchange const& exchange);
/// What a form says was used.
job::TestKit kit_of(Exchange const& exchange);
/// Refused items that are used anyway: item and reason. Errors: refused if this person may not decide that.
Result<std::vector<std::pair<std::string, std::string>>> overrides_of(Exchange const& exchange);

} // namespace guidepin::web
