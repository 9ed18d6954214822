// SPDX-License-Identifier: Apache-2.0
// What surrounds the cabling under test: the instrument's two ports, the ends of the cabling, and the kit
// of cords, adapters and pin tools. Values only; what they make possible is in plan.hpp.
// Verified by: tests/unit/setup/kit.cpp.
#pragma once

#include "facts/tables.hpp"
#include "plant/chain.hpp"
#include "plant/connector.hpp"
#include "plant/fibre_map.hpp"
#include "plant/link.hpp"
#include "units/quantity.hpp"

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::setup {

/// A port of the source or of the meter. A meter whose port does not touch the ferrule has neutral pins: any
/// pins and any face may enter it. That has to be declared; nothing assumes it.
struct Port
{
    plant::ConnectorEnd face;                              ///< kind is port
    plant::KeyRelation keys = plant::KeyRelation::aligned; ///< of the port and the plug in it
};

/// One end of the cabling as a test cord meets it.
struct CablingEnd
{
    std::string name; ///< "HDA-3/07/A12"
    plant::ConnectorEnd plug;
    plant::EndFitting fitting = plant::EndFitting::opposed_adapter;
};

/// The glass: cords and cabling must be of one kind and one core.
struct Glass
{
    facts::FibreKind kind = facts::FibreKind::multimode;
    double core_um = 50; ///< 0: not stated, fits any of the kind
    bool fits(Glass const& other) const
    {
        return kind == other.kind && (core_um == 0 || other.core_um == 0 || core_um == other.core_um ||
                                      kind == facts::FibreKind::single_mode);
    }
    friend bool operator==(Glass const&, Glass const&) = default;
};

/// Cabling under test: `first` is where the launch cord goes.
struct Cabling
{
    CablingEnd first, second;
    Glass glass;
    std::string category;                       ///< "OM4"
    std::optional<plant::PositionMap> expected; ///< first to second, as plant::LinkModel numbers it
};
Cabling turned(Cabling const& cabling); ///< seen from the other end

enum class Role : std::uint8_t { launch, tail, substitution, changer, known };
char const* name_of(Role role); ///< "launch", "tail", "substitution", "changer", "known"
std::optional<Role> parse_role(std::string_view text);

/// What a cord may be used for; a cord that does not say may be used for all.
struct Roles
{
    std::array<bool, 5> allowed{true, true, true, true, true};
    bool may(Role role) const { return allowed[static_cast<std::size_t>(role)]; }
    static Roles only(std::initializer_list<Role> roles);
    friend bool operator==(Roles const&, Roles const&) = default;
};

struct CordEnd
{
    plant::ConnectorEnd plug;       ///< pins as they are now
    bool pins_exchangeable = false; ///< made for changing pins in the field
    friend bool operator==(CordEnd const&, CordEnd const&) = default;
};

struct Cord
{
    std::string id; ///< serial number or label
    std::array<CordEnd, 2> ends;
    std::string type = "B"; ///< as plant::cable_map() reads it, from ends[0] to ends[1]
    facts::CordGrade grade = facts::CordGrade::reference;
    Metres length{2};
    std::string category; ///< "OM4": for the fibre's loss in the cord check
    Glass glass;
    Roles roles;
};

struct AdapterStock
{
    plant::KeyRelation keys = plant::KeyRelation::opposed;
    plant::Family::Key family = plant::Family::Key::mpo12;
    int count = 1;
};

struct PinTool
{
    std::string id;
    plant::Family::Key family = plant::Family::Key::mpo12;
};

struct Kit
{
    std::vector<Cord> cords;
    std::vector<AdapterStock> adapters;
    std::vector<PinTool> pin_tools;

    bool has_pin_tool(plant::Family::Key family) const;
    int adapters_of(plant::KeyRelation keys, plant::Family::Key family) const;
};

/// Ids unique and not empty, the two ends of one family, a cord type known for it, slopes only on angled
/// faces, lengths and counts not negative, no neutral plug. The message names the item.
Outcome check_kit(Kit const& kit);

/// A plain plug: all positions of the family, ordinary slope where angled.
plant::ConnectorEnd plug_of(plant::Family const& family, plant::Pins pins,
                            plant::Face face = plant::Face::flat);
/// A fixed port. An angled port is made for the ordinary angled plug: its slope follows from its keys.
Port port_of(plant::Family const& family, plant::Pins pins, plant::Face face = plant::Face::flat,
             plant::KeyRelation keys = plant::KeyRelation::aligned);
/// Pins of a cord's end, and whether they can be exchanged.
struct EndPins
{
    plant::Pins pins = plant::Pins::unpinned;
    bool exchangeable = false;
    EndPins(plant::Pins now, bool can_be_exchanged = false) // implicit: most ends keep their pins
        : pins(now)
        , exchangeable(can_be_exchanged)
    {
    }
};
/// Returns a cord with two plain plugs of one face.
Cord cord_of(std::string id, plant::Family const& family, EndPins near, EndPins far,
             plant::Face face = plant::Face::flat);

/// Everything that could serve between these ports and this cabling, two of each: what an empty kit would
/// have to be filled from. Cords of every pin pair, with exchangeable far pins where `exchangeable`.
Kit complete_kit(Port const& source, Port const& meter, Cabling const& cabling, bool exchangeable);

} // namespace guidepin::setup
