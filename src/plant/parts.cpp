// SPDX-License-Identifier: Apache-2.0
#include "plant/parts.hpp"

#include "base/text.hpp"
#include "plant/cord_table.hpp"
#include "plant/presets.hpp"

#include <fmt/format.h>

namespace guidepin::plant {

namespace {

Slope flipped(Slope slope)
{
    return slope == Slope::none ? Slope::none : slope == Slope::down ? Slope::up : Slope::down;
}

Pins usual_pins(ElementKind kind, bool beside_port, Convention convention)
{
    bool const fixed = convention == Convention::fixed_pinned;
    switch (kind) {
    case ElementKind::port:
        return Pins::pinned;
    case ElementKind::trunk:
        return fixed ? Pins::pinned : Pins::unpinned;
    case ElementKind::cord:
    case ElementKind::harness:
        return beside_port || fixed ? Pins::unpinned : Pins::pinned;
    case ElementKind::module:
        return fixed ? Pins::unpinned : Pins::pinned;
    case ElementKind::adapter:
    case ElementKind::duplex:
        break;
    }
    return Pins::neutral;
}

class Maker
{
  public:
    Maker(Element const& element, PartContext const& context)
        : element_(element)
        , context_(context)
    {
    }

    Result<Part> make()
    {
        if (element_.is_table()) return from_table();
        switch (element_.kind) {
        case ElementKind::port:
            return element_.value == "duplex" ? duplex_port() : parallel_port();
        case ElementKind::cord:
        case ElementKind::trunk:
            return cable();
        case ElementKind::module:
        case ElementKind::harness:
            return fan_out();
        case ElementKind::duplex:
            return duplex_cords();
        case ElementKind::adapter:
            break;
        }
        return Error{Errc::internal, "An adapter was taken for a part of its own."};
    }

  private:
    Error bad(Error const& error) const
    {
        return error.within(fmt::format("Element {} '{}'", context_.number, element_.text()));
    }

    Family array_family() const
    {
        if (element_.family) return *element_.family;
        if (context_.neighbour && context_.neighbour->key != Family::Key::duplex) return *context_.neighbour;
        return context_.options->family;
    }

    /// Occupied positions of the face that is joined to what was there before.
    Result<Occupancy> occupied(Family const& family) const
    {
        if (!element_.fibres.empty()) return parse_occupancy(element_.fibres, family);
        if (context_.met && context_.neighbour && *context_.neighbour == family) return *context_.met;
        if (!context_.met && context_.options->fibres.any() && context_.options->family == family) {
            return context_.options->fibres & all_positions(family);
        }
        return all_positions(family);
    }

    ConnectorEnd array_end(Family const& family, Occupancy const& fibres, bool near,
                           EndStatement const* stated) const
    {
        ConnectorEnd end;
        end.family = family;
        end.occupied = fibres;
        bool const beside_port = near ? context_.beside_port_near : context_.beside_port_far;
        std::optional<Pins> pins = near ? element_.near_pins : element_.far_pins;
        if (!pins && stated) pins = stated->pins;
        end.pins = pins.value_or(usual_pins(element_.kind, beside_port, context_.options->convention));
        end.face = element_.face.value_or(stated ? stated->face.value_or(context_.options->face)
                                                 : context_.options->face);
        if (end.face == Face::angled) {
            // The face of an aligned-key port for angled plugs is made with the opposite slope
            // (IEC 61754-7-1 and -2: active device receptacles and up-angled plugs).
            Slope const usual =
                element_.kind == ElementKind::port && element_.value == "aligned" ? Slope::up : Slope::down;
            end.slope = element_.slope.value_or(stated ? stated->slope.value_or(usual) : usual);
            if (near ? element_.turned_near : element_.turned_far) end.slope = flipped(end.slope);
        }
        end.kind = element_.kind == ElementKind::port ? EndKind::port : EndKind::plug;
        return end;
    }

    static ConnectorEnd duplex_end(int ports, Occupancy const& fibres, EndKind kind)
    {
        return ConnectorEnd{
            Family{Family::Key::duplex, 1, ports}, fibres, Pins::neutral, Face::flat, Slope::none, kind};
    }

    Result<Family> array_family_checked() const
    {
        Family const family = array_family();
        if (family.key != Family::Key::duplex) return family;
        return bad(
            Error{Errc::usage, fmt::format("family {} has no array connector; write one of mpo-12, mpo-24, "
                                           "mpo-16, mpo-32.",
                                           words_of(family))});
    }

    Result<Part> parallel_port() const
    {
        TRY_ASSIGN(Family const family, array_family_checked());
        Result<Occupancy> const fibres = occupied(family);
        if (!fibres) return bad(fibres.error());
        ConnectorEnd const end = array_end(family, *fibres, true, nullptr);
        return Part{{end}, {end}, PositionMap::identity(*fibres)};
    }

    /// Number of LC ports, and which of them are lit, from what this is joined to; twelve where nothing is.
    int ports() const
    {
        return context_.neighbour && context_.neighbour->key == Family::Key::duplex
                   ? context_.neighbour->positions()
                   : 12;
    }
    Occupancy lit_ports() const
    {
        Occupancy const all = all_positions(Family{Family::Key::duplex, 1, ports()});
        bool const joined = context_.neighbour && context_.neighbour->key == Family::Key::duplex;
        return joined && context_.met ? *context_.met & all : all;
    }

    Result<Part> duplex_port() const
    {
        if (element_.family || !element_.fibres.empty() || element_.near_pins || element_.face ||
            element_.slope) {
            return bad(
                Error{Errc::usage, "port:duplex takes no attributes; it follows what is plugged into it."});
        }
        ConnectorEnd const end = duplex_end(ports(), lit_ports(), EndKind::port);
        return Part{{end}, {end}, PositionMap::identity(lit_ports())};
    }

