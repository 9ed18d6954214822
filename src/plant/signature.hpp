// SPDX-License-Identifier: Apache-2.0
// Names the known patterns of wrong maps: what each fits and what to look at first. The class of a map gives
// a parity, never a place: if several parts could be wrong, all are named and none is accused. Verified by:
// tests/oracle/plant/signatures.cpp (each pattern made by putting the named fault into a chain).
#pragma once

#include "plant/fibre_map.hpp"
#include "plant/ports.hpp"

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::plant {

enum class SignatureKind : std::uint8_t {
    wrong_test_cord,
    wrong_adapter,
    wrong_trunk_type,
    turned_key,
    crossed_pair,
    crossed_fibres,
    shifted_row,
    swapped_blocks,
    swapped_rows,
    one_leg_wrong,
    base_8_population,
    occupancy_differs,
    dark_fibres,
    extra_fibres,
    all_dark,
};
constexpr std::size_t signature_kinds = 15;

struct Signature
{
    SignatureKind kind = SignatureKind::crossed_fibres;
    std::string cause;           ///< what it fits, a whole sentence
    std::string check;           ///< what to look at, a whole sentence
    std::vector<int> positions;  ///< near positions; empty means all
    bool one_of_several = false; ///< other signatures of the same list explain the same reading as well
};

/// Returns the signatures of `measured` (test cords taken out) against `expected`, both in the numbering of
/// one link of `family`; empty if they are equal.
std::vector<Signature> signature_of(Family const& family, PositionMap const& expected,
                                    PositionMap const& measured);

} // namespace guidepin::plant
