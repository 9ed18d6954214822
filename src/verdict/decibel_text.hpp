// SPDX-License-Identifier: Apache-2.0
// Losses and powers in the sentences of this room. Verified by: tests/unit/verdict.
#pragma once

#include "base/text.hpp"

#include <string>

namespace guidepin::verdict {

/// "0.35 dB".
inline std::string db_text(double value)
{
    return fixed_text(value, 2) + " dB";
}

} // namespace guidepin::verdict
