// SPDX-License-Identifier: Apache-2.0
// What a wrong map looks like, in words: the patterns that are known, what they fit, and what to look at
// first. A class reading gives a parity, never a place: where several parts could be wrong, all are named and
// none is accused. Verified by: tests/oracle/plant/signatures.cpp (each pattern made by putting the named
// fault into a chain).
#pragma once

#include "plant/fibre_map.hpp"
#include "plant/ports.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace guidepin::plant {

enum class SignatureKind {
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
    even_swaps,
    pair_order,
};
/// Returns the name with hyphens, such as "wrong-test-cord".
std::string_view name_of(SignatureKind kind);

struct Signature
{
    SignatureKind kind;
    std::string cause;           ///< what it fits, a whole sentence
    std::string check;           ///< what to look at, a whole sentence
    std::vector<int> positions;  ///< near positions (pairs for duplex signatures); empty means all
    bool one_of_several = false; ///< other signatures of the same list explain the same reading as well
};

/// Signatures of `measured` (test cords taken out) against `expected`, both in the numbering of one link of
/// `family`. Empty when they are equal.
std::vector<Signature> signature_of(Family const& family, PositionMap const& expected,
                                    PositionMap const& measured);

/// Signatures of duplex pairs that do not land on the receiver of the same pair. Empty when all do.
std::vector<Signature> duplex_signature_of(std::vector<DuplexOutcome> const& outcomes);

} // namespace guidepin::plant
