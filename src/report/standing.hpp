// SPDX-License-Identifier: Apache-2.0
#pragma once

#include "drawing/row.hpp"
#include "verdict/conformity.hpp"

namespace guidepin::report {

/// How a verdict is drawn. There is no state for "unused": such a position has no reading.
drawing::Standing standing_of(verdict::State state);
/// The paint of a standing's word.
drawing::Token token_of(drawing::Standing standing);

} // namespace guidepin::report
