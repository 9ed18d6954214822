// SPDX-License-Identifier: Apache-2.0
#include "plant/connector.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace guidepin::plant {

namespace {

Occupancy run_of(int first, int last)
{
    Occupancy set;
    for (int p = first; p <= last; ++p) set.set(static_cast<std::size_t>(p - 1));
    return set;
}

/// The same holes in each row: `columns` of them, centred in the row.
Occupancy centred(Family const& family, int columns)
{
    Occupancy set;
    int const first = (family.columns - columns) / 2 + 1;
    for (int row = 0; row < family.rows; ++row) {
        set |= run_of(row * family.columns + first, row * family.columns + first + columns - 1);
    }
    return set;
}

struct NamedOccupancy
{
    std::string name;
    Occupancy occupied;
};

/// IEC 61754-7 and TIA-604-5 for the centred ones; the outer eight of a 12-hole ferrule are trade practice.
std::vector<NamedOccupancy> named_occupancies(Family const& family)
{
    std::vector<NamedOccupancy> named;
    auto const add = [&named](std::string name, Occupancy const& occupied) {
        named.push_back(NamedOccupancy{std::move(name), occupied});
    };
    add(std::to_string(family.positions()), run_of(1, family.positions()));
    add("all", run_of(1, family.positions()));
    if (family.key == Family::Key::mpo12 && family.columns == 12) {
        if (family.rows == 1) {
            Occupancy const outer = run_of(1, 4) | run_of(9, 12);
            add("8", outer);
            add("8-outer", outer);
            add("8-centred", centred(family, 8));
            add("10", centred(family, 10));
            add("10-centred", centred(family, 10));
            add("4-centred", centred(family, 4));
            add("2-centred", centred(family, 2));
        } else {
            add("20", centred(family, 10));
            add("20-centred", centred(family, 10));
            add("16-centred", centred(family, 8));
        }
    }
    return named;
}

bool is_bare_count(int n)
{
    static constexpr std::array counts{2, 4, 8, 10, 12, 16, 20, 24, 32};
    return std::find(counts.begin(), counts.end(), n) != counts.end();
}

Error bad_occupancy(std::string_view text, Family const& family, std::string const& why)
{
    std::vector<std::string> names;
    for (NamedOccupancy const& named : named_occupancies(family)) names.push_back(named.name);
    return Error{Errc::invalid_input,
                 fmt::format("Fibres '{}': {}. For {} write {}, or a list of positions such as '1-4,9-12'.",
                             text, why, words_of(family), joined(names, ", "))};
}

template <class Enum>
struct NamedValue
{
    Enum value;
    char const* name;
    char const* short_name;
};

template <class Enum, std::size_t count>
Result<Enum> parse_named(std::string_view what, std::string_view text,
                         std::array<NamedValue<Enum>, count> const& values)
{
    std::string const wanted = lowered(trimmed(text));
    std::vector<std::string> names;
    for (NamedValue<Enum> const& row : values) {
        if (wanted == row.name || wanted == row.short_name) return row.value;
        names.push_back(row.name);
    }
    return Error{Errc::invalid_input,
                 fmt::format("{} '{}' is not one of {}.", what, text, joined(names, ", "))};
}

constexpr std::array pin_names{
    NamedValue<Pins>{Pins::pinned, "pinned", "p"},
    NamedValue<Pins>{Pins::unpinned, "unpinned", "u"},
    NamedValue<Pins>{Pins::neutral, "neutral", "n"},
};
constexpr std::array face_names{
    NamedValue<Face>{Face::flat, "flat", "pc"},
    NamedValue<Face>{Face::angled, "angled", "apc"},
};
constexpr std::array key_names{
    NamedValue<KeyRelation>{KeyRelation::opposed, "opposed", "a"},
    NamedValue<KeyRelation>{KeyRelation::aligned, "aligned", "b"},
};

bool has(MateVerdict const& verdict, MateFault fault)
{
    return std::find(verdict.faults.begin(), verdict.faults.end(), fault) != verdict.faults.end();
}

/// An angled face without a stated slope is the ordinary one, key up.
int slope_sign(ConnectorEnd const& end)
{
    return end.slope == Slope::up ? -1 : 1;
}

char const* sentence(MateFault fault)
{
    switch (fault) {
    case MateFault::no_adapter:
        return "no adapter between them";
    case MateFault::wrong_family:
        return "connectors of two families do not go together";
    case MateFault::pins_both:
        return "pins on both sides: do not push, pins bend and ferrules crack";
    case MateFault::pins_none:
        return "pins on neither side: it latches, but nothing aligns the fibres";
    case MateFault::face_mixed:
        return "flat face against angled face";
    case MateFault::slope:
        return "the slopes of the two angled faces leave a wedge";
    case MateFault::rows_differ:
        return "one row against two rows: it mates, no light";
    case MateFault::partial:
        return "only some positions meet a fibre";
    }
    return "";
}

} // namespace

