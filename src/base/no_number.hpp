// SPDX-License-Identifier: Apache-2.0
// What stands in a column of numbers where nobody measured. Verified by: whoever uses it.
#pragma once

#include <limits>

namespace guidepin {

inline constexpr double nan = std::numeric_limits<double>::quiet_NaN();

} // namespace guidepin
