// SPDX-License-Identifier: Apache-2.0
#include "plant/presets.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

namespace guidepin::plant {

namespace {

/// A map on all positions of the family from a formula.
template <class Formula>
PositionMap tabulated(int positions, Formula const& formula)
{
    PositionMap map;
    for (int p = 1; p <= positions; ++p) map.connect(p, formula(p));
    return map;
}

int pair_partner(int p)
{
    return p % 2 == 1 ? p + 1 : p - 1;
}

Error unknown_type(std::string_view what, std::string_view type, Family const& family,
                   std::vector<std::string> const& known)
{
    return Error{Errc::invalid_input, fmt::format("{} '{}' is not one of {} for {}{}", what, type,
                                                  known.empty() ? "(none)" : joined(known, ", "),
                                                  words_of(family), did_you_mean(type, known))};
}

/// The known name that equals `type` apart from case, or "".
std::string matched(std::string_view type, std::vector<std::string> const& known)
{
    std::string const wanted = lowered(trimmed(type));
    for (std::string const& name : known) {
        if (lowered(name) == wanted) return name;
    }
    return "";
}

/// From a list of pairs (half A, half B) to plug position -> LC port; LC ports 1, 2 are the first pair.
PositionMap from_pairs(std::vector<std::pair<int, int>> const& pairs)
{
    PositionMap map;
    int port = 1;
    for (auto const& pair : pairs) {
        map.connect(pair.first, port++);
        map.connect(pair.second, port++);
    }
    return map;
}

std::vector<std::pair<int, int>> universal_pairs(Family const& family, bool ribbon_straight)
{
    std::vector<std::pair<int, int>> pairs;
    if (ribbon_straight) {
        for (int row = 0; row < family.rows; ++row) {
            int const first = row * family.columns;
            for (int i = 1; 2 * i <= family.columns; ++i) {
                pairs.emplace_back(first + i, first + family.columns + 1 - i);
            }
        }
    } else {
        for (int i = 1; 2 * i <= family.positions(); ++i) pairs.emplace_back(i, family.positions() + 1 - i);
    }
    return pairs;
}

} // namespace

Occupancy all_positions(Family const& family)
{
    Occupancy set;
    for (int p = 1; p <= family.positions() && p <= max_positions; ++p)
        set.set(static_cast<std::size_t>(p - 1));
    return set;
}

std::vector<std::string> cable_types(Family const& family)
{
    if (family.key == Family::Key::duplex) return {};
    if (family.rows == 1) return {"A", "B", "C", "RW"};
    return {"I-A", "I-B", "II-A", "II-B", "C"};
}

bool turns_key(std::string_view type)
{
    return type == "A" || type == "C" || type == "I-A" || type == "II-A";
}

Result<PositionMap> cable_map(std::string_view type, Family const& family)
{
    int const n = family.positions();
    int const columns = family.columns;
    std::string const name = matched(type, cable_types(family));
    if (name == "A" || name == "I-A") return tabulated(n, [](int p) { return p; });
    if (name == "B" || name == "I-B") return tabulated(n, [n](int p) { return n + 1 - p; });
    if (name == "C") return tabulated(n, pair_partner);
    if (name == "RW") return tabulated(n, [n](int p) { return n + 1 - pair_partner(p); });
    if (name == "II-A") return adapter_map(KeyRelation::opposed, family);
    if (name == "II-B") return adapter_map(KeyRelation::aligned, family);
    std::string const wanted = lowered(trimmed(type));
    if (family.rows == 2 && (wanted == "a" || wanted == "b")) {
        std::string const letter = wanted == "a" ? "A" : "B";
        return Error{
            Errc::invalid_input,
            fmt::format("Cable type '{0}' says too little for {1}: two families of two-row maps are in use. "
                        "Write I-{0} (position 1 meets {2}), II-{0} (position 1 meets {3}), or give the "
                        "map as a file.",
                        letter, words_of(family), letter == "A" ? 1 : n,
                        letter == "A" ? columns + 1 : columns)};
    }
    return unknown_type("Cable type", type, family, cable_types(family));
}

PositionMap adapter_map(KeyRelation keys, Family const& family)
{
    return tabulated(family.positions(), [&](int p) { return met_position(family, keys, p); });
}

PositionMap key_turn_map(Family const& family)
{
    int const n = family.positions();
    return tabulated(n, [n](int p) { return n + 1 - p; });
}

std::vector<std::string> module_types(Family const& family)
{
    if (family.key == Family::Key::duplex) return {};
    std::vector<std::string> types{"straight", "U1", "U2"};
    if (family.key == Family::Key::mpo12 && family.rows == 1) {
        types.insert(types.end(), {"straight-8", "U1-8", "U2-8"});
    }
    if (family.rows == 2) types.insert(types.end(), {"U1-II", "U2-II"});
    return types;
}

Result<PositionMap> module_map(std::string_view type, Family const& family)
{
    std::string const name = matched(type, module_types(family));
    if (name.empty()) return unknown_type("Module", type, family, module_types(family));
    if (name == "straight") return PositionMap::identity(all_positions(family));
    if (name == "straight-8") return from_pairs({{1, 2}, {3, 4}, {9, 10}, {11, 12}});
    bool const ribbon_straight = name.ends_with("-II");
    std::vector<std::pair<int, int>> pairs = universal_pairs(family, ribbon_straight);
    if (name.ends_with("-8")) pairs.resize(4);
    if (name.starts_with("U2")) {
        for (auto& pair : pairs) std::swap(pair.first, pair.second);
    }
    return from_pairs(pairs);
}

KeyRelation usual_adapter(std::string_view module_type)
{
    return lowered(trimmed(module_type)).starts_with("u2") ? KeyRelation::aligned : KeyRelation::opposed;
}

std::vector<std::string> harness_types(Family const& family)
{
    if (family.key == Family::Key::duplex) return {};
    std::vector<std::string> types{"straight", "breakout-4"};
    if (family.positions() >= 16) types.push_back("breakout-8");
    return types;
}

Result<PositionMap> harness_map(std::string_view type, Family const& family)
{
    std::string const name = matched(type, harness_types(family));
    if (name.empty()) return unknown_type("Harness", type, family, harness_types(family));
    if (name == "straight") return PositionMap::identity(all_positions(family));
    std::vector<std::pair<int, int>> pairs = universal_pairs(family, false);
    pairs.resize(name == "breakout-4" ? 4 : 8);
    return from_pairs(pairs);
}

Result<PositionMap> duplex_cord_map(std::string_view type, int ports)
{
    static std::vector<std::string> const known{"A-to-B", "A-to-A"};
    std::string const name = matched(type, known);
    Family const family{Family::Key::duplex, 1, ports};
    if (name == "A-to-B") return tabulated(ports, pair_partner);
    if (name == "A-to-A") return PositionMap::identity(all_positions(family));
    return unknown_type("Duplex cord", type, family, known);
}

} // namespace guidepin::plant
