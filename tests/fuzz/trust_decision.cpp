// SPDX-License-Identifier: Apache-2.0
// room: job
// Any bytes as the body of a decision on a reference: a decision or an error, and what was read is written
// and read back the same.
#include "job/entry/entries.hpp"
#include "round_trip.hpp"

#include <cstdint>

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    using namespace guidepin;
    round_trip({reinterpret_cast<char const*>(data), size}, &job::trust_decision_of,
               &job::trust_decision_body);
    return 0;
}
