// SPDX-License-Identifier: Apache-2.0
#include "setup/kit.hpp"

#include "plant/presets.hpp"

#include <fmt/format.h>

#include <set>

namespace guidepin::setup {

using plant::ConnectorEnd;
using plant::Face;
using plant::KeyRelation;
using plant::Pins;
using plant::Slope;

namespace {

constexpr std::array role_names{"launch", "tail", "substitution", "changer", "known"};

Slope opposite(Slope slope)
{
    return slope == Slope::down ? Slope::up : slope == Slope::up ? Slope::down : Slope::none;
}

Error bad(std::string message)
{
    return Error{Errc::invalid_input, std::move(message)};
}

Outcome check_plug(Cord const& cord, CordEnd const& end, char const* which)
{
    ConnectorEnd const& plug = end.plug;
    if (plug.kind != plant::EndKind::plug)
        return bad(fmt::format("Cord {}: its {} end is a port; a cord ends in plugs.", cord.id, which));
    if (plug.pins == Pins::neutral) {
        return bad(
            fmt::format("Cord {}: its {} end is neither pinned nor unpinned; say which.", cord.id, which));
    }
    if ((plug.slope == Slope::none) != (plug.face == Face::flat)) {
        return bad(fmt::format("Cord {}: the {} end is {} with slope {}; an angled face has a slope, a flat "
                               "one has none.",
                               cord.id, which, plant::name_of(plug.face), plant::name_of(plug.slope)));
    }
    if (plug.occupied.none() || (plug.occupied & ~plant::all_positions(plug.family)).any()) {
        return bad(fmt::format("Cord {}: the {} end has fibres at '{}', which is not within {}.", cord.id,
                               which, plant::occupancy_text(plug.occupied), plant::words_of(plug.family)));
    }
    return {};
}

} // namespace

Cabling turned(Cabling const& cabling)
{
    Cabling other = cabling;
    std::swap(other.first, other.second);
    if (other.expected) other.expected = other.expected->inverse();
    return other;
}

char const* name_of(Role role)
{
    return role_names[static_cast<std::size_t>(role)];
}

std::optional<Role> parse_role(std::string_view text)
{
    for (std::size_t i = 0; i < role_names.size(); ++i) {
        if (text == role_names[i]) return static_cast<Role>(i);
    }
    return std::nullopt;
}

Roles Roles::only(std::initializer_list<Role> roles)
{
    Roles result;
    result.allowed.fill(false);
    for (Role const role : roles) result.allowed[static_cast<std::size_t>(role)] = true;
    return result;
}

bool Kit::has_pin_tool(plant::Family::Key family) const
{
    for (PinTool const& tool : pin_tools) {
        if (tool.family == family) return true;
    }
    return false;
}

int Kit::adapters_of(KeyRelation keys, plant::Family::Key family) const
{
    int count = 0;
    for (AdapterStock const& stock : adapters) {
        if (stock.keys == keys && stock.family == family) count += stock.count;
    }
    return count;
}

Outcome check_kit(Kit const& kit)
{
    std::set<std::string> ids;
    for (Cord const& cord : kit.cords) {
        if (cord.id.empty())
            return bad("A cord of the kit has no serial number or label; give each its own.");
        if (!ids.insert(cord.id).second)
            return bad(fmt::format("Cord {} is in the kit twice; give each its own label.", cord.id));
        TRY(check_plug(cord, cord.ends[0], "first"));
        TRY(check_plug(cord, cord.ends[1], "second"));
        if (cord.ends[0].plug.family != cord.ends[1].plug.family) {
            return bad(fmt::format("Cord {} goes from {} to {}; a test cord has one family at both ends.",
                                   cord.id, plant::words_of(cord.ends[0].plug.family),
                                   plant::words_of(cord.ends[1].plug.family)));
        }
        auto const map = plant::cable_map(cord.type, cord.ends[0].plug.family);
        if (!map) return map.error().within("Cord " + cord.id);
        if (!(cord.length.value() >= 0)) {
            return bad(fmt::format("Cord {}: length {} m; a length is not negative.", cord.id,
                                   number_text(cord.length.value())));
        }
    }
    for (AdapterStock const& stock : kit.adapters) {
        if (stock.count < 0)
            return bad(fmt::format("{} adapters of {} keys; a count is not negative.", stock.count,
                                   plant::name_of(stock.keys)));
    }
    return {};
}

ConnectorEnd plug_of(plant::Family const& family, Pins pins, Face face)
{
    ConnectorEnd end;
    end.family = family;
    end.occupied = plant::all_positions(family);
    end.pins = pins;
    end.face = face;
    end.slope = face == Face::flat ? Slope::none : Slope::down;
    return end;
}

Port port_of(plant::Family const& family, Pins pins, Face face, KeyRelation keys)
{
    Port port{plug_of(family, pins, face), keys};
    port.face.kind = plant::EndKind::port;
    // Keys that run alike need slopes that run against each other (IEC 61754-7-1: active-device receptacle).
    if (keys == KeyRelation::aligned) port.face.slope = opposite(port.face.slope);
    return port;
}

Cord cord_of(std::string id, plant::Family const& family, EndPins near, EndPins far, Face face)
{
    Cord cord;
    cord.id = std::move(id);
    cord.ends = {CordEnd{plug_of(family, near.pins, face), near.exchangeable},
                 CordEnd{plug_of(family, far.pins, face), far.exchangeable}};
    cord.type = family.rows == 1 ? "B" : "I-B";
    return cord;
}

Kit complete_kit(Port const& source, Port const& meter, Cabling const& cabling, bool exchangeable)
{
    Kit kit;
    std::vector<ConnectorEnd> shapes;
    auto const add_shape = [&shapes](ConnectorEnd shape, Slope slope) {
        shape.kind = plant::EndKind::plug;
        shape.pins = Pins::unpinned;
        shape.slope = slope;
        for (ConnectorEnd const& known : shapes) {
            if (known == shape) return;
        }
        shapes.push_back(shape);
    };
    auto const add_plug_for = [&](ConnectorEnd const& end, KeyRelation keys) {
        ConnectorEnd shape = end;
        shape.occupied.reset();
        for (int const p : plant::positions_of(end.occupied))
            shape.occupied.set(static_cast<std::size_t>(plant::met_position(end.family, keys, p) - 1));
        add_shape(shape, keys == KeyRelation::aligned ? opposite(end.slope) : end.slope);
    };
    auto const keys_of = [](CablingEnd const& end) {
        return end.fitting == plant::EndFitting::aligned_adapter ? KeyRelation::aligned
                                                                 : KeyRelation::opposed;
    };
    add_plug_for(cabling.first.plug, keys_of(cabling.first));
    add_plug_for(cabling.second.plug, keys_of(cabling.second));
    add_plug_for(source.face, source.keys);
    if (meter.face.pins != Pins::neutral) add_plug_for(meter.face, meter.keys);

    int number = 0;
    for (std::size_t a = 0; a < shapes.size(); ++a) {
        for (std::size_t b = a; b < shapes.size(); ++b) {
            if (shapes[a].family != shapes[b].family) continue;
            for (int pins = 0; pins < 4; ++pins) {
                if (a == b && pins == 2) continue; // the same cord, turned
                for (int copy = 0; copy < 2; ++copy) {
                    Cord cord;
                    cord.id = fmt::format("cord-{:02}", ++number);
                    cord.ends = {CordEnd{shapes[a], exchangeable}, CordEnd{shapes[b], exchangeable}};
                    cord.ends[0].plug.pins = (pins & 1) != 0 ? Pins::pinned : Pins::unpinned;
                    cord.ends[1].plug.pins = (pins & 2) != 0 ? Pins::pinned : Pins::unpinned;
                    if (a == b && pins == 1) std::swap(cord.ends[0].plug.pins, cord.ends[1].plug.pins);
                    cord.type = shapes[a].family.rows == 1 ? "B" : "I-B";
                    cord.category = cabling.category;
                    cord.glass = cabling.glass;
                    kit.cords.push_back(std::move(cord));
                }
            }
        }
    }
    plant::Family::Key const family = cabling.first.plug.family.key;
    kit.adapters = {{KeyRelation::opposed, family, 2}, {KeyRelation::aligned, family, 2}};
    if (exchangeable) kit.pin_tools = {{"pin tool", family}};
    return kit;
}

} // namespace guidepin::setup
