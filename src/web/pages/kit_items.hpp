// SPDX-License-Identifier: Apache-2.0
// The register of the kit within the page "Kit and people".
#pragma once

#include "base/safe_text.hpp"
#include "web/page.hpp"

namespace guidepin::web {

/// Every item with its state and wear, and what a lead may do with the register as a whole.
Html kit_list(Desk& desk, Exchange const& exchange);

} // namespace guidepin::web
