// SPDX-License-Identifier: Apache-2.0
// Numbers as they are handed over. Verified by: tests/unit/base/rounding.cpp.
#pragma once

#include <cmath>

namespace guidepin {

/// `value` to so many decimals, as a number: without the digits that are those of the arithmetic alone
/// (0.6479999999999999). NaN and infinities stay. `decimals`: 0 to 15.
inline double rounded_to(double value, int decimals)
{
    double const scale = std::pow(10.0, decimals);
    double const rounded = std::round(value * scale) / scale;
    return std::isfinite(rounded) ? rounded : value;
}

} // namespace guidepin
