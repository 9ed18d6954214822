// SPDX-License-Identifier: Apache-2.0
// Faults that a simulated site can have, by the names under which findings speak of them.
// Verified by: tests/unit/simulate/site.cpp.
#pragma once

#include "base/result.hpp"

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::simulate {

enum class Fault : std::uint8_t {
    dirty_end_face,
    macrobend,
    misaligned_ferrule,
    unpinned_joint,
    face_mismatch,
    broken_fibre,
    extra_connection,
    core_size_mismatch,
    reference_fault,
    reference_drift,
    test_cord_position,
    wrong_trunk_type,
    wrong_adapter,
    wrong_test_cord,
    crossed_fibres,
    shifted_row,
    swapped_blocks,
    swapped_rows,
    length_mismatch,
    mislabelled_link,
    copied_measurement,
};
constexpr std::size_t fault_count = 21;

char const* id_of(Fault fault); ///< "dirty-or-damaged-end-face", "macrobend", …
std::optional<Fault> parse_fault(std::string_view id);
/// Has a size in dB that may be chosen.
bool has_strength(Fault fault);

/// So many faults of one kind.
struct Wish
{
    Fault fault = Fault::dirty_end_face;
    int count = 1;
    std::optional<double> strength_db; ///< none: drawn from the fault's usual range
};

/// "macrobend:3@0.5,wrong-adapter" : three of 0.5 dB and one; "all" is one of each, "all:4" four of each,
/// "none" nothing. Errors: usage, naming the nearest fault.
Result<std::vector<Wish>> parse_wishes(std::string_view text);

} // namespace guidepin::simulate
