// SPDX-License-Identifier: Apache-2.0
// The register of the kit on its pages: the list on "Kit and people", and the forms for the register and one
// item.
#pragma once

#include "base/safe_text.hpp"
#include "job/kit/kit_register.hpp"
#include "web/page.hpp"

namespace guidepin::web {

/// Every item with its state and wear, and a lead's forms for the register as a whole.
Html kit_list(Desk& desk, Exchange const& exchange);
/// The page of one item.
std::string item_address(std::string_view serial);
/// What this person may change on the item: pins, inspections, and for a lead decisions and limits.
Html kit_item_forms(Desk const& desk, Exchange const& exchange, job::KitStanding const& standing);
/// A lead's forms for the register: bring in a kit file, set limits.
Html kit_register_forms(Exchange const& exchange, job::KitRegister const& kit);

} // namespace guidepin::web
