// SPDX-License-Identifier: Apache-2.0
// Time comes in through this door, so that a test can stand still.
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

/// Stands still until it is moved.
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