std::string Family::name() const
{
    if (key == Key::duplex) return fmt::format("duplex-{}", positions());
    return fmt::format("mpo-{}", positions());
}

std::string words_of(Family const& family)
{
    if (family.key == Family::Key::duplex) return fmt::format("{} LC ports", family.positions());
    return fmt::format("MPO-{}", family.positions());
}

Result<Family> parse_family(std::string_view text)
{
    std::string const wanted = lowered(trimmed(text));
    static std::vector<std::string> const known{"mpo-12",   "mpo-24",    "mpo-16",   "mpo-32",
                                                "duplex-2", "duplex-12", "duplex-24"};
    if (wanted == "mpo-12") return Family{Family::Key::mpo12, 1, 12};
    if (wanted == "mpo-24") return Family{Family::Key::mpo12, 2, 12};
    if (wanted == "mpo-16") return Family{Family::Key::mpo16, 1, 16};
    if (wanted == "mpo-32") return Family{Family::Key::mpo16, 2, 16};
    if (wanted == "duplex") return Family{Family::Key::duplex, 1, 2};
    if (wanted.starts_with("duplex-")) {
        auto const count = parse_integer(std::string_view{wanted}.substr(7));
        if (count && *count >= 2 && *count <= max_positions && *count % 2 == 0) {
            return Family{Family::Key::duplex, 1, static_cast<int>(*count)};
        }
        return Error{
            Errc::invalid_input,
            fmt::format("Connector family '{}': duplex takes an even number of ports from 2 to {}, as in "
                        "duplex-12.",
                        text, max_positions)};
    }
    if (wanted == "mpo-8") {
        return Error{
            Errc::invalid_input,
            "Connector family 'mpo-8': eight fibres sit in a 12-hole ferrule. Write mpo-12, and the fibres "
            "as 8-outer or 8-centred."};
    }
    return Error{Errc::invalid_input,
                 fmt::format("Connector family '{}' is not one of mpo-12, mpo-24, mpo-16, mpo-32, duplex-N{}",
                             text, did_you_mean(wanted, known))};
}

Result<Occupancy> parse_occupancy(std::string_view text, Family const& family)
{
    std::string const wanted = lowered(trimmed(text));
    for (NamedOccupancy const& named : named_occupancies(family)) {
        if (wanted == named.name) return named.occupied;
    }
    auto const number = parse_integer(wanted);
    if (number && is_bare_count(static_cast<int>(std::clamp<std::int64_t>(*number, 0, 1000)))) {
        return bad_occupancy(
            text, family,
            fmt::format("a bare number may be a count or a position (for position {0} alone write "
                        "'{0}-{0}')",
                        *number));
    }
    Occupancy occupied;
    for (std::string_view part : split(wanted, ',')) {
        part = trimmed(part);
        std::size_t const dash = part.find('-');
        auto const first = parse_integer(trimmed(part.substr(0, dash)));
        auto const last =
            dash == std::string_view::npos ? first : parse_integer(trimmed(part.substr(dash + 1)));
        if (!first || !last)
            return bad_occupancy(text, family, fmt::format("'{}' is no position or range", part));
        if (*first > *last) return bad_occupancy(text, family, fmt::format("'{}' runs backwards", part));
        if (*first < 1 || *last > family.positions()) {
            return bad_occupancy(text, family,
                                 fmt::format("'{}' is outside positions 1 to {}", part, family.positions()));
        }
        occupied |= run_of(static_cast<int>(*first), static_cast<int>(*last));
    }
    return occupied;
}

std::vector<int> positions_of(Occupancy const& occupied)
{
    std::vector<int> positions;
    positions.reserve(occupied.count());
    for (int p = 1; p <= max_positions; ++p) {
        if (occupied.test(static_cast<std::size_t>(p - 1))) positions.push_back(p);
    }
    return positions;
}

std::string occupancy_text(Occupancy const& occupied)
{
    std::vector<std::string> runs;
    int p = 1;
    auto const filled = [&occupied](int q) {
        return q <= max_positions && occupied.test(static_cast<std::size_t>(q - 1));
    };
    while (p <= max_positions) {
        if (!filled(p)) {
            ++p;
            continue;
        }
        int last = p;
        while (filled(last + 1)) ++last;
        runs.push_back(last == p ? std::to_string(p) : fmt::format("{}-{}", p, last));
        p = last + 1;
    }
    // A lone position is written as a range: as a number alone it could be read as a count of fibres or
    // ports.
    if (occupied.count() == 1) {
        int const only = positions_of(occupied).front();
        return fmt::format("{0}-{0}", only);
    }
    return joined(runs, ",");
}

char const* name_of(Pins pins)
{
    for (auto const& row : pin_names) {
        if (row.value == pins) return row.name;
    }
    return "";
}

char const* name_of(Face face)
{
    return face == Face::flat ? "flat" : "angled";
}

