// SPDX-License-Identifier: Apache-2.0
// A person has seen a finding and says why it may stay. It stays in every list, with name and time;
// it asks again when its evidence is no longer what was seen. Bodies: docs/formats/record-bodies.md, when
// evidence counts as changed: docs/methods/audit.md. Verified by: tests/unit/job/findings.cpp (round trips;
// each way in which evidence changes).
#pragma once

#include "base/result.hpp"
#include "units/instant.hpp"
#include "units/quantity.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

/// What a finding rested on, as far as a person judged by it.
struct Evidence
{
    std::string cause;
    std::vector<std::string> links; ///< by name
    std::vector<int> positions;     ///< ascending
    std::optional<Decibel> size, size_u;
    int likelihood = 0; ///< 0: below 50 %, 1: 50 to 90 %, 2: 90 % and more

    static int class_of(double probability);
};

/// Returns in words what changed; empty if nothing did. Noise changes nothing: a size has to move by
/// more than twice the uncertainty of the difference, and a finding that only became less likely was seen
/// already.
std::vector<std::string> changes_of(Evidence const& seen, Evidence const& now);

struct Acknowledgement
{
    std::string finding; ///< its id
    bool stands = true;  ///< false: takes the acknowledgement back
    std::string reason;
    Evidence evidence;
    Instant at;         ///< of the record; not in the body
    std::string person; ///< of the record
};
constexpr std::size_t longest_reason = 2000; ///< bytes

/// invalid_input for an empty or too long reason.
Result<std::string> acknowledgement_body(Acknowledgement const& acknowledged);
Result<Acknowledgement> acknowledgement_of(std::string_view body);

} // namespace guidepin::job
