// SPDX-License-Identifier: Apache-2.0
// Why something that all readings rest on is taken or not: a reference, a cord check.
// Verified by: tests/unit/verdict/reference.cpp, tests/unit/verdict/cord_check.cpp.
#pragma once

#include "facts/tables.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::verdict {

enum class Acceptance : std::uint8_t { accepted, accepted_with_remarks, refused };
/// "accepted", "accepted with remarks", "refused"
char const* name_of(Acceptance acceptance);

enum class Severity : std::uint8_t { remark, refuse };

struct Reason
{
    std::string id; ///< stable: "reference.power-low"
    Severity severity = Severity::remark;
    std::string text;                  ///< what, with value and limit
    std::string what_to_do;            ///< one instruction
    std::string fact;                  ///< id of the value that decided; empty where none did
    std::optional<facts::Basis> basis; ///< how that value is known; none without a value
};

/// Refused when one reason refuses, with remarks when there is any, else accepted.
Acceptance acceptance_of(std::span<Reason const> reasons);

/// The fact, or not_found with its id: a table that was edited may lack it.
Result<facts::Fact const*> needed_fact(facts::Tables const& tables, std::string_view id);

/// Room for the rounding of a difference of two decimal numbers, in dB, h or m: a value that stands on its
/// limit is within it.
constexpr double rounding = 1e-9;

} // namespace guidepin::verdict
