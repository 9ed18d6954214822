// SPDX-License-Identifier: Apache-2.0
// room: job
// Any bytes as a finding on an end face in words: a finding or an error, and what is read is written and read
// back the same.
#include "job/entry/kit_bodies.hpp"
#include "round_trip.hpp"

#include <cstdint>

using namespace guidepin;
using namespace guidepin::job;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    std::string_view const text(reinterpret_cast<char const*>(data), size);
    setup::EndFaceInspection inspection;
    if (add_finding(inspection, text)) {
        auto const words = finding_words(inspection);
        require(words.size() == 1);
        setup::EndFaceInspection again;
        require(add_finding(again, words.front()).has_value());
        require(finding_words(again) == words);
    }
    return 0;
}
