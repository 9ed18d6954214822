// SPDX-License-Identifier: Apache-2.0
#include "plant/fibre_map.hpp"

#include "base/text.hpp"
#include "plant/presets.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace guidepin::plant {

namespace {

std::size_t bit(int position)
{
    return static_cast<std::size_t>(position - 1);
}

bool in_range(int position)
{
    return position >= 1 && position <= max_positions;
}

int index_of(Place place)
{
    return place.connector * max_positions + place.position - 1;
}

Place place_of(int index)
{
    return Place{index / max_positions, index % max_positions + 1};
}

} // namespace

PositionMap PositionMap::identity(Occupancy const& occupied)
{
    PositionMap map;
    for (int const p : positions_of(occupied)) map.far_[bit(p)] = static_cast<std::uint8_t>(p);
    return map;
}

bool PositionMap::connect(int near, int far)
{
    if (!in_range(near) || !in_range(far) || far_[bit(near)] != 0) return false;
    if (std::find(far_.begin(), far_.end(), static_cast<std::uint8_t>(far)) != far_.end()) return false;
    far_[bit(near)] = static_cast<std::uint8_t>(far);
    return true;
}

void PositionMap::disconnect(int near)
{
    if (in_range(near)) far_[bit(near)] = 0;
}

PositionMap PositionMap::then(PositionMap const& next) const
{
    PositionMap map;
    for (std::size_t i = 0; i < far_.size(); ++i) {
        if (far_[i] != 0) map.far_[i] = next.far_[far_[i] - 1U];
    }
    return map;
}

PositionMap PositionMap::inverse() const
{
    PositionMap map;
    for (std::size_t i = 0; i < far_.size(); ++i) {
        if (far_[i] != 0) map.far_[far_[i] - 1U] = static_cast<std::uint8_t>(i + 1);
    }
    return map;
}

PositionMap PositionMap::restricted(Occupancy const& near, Occupancy const& far) const
{
    PositionMap map;
    for (std::size_t i = 0; i < far_.size(); ++i) {
        if (far_[i] != 0 && near.test(i) && far.test(far_[i] - 1U)) map.far_[i] = far_[i];
    }
    return map;
}

PositionMap PositionMap::restricted_near(Occupancy const& near) const
{
    return restricted(near, ~Occupancy{});
}

Occupancy PositionMap::near_positions() const
{
    Occupancy set;
    for (std::size_t i = 0; i < far_.size(); ++i) set.set(i, far_[i] != 0);
    return set;
}

Occupancy PositionMap::far_positions() const
{
    Occupancy set;
    for (std::uint8_t const far : far_) {
        if (far != 0) set.set(far - 1U);
    }
    return set;
}

int PositionMap::size() const
{
    return static_cast<int>(max_positions - std::count(far_.begin(), far_.end(), std::uint8_t{0}));
}

std::string place_text(Place place, int connectors)
{
    return connectors > 1 ? fmt::format("{}:{}", place.connector + 1, place.position)
                          : std::to_string(place.position);
}

FibreMap::FibreMap(int near_connectors, int far_connectors)
    : near_connectors_(std::clamp(near_connectors, 0, max_connectors))
    , far_connectors_(std::clamp(far_connectors, 0, max_connectors))
    , far_(static_cast<std::size_t>(near_connectors_) * max_positions, std::int16_t{-1})
{
}

FibreMap::FibreMap(PositionMap const& map)
    : FibreMap(1, 1)
{
    for (int p = 1; p <= max_positions; ++p) far_[bit(p)] = static_cast<std::int16_t>(map.at(p) - 1);
}

std::optional<Place> FibreMap::at(Place near) const
{
    if (near.connector < 0 || near.connector >= near_connectors_ || !in_range(near.position))
        return std::nullopt;
    int const far = far_[static_cast<std::size_t>(index_of(near))];
    if (far < 0) return std::nullopt;
    return place_of(far);
}

bool FibreMap::connect(Place near, Place far)
{
    if (near.connector < 0 || near.connector >= near_connectors_ || !in_range(near.position)) return false;
    if (far.connector < 0 || far.connector >= far_connectors_ || !in_range(far.position)) return false;
    auto const far_index = static_cast<std::int16_t>(index_of(far));
    std::int16_t& slot = far_[static_cast<std::size_t>(index_of(near))];
    if (slot >= 0 || std::find(far_.begin(), far_.end(), far_index) != far_.end()) return false;
    slot = far_index;
    return true;
}