    Result<Part> duplex_cords() const
    {
        Result<PositionMap> map = duplex_cord_map(element_.value, ports());
        if (!map) return bad(map.error());
        // Cords are made for whole pairs: a pair with one lit half has its cord too.
        Occupancy cords = lit_ports();
        for (int const p : positions_of(cords)) cords.set(static_cast<std::size_t>((p - 1) ^ 1));
        ConnectorEnd const end = duplex_end(ports(), cords, EndKind::plug);
        return Part{{end}, {end}, map->restricted_near(cords)};
    }

    Result<Part> cable() const
    {
        TRY_ASSIGN(Family const family, array_family_checked());
        Result<PositionMap> preset = cable_map(element_.value, family);
        if (!preset) return bad(preset.error());
        Result<Occupancy> const fibres = occupied(family);
        if (!fibres) return bad(fibres.error());
        PositionMap map = *preset;
        if (element_.turned_near) map = key_turn_map(family).then(map);
        if (element_.turned_far) map = map.then(key_turn_map(family));
        map = map.restricted_near(*fibres);
        return Part{{array_end(family, *fibres, true, nullptr)},
                    {array_end(family, map.far_positions(), false, nullptr)},
                    map};
    }

    Result<Part> fan_out() const
    {
        TRY_ASSIGN(Family const family, array_family_checked());
        bool const module = element_.kind == ElementKind::module;
        Result<PositionMap> preset =
            module ? module_map(element_.value, family) : harness_map(element_.value, family);
        if (!preset) return bad(preset.error());
        int const ports_count = preset->size();
        // The side that was joined decides the population: LC ports when it is reversed, MPO otherwise.
        PositionMap map = *preset;
        bool const by_ports = context_.sockets_near && context_.neighbour && context_.met &&
                              context_.neighbour->key == Family::Key::duplex && element_.fibres.empty();
        if (by_ports) {
            // Cords may use fewer pairs than the module has; the module keeps all of its fibres.
        } else {
            Result<Occupancy> const fibres = occupied(family);
            if (!fibres) return bad(fibres.error());
            map = map.restricted_near(*fibres);
        }
        ConnectorEnd const array = array_end(family, map.near_positions(), !context_.sockets_near, nullptr);
        ConnectorEnd const sockets =
            duplex_end(ports_count, map.far_positions(), module ? EndKind::port : EndKind::plug);
        if (context_.sockets_near) return Part{{sockets}, {array}, map.inverse()};
        return Part{{array}, {sockets}, map};
    }

    Result<Part> from_table() const
    {
        if (!context_.options->tables) {
            return bad(Error{Errc::usage, "tables cannot be read here; write a type by letter."});
        }
        if (element_.family || !element_.fibres.empty()) {
            return bad(Error{Errc::usage, "family and fibres are those of the table; change them there."});
        }
        Result<std::string> const text = context_.options->tables(element_.value);
        if (!text) return bad(text.error());
        TRY_ASSIGN(CordTable table, parse_cord_table(element_.value, *text));
        if (element_.reversed) table = reversed(table);
        bool const fan = element_.kind == ElementKind::module || element_.kind == ElementKind::harness;
        if (fan) {
            auto const is_duplex = [](EndStatement const& end) {
                return end.family.key == Family::Key::duplex;
            };
            bool const near_array = !table.near.empty() && !is_duplex(table.near.front());
            if (near_array == context_.sockets_near) table = reversed(table);
        }
        Part part;
        part.map = table.map;
        for (EndStatement const& end : table.near) part.near.push_back(table_end(end, true));
        for (EndStatement const& end : table.far) part.far.push_back(table_end(end, false));
        if (element_.turned_near) part.map = turned(part.near).then(part.map);
        if (element_.turned_far) part.map = part.map.then(turned(part.far));
        if (element_.turned_near) turn_occupancy(part.near);
        if (element_.turned_far) turn_occupancy(part.far);
        return part;
    }

    ConnectorEnd table_end(EndStatement const& stated, bool near) const
    {
        if (stated.family.key == Family::Key::duplex) {
            return duplex_end(stated.family.positions(), stated.occupied,
                              element_.kind == ElementKind::module ? EndKind::port : EndKind::plug);
        }
        return array_end(stated.family, stated.occupied, near, &stated);
    }

    static FibreMap turned(std::vector<ConnectorEnd> const& ends)
    {
        std::optional<FibreMap> map;
        for (ConnectorEnd const& end : ends) {
            bool const duplex = end.family.key == Family::Key::duplex;
            FibreMap const one =
                duplex ? PositionMap::identity(all_positions(end.family)) : key_turn_map(end.family);
            map = map ? map->beside(one) : one;
        }
        return *map;
    }

    static void turn_occupancy(std::vector<ConnectorEnd>& ends)
    {
        for (ConnectorEnd& end : ends) {
            if (end.family.key == Family::Key::duplex) continue;
            Occupancy turned_set;
            for (int const p : positions_of(end.occupied)) {
                turned_set.set(static_cast<std::size_t>(end.family.positions() - p));
            }
            end.occupied = turned_set;
        }
    }

    Element const& element_;
    PartContext const& context_;
};

} // namespace

Part Part::beside(Part const& other) const
{
    Part whole = *this;
    whole.near.insert(whole.near.end(), other.near.begin(), other.near.end());
    whole.far.insert(whole.far.end(), other.far.begin(), other.far.end());
    whole.map = map.beside(other.map);
    return whole;
}

Result<Part> make_part(Element const& element, PartContext const& context)
{
    return Maker{element, context}.make();
}

} // namespace guidepin::plant
