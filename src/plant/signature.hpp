// SPDX-License-Identifier: Apache-2.0
// What a wrong map looks like, in words: the patterns that are known, what they fit, and what to look at
// first. A class reading gives a parity, never a place: where several parts could be wrong, all are named and
// none is accused. Verified by: tests/oracle/plant/signatures.cpp (each pattern made by putting the named
// fault into a chain).
#pragma once

#include "plant/fibre_map.hpp"
#include "plant/ports.hpp"

#include <string>
#include <vector>

namespace guidepin::plant {

struct Signature
{
    /// "wrong-test-cord", "wrong-adapter", "wrong-trunk-type", "turned-key", "crossed-pair",
    /// "crossed-fibres", "shifted-row", "swapped-blocks", "swapped-rows", "one-leg-wrong",
    /// "base-8-population", "occupancy-differs", "dark-fibres", "extra-fibres", "all-dark", "even-swaps",
    /// "pair-order".
    std::string id;
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
