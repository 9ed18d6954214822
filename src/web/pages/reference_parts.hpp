// SPDX-License-Identifier: Apache-2.0
// The parts of the page "Reference": one reference, and the forms to add to it.
#pragma once

#include "web/frame.hpp"

namespace guidepin::web {

/// One reference: its state and the reasons, its powers, its cord checks and its drift. `index` is that of
/// the job's references.
Html shown_reference(Desk const& desk, Exchange const& exchange, job::Assessment const& assessment,
                     std::size_t index);
/// The forms to take a reference, to check the cords and to record an event.
Html reference_forms(Desk& desk, Exchange const& exchange);

} // namespace guidepin::web
