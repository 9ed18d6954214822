// SPDX-License-Identifier: Apache-2.0
// What a connector end is, and whether two of them may be mated.
// Numbers and rules: docs/methods/mating-and-maps.md#mating (IEC 61754-7, TIA-604-5, TIA-604-18, TIA-568.3).
// Verified by: tests/unit/plant, tests/oracle/plant (published numbering, rotation of rigid bodies).
#pragma once

#include "base/result.hpp"

#include <bitset>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::plant {

/// The ferrule: which mating family, how many rows, how many columns.
/// mpo-12: 12 columns, centre key, 0.70 mm pins (8 and 12 fibres); mpo-24: its two-row form;
/// mpo-16: 16 columns, offset key, 0.55 mm pins; mpo-32: its two-row form; duplex: a row of LC ports of a
/// module.
struct Family
{
    enum class Key { mpo12, mpo16, duplex };
    Key key = Key::mpo12;
    int rows = 1;
    int columns = 12;

    int positions() const { return rows * columns; }
    std::string name() const; ///< "mpo-12", "mpo-24", "mpo-16", "mpo-32", "duplex-12"
    friend bool operator==(Family const&, Family const&) = default;
};
Result<Family> parse_family(std::string_view text);
/// The family as the trade writes it: "MPO-12", "12 LC ports".
std::string words_of(Family const& family);

constexpr int max_positions = 64;
/// Bit p-1 is position p. Occupancy is always a set of grid positions, never a count ("8 fibres" is
/// ambiguous).
using Occupancy = std::bitset<max_positions>;

/// "12", "1-12", "1-4,9-12", "8" = "8-outer" (1-4, 9-12), "8-centred" (3-10), "10-centred", "24", "16", "all"
/// … for this family. A bare number that may be a count (2, 4, 8, …) is a count or refused; position 8 alone
/// is "8-8".
Result<Occupancy> parse_occupancy(std::string_view text, Family const& family);
std::string
occupancy_text(Occupancy const& occupied); ///< "1-4,9-12"; reads back through parse_occupancy; "" for none
std::vector<int> positions_of(Occupancy const& occupied);

enum class Pins : std::uint8_t {
    pinned,
    unpinned,
    neutral
}; ///< neutral only for a non-contacting meter port
enum class Face : std::uint8_t { flat, angled };
enum class Slope : std::int8_t {
    none = 0,
    down = 1,
    up = -1
}; ///< of an angled face against its key; down is the ordinary plug
enum class KeyRelation : std::uint8_t { opposed, aligned }; ///< of an adapter, or of plug to fixed port
enum class EndKind : std::uint8_t { plug, port };

char const* name_of(Pins pins);                 ///< "pinned", "unpinned", "neutral"
char const* name_of(Face face);                 ///< "flat", "angled"
char const* name_of(Slope slope);               ///< "none", "down", "up"
char const* name_of(KeyRelation keys);          ///< "opposed", "aligned"
Result<Pins> parse_pins(std::string_view text); ///< also "p"/"u"/"n"
Result<Face> parse_face(std::string_view text);
Result<KeyRelation> parse_key_relation(std::string_view text);
constexpr Pins complement(Pins pins)
{
    return pins == Pins::pinned ? Pins::unpinned : pins == Pins::unpinned ? Pins::pinned : Pins::neutral;
}

struct ConnectorEnd
{
    Family family;
    Occupancy occupied;
    Pins pins = Pins::unpinned;
    Face face = Face::flat;
    Slope slope = Slope::none; ///< none exactly when the face is flat
    EndKind kind = EndKind::plug;
    friend bool operator==(ConnectorEnd const&, ConnectorEnd const&) = default;
};

enum class MateFault : std::uint8_t {
    no_adapter,   ///< two plugs without an adapter, or port with port
    wrong_family, ///< 12 against 16 family: refuse
    pins_both,    ///< pinned to pinned: must not be attempted
    pins_none,    ///< unpinned to unpinned: latches, not a valid optical joint
    face_mixed,   ///< flat against angled: refuse
    slope,        ///< angled with the wrong slopes for these keys: refuse
    rows_differ,  ///< mates, no light
    partial,      ///< only some positions see light
};
char const* name_of(MateFault fault); ///< "no-adapter", "wrong-family", "pins-both", …

/// Every fault that applies, worst first (the order above); empty means ok.
struct MateVerdict
{
    std::vector<MateFault> faults;
    std::vector<int> lit;  ///< positions of the first end that meet a fibre
    std::vector<int> dark; ///< occupied positions of the first end that meet none
    bool ok() const { return faults.empty(); }
    /// May the joint be made at all? False for no-adapter, wrong-family, pins-both, face-mixed, slope.
    bool may_be_attempted() const;
    /// Does it carry light as intended (ok, or partial only)?
    bool valid_optical_joint() const;
    std::string text() const; ///< "ok", or the faults in words
};

/// How two ends come together: through an adapter, or a plug into a fixed port (its key relation is the
/// port's).
MateVerdict mate(ConnectorEnd const& first, ConnectorEnd const& second, std::optional<KeyRelation> keys);

/// The position of the second end that position `p` of the first meets, both of `family`, 1-based.
int met_position(Family const& family, KeyRelation keys, int p);

} // namespace guidepin::plant
