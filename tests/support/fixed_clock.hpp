// SPDX-License-Identifier: Apache-2.0
#pragma once

#include "base/clock.hpp"

#include <cstdint>

namespace guidepin {

/// A clock that gives the same time until a test moves it.
class FixedClock final : public Clock
{
  public:
    explicit FixedClock(std::int64_t now)
        : now_(now)
    {
    }
    std::int64_t now_ms() const override { return now_; }
    void advance_ms(std::int64_t by) { now_ += by; }

  private:
    std::int64_t now_;
};

} // namespace guidepin
