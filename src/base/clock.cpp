// SPDX-License-Identifier: Apache-2.0
#include "base/clock.hpp"

#include <chrono>

namespace guidepin {

std::int64_t SystemClock::now_ms() const
{
    using namespace std::chrono;
    return duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count();
}

} // namespace guidepin
