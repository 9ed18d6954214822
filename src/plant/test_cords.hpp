// SPDX-License-Identifier: Apache-2.0
// Test cords are between the instrument's ports and the cabling. What the instrument shows is launch cord,
// cabling, receive cord; the cabling's own map is found by taking both out. Method:
// docs/methods/mating-and-maps.md. Verified by: tests/oracle/plant/test_cords.cpp (worked table of the
// embedding), a property: taking out undoes.
#pragma once

#include "plant/fibre_map.hpp"

#include <optional>
#include <string>

namespace guidepin::plant {

/// A test cord between an instrument's port and the cabling under test.
struct TestCord
{
    std::string type = "B";                  ///< as cable_map() reads it
    KeyRelation port = KeyRelation::aligned; ///< keys of the instrument's port
    std::optional<KeyRelation> adapter;      ///< of the test set, where the cabling ends in a bare plug
};

/// Port face -> plug of the cord at the cabling (or the cabling's own bare plug behind the test set's
/// adapter).
Result<PositionMap> launch_map(TestCord const& cord, Family const& family);
/// The same read towards the instrument: plug at the cabling -> port face.
Result<PositionMap> receive_map(TestCord const& cord, Family const& family);

/// What the instrument shows, port face to port face.
PositionMap shown_by_instrument(PositionMap const& cabling, PositionMap const& launch,
                                PositionMap const& receive);

} // namespace guidepin::plant
