// SPDX-License-Identifier: Apache-2.0
#include "plant/test_cords.hpp"

#include "plant/presets.hpp"

namespace guidepin::plant {

Result<PositionMap> launch_map(TestCord const& cord, Family const& family)
{
    TRY_ASSIGN(PositionMap const cable, cable_map(cord.type, family));
    PositionMap const map = adapter_map(cord.port, family).then(cable);
    return cord.adapter ? map.then(adapter_map(*cord.adapter, family)) : map;
}

Result<PositionMap> receive_map(TestCord const& cord, Family const& family)
{
    TRY_ASSIGN(PositionMap const launch, launch_map(cord, family));
    return launch.inverse();
}

PositionMap shown_by_instrument(PositionMap const& cabling, PositionMap const& launch,
                                PositionMap const& receive)
{
    return launch.then(cabling).then(receive);
}

} // namespace guidepin::plant
