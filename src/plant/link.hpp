// SPDX-License-Identifier: Apache-2.0
// A link as the schedule describes it: the cabling under test between its two ends, without test cords.
#pragma once

#include "plant/connector.hpp"
#include "units/quantity.hpp"

#include <string>
#include <vector>

namespace guidepin::plant {

/// What is at an end of the cabling: an adapter of the panel, or a bare plug that hangs free.
enum class EndFitting : std::uint8_t { opposed_adapter, aligned_adapter, bare_plug };
char const* name_of(EndFitting fitting);                     ///< "opposed", "aligned", "none"
Result<EndFitting> parse_end_fitting(std::string_view text); ///< also "a", "b", "plug"

struct LinkEnd
{
    std::string name; ///< where it is, as the schedule says: "HDA-3/07/A12"
    Pins pins = Pins::pinned;
    EndFitting fitting = EndFitting::opposed_adapter;
};

/// One row of the schedule.
struct LinkSpec
{
    std::string id;
    std::string zone;
    LinkEnd a, b;
    std::string category; ///< "OM4"
    Metres length;
    Family family;
    Occupancy fibres;
    /// "A", "B", "C", "RW", "I-A" …, or a whole chain in the grammar of `guidepin map`
    /// ("module:U1 adapter:opposed trunk:B adapter:opposed module:U1").
    std::string trunk_type;
    Face face = Face::flat;
    int inner_connections = 0;
    int splices = 0;
    std::vector<std::string> applications; ///< ids or names that the channel must carry
};

} // namespace guidepin::plant
