// SPDX-License-Identifier: Apache-2.0
// room: job
// Any bytes as a record of the kit, and as a finding in words: no crash, and what is read is written and read
// back the same.
#include "job/entry/kit_bodies.hpp"
#include "round_trip.hpp"

#include <cstdint>

using namespace guidepin;
using namespace guidepin::job;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    std::string_view const text(reinterpret_cast<char const*>(data), size);
    round_trip(text, &kit_item_of, &kit_item_body);
    round_trip(text, &pin_change_of, &pin_change_body);
    round_trip(text, &inspection_of, &inspection_body);
    round_trip(text, &kit_limits_of, &kit_limits_body);
    round_trip(text, &kit_override_of, &kit_override_body);
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
