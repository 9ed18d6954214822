// SPDX-License-Identifier: Apache-2.0
// The entry in a column of numbers where nobody measured. Verified by: tests/unit/job (bodies.cpp: numbers
// that nobody measured).
#pragma once

#include <limits>

namespace guidepin {

inline constexpr double nan = std::numeric_limits<double>::quiet_NaN();

} // namespace guidepin