char const* name_of(Slope slope)
{
    return slope == Slope::none ? "none" : slope == Slope::down ? "down" : "up";
}

char const* name_of(KeyRelation keys)
{
    return keys == KeyRelation::opposed ? "opposed" : "aligned";
}

Result<Pins> parse_pins(std::string_view text)
{
    return parse_named("Pins", text, pin_names);
}

Result<Face> parse_face(std::string_view text)
{
    return parse_named("End face", text, face_names);
}

Result<KeyRelation> parse_key_relation(std::string_view text)
{
    return parse_named("Key relation", text, key_names);
}

char const* name_of(MateFault fault)
{
    switch (fault) {
    case MateFault::no_adapter:
        return "no-adapter";
    case MateFault::wrong_family:
        return "wrong-family";
    case MateFault::pins_both:
        return "pins-both";
    case MateFault::pins_none:
        return "pins-none";
    case MateFault::face_mixed:
        return "face-mixed";
    case MateFault::slope:
        return "slope";
    case MateFault::rows_differ:
        return "rows-differ";
    case MateFault::partial:
        return "partial";
    }
    return "";
}

bool MateVerdict::may_be_attempted() const
{
    for (MateFault const fault : {MateFault::no_adapter, MateFault::wrong_family, MateFault::pins_both,
                                  MateFault::face_mixed, MateFault::slope}) {
        if (has(*this, fault)) return false;
    }
    return true;
}

bool MateVerdict::valid_optical_joint() const
{
    for (MateFault const fault : faults) {
        if (fault != MateFault::partial) return false;
    }
    return faults.empty() || !lit.empty();
}

std::string MateVerdict::text() const
{
    if (faults.empty()) return "ok";
    std::vector<std::string> parts;
    for (MateFault const fault : faults) {
        std::string part = sentence(fault);
        if (fault == MateFault::partial) {
            Occupancy lit_set;
            for (int const p : lit) lit_set.set(static_cast<std::size_t>(p - 1));
            part += fmt::format(" (lit {})", lit.empty() ? "none" : occupancy_text(lit_set));
        }
        parts.push_back(std::move(part));
    }
    return joined(parts, "; ");
}

MateVerdict mate(ConnectorEnd const& first, ConnectorEnd const& second, std::optional<KeyRelation> keys)
{
    MateVerdict verdict;
    bool const both_ports = first.kind == EndKind::port && second.kind == EndKind::port;
    bool const same_family = first.family.key == second.family.key;
    bool const array = first.family.key != Family::Key::duplex && second.family.key != Family::Key::duplex;
    bool const same_rows = first.family.rows == second.family.rows;

    if (!keys || both_ports) verdict.faults.push_back(MateFault::no_adapter);
    if (!same_family) verdict.faults.push_back(MateFault::wrong_family);
    if (array) { // a duplex ferrule has neither pins nor, here, a slope against its key
        if (first.pins == Pins::pinned && second.pins == Pins::pinned) {
            verdict.faults.push_back(MateFault::pins_both);
        }
        if (first.pins == Pins::unpinned && second.pins == Pins::unpinned) {
            verdict.faults.push_back(MateFault::pins_none);
        }
    }
    if (first.face != second.face) verdict.faults.push_back(MateFault::face_mixed);
    if (array && keys && first.face == Face::angled && second.face == Face::angled) {
        bool const equal = slope_sign(first) == slope_sign(second);
        if (equal != (*keys == KeyRelation::opposed)) verdict.faults.push_back(MateFault::slope);
    }
    if (same_family && !same_rows) verdict.faults.push_back(MateFault::rows_differ);

    bool const meets = keys && !both_ports && same_family && same_rows;
    bool second_all_met = true;
    Occupancy met;
    for (int const p : positions_of(first.occupied)) {
        int const q = meets && p <= first.family.positions() ? met_position(first.family, *keys, p) : 0;
        if (q >= 1 && q <= second.family.positions() &&
            second.occupied.test(static_cast<std::size_t>(q - 1))) {
            verdict.lit.push_back(p);
            met.set(static_cast<std::size_t>(q - 1));
        } else {
            verdict.dark.push_back(p);
        }
    }
    second_all_met = met == second.occupied;
    if (meets && (!verdict.dark.empty() || !second_all_met)) verdict.faults.push_back(MateFault::partial);
    return verdict;
}

int met_position(Family const& family, KeyRelation keys, int p)
{
    if (family.key == Family::Key::duplex) return p;
    int const n = family.columns;
    int const row = (p - 1) / n;
    int const column = (p - 1) % n;
    // With x to the right and y towards the key, seen on each face: aligned keys let (x, y) meet (-x, y),
    // opposed keys let (x, y) meet (x, -y).
    if (keys == KeyRelation::opposed) return (family.rows - 1 - row) * n + column + 1;
    return row * n + (n - 1 - column) + 1;
}

} // namespace guidepin::plant
