// SPDX-License-Identifier: Apache-2.0
// Time comes in through this interface alone, so that a test can give its own
// (tests/support/fixed_clock.hpp).
#pragma once

#include <cstdint>

namespace guidepin {

class Clock
{
  public:
    virtual ~Clock() = default;
    /// Milliseconds since 1970-01-01T00:00:00Z.
    virtual std::int64_t now_ms() const = 0;
};

class SystemClock final : public Clock
{
  public:
    std::int64_t now_ms() const override;
};

} // namespace guidepin