FibreMap FibreMap::then(FibreMap const& next) const
{
    FibreMap map{near_connectors_, next.far_connectors_};
    for (std::size_t i = 0; i < far_.size(); ++i) {
        if (far_[i] >= 0 && static_cast<std::size_t>(far_[i]) < next.far_.size()) {
            map.far_[i] = next.far_[static_cast<std::size_t>(far_[i])];
        }
    }
    return map;
}

FibreMap FibreMap::inverse() const
{
    FibreMap map{far_connectors_, near_connectors_};
    for (std::size_t i = 0; i < far_.size(); ++i) {
        if (far_[i] >= 0) map.far_[static_cast<std::size_t>(far_[i])] = static_cast<std::int16_t>(i);
    }
    return map;
}

FibreMap FibreMap::beside(FibreMap const& other) const
{
    FibreMap map{near_connectors_ + other.near_connectors_, far_connectors_ + other.far_connectors_};
    int const far_size = map.far_connectors_ * max_positions;
    std::size_t slot = 0;
    for (std::int16_t const far : far_) {
        if (slot < map.far_.size()) map.far_[slot++] = far;
    }
    for (std::int16_t const far : other.far_) {
        int const moved = far < 0 ? -1 : far + far_connectors_ * max_positions;
        if (slot < map.far_.size())
            map.far_[slot++] = static_cast<std::int16_t>(moved < far_size ? moved : -1);
    }
    return map;
}

std::vector<Place> FibreMap::near_places() const
{
    std::vector<Place> places;
    for (std::size_t i = 0; i < far_.size(); ++i) {
        if (far_[i] >= 0) places.push_back(place_of(static_cast<int>(i)));
    }
    return places;
}

std::vector<Place> FibreMap::far_places() const
{
    return inverse().near_places();
}

std::optional<PositionMap> FibreMap::single() const
{
    if (near_connectors_ != 1 || far_connectors_ != 1) return std::nullopt;
    PositionMap map;
    for (int p = 1; p <= max_positions; ++p) {
        if (far_[bit(p)] >= 0) map.connect(p, far_[bit(p)] + 1);
    }
    return map;
}

Difference difference(FibreMap const& expected, FibreMap const& measured)
{
    Difference result;
    for (Place const near : expected.near_places()) {
        if (!measured.at(near)) result.dark.push_back(near);
    }
    for (Place const near : measured.near_places()) {
        if (!expected.at(near)) result.extra.push_back(near);
    }
    FibreMap const d = expected.inverse().then(measured);
    FibreMap const back = d.inverse();
    std::vector<Place> seen; // sorted as it grows: places are visited in order, cycles are short
    auto const is_seen = [&seen](Place place) {
        return std::find(seen.begin(), seen.end(), place) != seen.end();
    };
    for (Place const start : d.near_places()) {
        if (is_seen(start)) continue;
        std::vector<Place> run{start};
        bool closed = false;
        for (std::optional<Place> next = d.at(start); next; next = d.at(*next)) {
            if (*next == start) {
                closed = true;
                break;
            }
            run.push_back(*next);
        }
        if (!closed) {
            // An open run: begin it where nothing leads into it.
            for (std::optional<Place> before = back.at(start); before; before = back.at(*before)) {
                run.insert(run.begin(), *before);
            }
        }
        seen.insert(seen.end(), run.begin(), run.end());
        if (run.size() < 2) continue;
        (closed ? result.cycles : result.paths).push_back(std::move(run));
    }
    return result;
}

std::vector<std::string> classes_of(PositionMap const& map, Family const& family)
{
    std::vector<std::string> classes;
    if (family.key == Family::Key::duplex || map.empty()) return classes;
    for (std::string const& type : cable_types(family)) {
        Result<PositionMap> const preset = cable_map(type, family);
        if (preset && preset->restricted_near(map.near_positions()) == map) classes.push_back(type);
    }
    return classes;
}

std::string class_name(PositionMap const& map, Family const& family)
{
    if (map.empty()) return "dark";
    std::vector<std::string> const classes = classes_of(map, family);
    return classes.empty() ? "other" : joined(classes, " or ");
}

} // namespace guidepin::plant
