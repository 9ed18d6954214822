// SPDX-License-Identifier: Apache-2.0
// What is wrong, in our vocabulary, and what a finding says about it. Ids are stable: JSON and
// acknowledgements contain them. Verified by: tests/unit/cause/finding.cpp.
#pragma once

#include "units/quantity.hpp"

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::cause {

enum class Cause : std::uint8_t {
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
    unexplained,
    contradicting_records, ///< no fault of the cabling: the job's own records do not fit together
};
constexpr std::size_t cause_count = 23;

char const* id_of(Cause cause); ///< "dirty-or-damaged-end-face", …, "unexplained"
/// For people: "dirty or damaged end face".
std::string name_of(Cause cause);

/// Another explanation of the same readings, and how probable it is.
struct Alternative
{
    Cause cause = Cause::unexplained;
    double probability = 0;
};

struct Finding
{
    std::string id; ///< the same for the same fault, whatever its size: for acknowledgements
    Cause cause = Cause::unexplained;
    std::vector<std::uint32_t> links;       ///< in order of measurement
    std::vector<int> positions;             ///< at A, or of the test cord's plug; empty: all
    std::vector<std::uint16_t> wavelengths; ///< at which it shows; empty: none in particular
    std::optional<std::int64_t> since_ms;   ///< first reading that shows it
    std::optional<Decibel> size, size_u;    ///< loss added (negative: taken away), standard uncertainty
    double probability = 0;
    std::uint32_t reference = 0xffffffff; ///< of faults of a reference or a test cord
    std::string subject;  ///< what it is about, where that is no link and no measured reference
    std::string evidence; ///< one sentence with numbers
    std::vector<Alternative> alternatives; ///< most probable first
    std::string action;                    ///< what to do first
};

/// Returns what to do about a cause first, as a sentence without its full stop. `where`: "position 7 at end
/// B", "" for the link.
std::string action_for(Cause cause, std::string const& where);
/// Returns the cause whose action comes first: its outcome settles most per minute of work (expected
/// information), with a preference for an action that also cures.
Cause cause_to_check_first(Finding const& finding);

} // namespace guidepin::cause
