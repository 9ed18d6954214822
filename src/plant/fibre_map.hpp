// SPDX-License-Identifier: Apache-2.0
// Where light goes: one-to-one maps from near places to far places, and their algebra. A place that has no
// image is dark. Composition is left to right, along the light. Mathematics: docs/methods/mating-and-maps.md.
// Verified by: tests/unit/plant/fibre_map.cpp (group laws as properties), tests/oracle/plant/maps.cpp
// (TIA-568.3 tables).
#pragma once

#include "plant/connector.hpp"

#include <array>
#include <compare>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::plant {

/// A one-to-one map between the positions of one connector and the positions of another: 64 bytes, no
/// allocation, cheap enough to keep one for each of many thousands of links. Positions are 1 … max_positions.
class PositionMap
{
  public:
    PositionMap() = default;

    /// p -> p on the occupied positions.
    static PositionMap identity(Occupancy const& occupied);

    /// Far position, or 0 where it is dark or `near` is out of range.
    int at(int near) const
    {
        return near >= 1 && near <= max_positions ? far_[static_cast<std::size_t>(near - 1)] : 0;
    }
    /// Adds near -> far. False, and nothing done, when either is out of range or already taken.
    bool connect(int near, int far);
    /// Makes `near` dark.
    void disconnect(int near);

    PositionMap then(PositionMap const& next) const; ///< this first, `next` after it
    PositionMap inverse() const;
    PositionMap restricted(Occupancy const& near, Occupancy const& far) const;
    PositionMap restricted_near(Occupancy const& near) const;

    Occupancy near_positions() const;
    Occupancy far_positions() const;
    int size() const;
    bool empty() const { return size() == 0; }
    friend bool operator==(PositionMap const&, PositionMap const&) = default;

  private:
    std::array<std::uint8_t, max_positions> far_{};
};

/// A position of one of the connectors at an end. `connector` counts from 0, `position` from 1.
struct Place
{
    int connector = 0;
    int position = 0;
    friend auto operator<=>(Place const&, Place const&) = default;
};
std::string place_text(Place place, int connectors); ///< "7", or "2:7" where the end has several connectors

constexpr int max_connectors = 64;

/// A one-to-one map between the places of two ends with any number of connectors (conversion cords, legs).
class FibreMap
{
  public:
    FibreMap() = default;
    FibreMap(int near_connectors, int far_connectors);
    /// One connector at each end.
    FibreMap(PositionMap const& map); // NOLINT: a position map is a fibre map

    int near_connectors() const { return near_connectors_; }
    int far_connectors() const { return far_connectors_; }

    std::optional<Place> at(Place near) const;
    bool connect(Place near, Place far); ///< false, and nothing done, when out of range or taken
    FibreMap then(FibreMap const& next) const;
    FibreMap inverse() const;
    /// This map and `other` side by side; the connectors of `other` are numbered after these.
    FibreMap beside(FibreMap const& other) const;

    std::vector<Place> near_places() const; ///< lit ones, in order
    std::vector<Place> far_places() const;
    /// As a position map, where both ends have one connector.
    std::optional<PositionMap> single() const;
    friend bool operator==(FibreMap const&, FibreMap const&) = default;

  private:
    int near_connectors_ = 0;
    int far_connectors_ = 0;
    std::vector<std::int16_t> far_; ///< index of the far place, -1 for dark
};

/// How a measured map departs from the expected one. With d = inverse(expected) then measured, a map of the
/// far end: closed cycles of d, open paths (where something is lost on the way), and what is dark or extra at
/// the near end.
struct Difference
{
    std::vector<std::vector<Place>> cycles; ///< each from its lowest place, ordered; length 2 and more
    std::vector<std::vector<Place>> paths;  ///< places of d that move without closing; length 2 and more
    std::vector<Place> dark;                ///< near places that should be lit and are not
    std::vector<Place> extra;               ///< near places that are lit and should not be
    bool none() const { return cycles.empty() && paths.empty() && dark.empty() && extra.empty(); }
};
Difference difference(FibreMap const& expected, FibreMap const& measured);

/// Every class that agrees with the map on all of its lit positions, best known first. One row: A, B, C, RW.
/// Two rows: I-A, I-B, II-A, II-B, C. Empty when none fits or nothing is lit. Few lit positions can fit
/// several.
std::vector<std::string> classes_of(PositionMap const& map, Family const& family);
/// One name for people: "A", "A or C" if the lit positions fit both, "other", "dark".
std::string class_name(PositionMap const& map, Family const& family);

} // namespace guidepin::plant
