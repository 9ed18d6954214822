// SPDX-License-Identifier: Apache-2.0
// What a link is allowed to lose, line by line:
//   limit = length * coefficient + N_end * A_end - N_ref * A_ref + N_inner * A_conn + N_splice * A_splice
// The joints that the reference contained are taken out at what such a joint is allowed, by the grade of
// the test cords. A rule set that counts connections only (simple_count) allows (N_end - N_ref) * A_end for
// the ends instead. Method: docs/methods/limits.md.
//
// Verified by: tests/oracle/loss/limits.cpp (published budgets, computed cells of each rule set, the three
// methods), tests/unit/loss/limit.cpp (lines add up to the total to the last bit, monotone, messages).
#pragma once

#include "base/result.hpp"
#include "facts/tables.hpp"
#include "setup/method.hpp"
#include "units/quantity.hpp"

#include <string>
#include <vector>

namespace guidepin::loss {

struct LimitQuestion
{
    facts::RuleSet const* rules = nullptr;
    /// Its id is looked up in the rule set; its kind picks the connection values.
    facts::FibreCategory const* category = nullptr;
    Nanometres wavelength{850};
    Metres length; ///< of the cabling under test, 0 to 200 km
    int ends = 2;  ///< end connections in the light path during the test, 0 to 2
    setup::ReferenceMethod method = setup::ReferenceMethod::one_cord;
    facts::CordGrade cords = facts::CordGrade::reference;
    int inner = 0;   ///< connections inside the link, 0 to 1000
    int splices = 0; ///< 0 to 1000
};

struct LimitLine
{
    std::string what; ///< "Cable, OM4 at 850 nm", "End connections" …
    double count = 0; ///< kilometres for the cable; negative for joints taken out with the reference
    std::string unit; ///< of `each`: "dB/km" or "dB"
    double each = 0;
    Decibel loss;     ///< count * each
    std::string fact; ///< id of the value in the tables
    facts::Source source;
    facts::Basis basis = facts::Basis::memory;
    std::string note;
};

struct Limit
{
    Decibel total;
    std::vector<LimitLine>
        lines; ///< in the order of the formula; terms with a count of 0 are left out, the cable never
    bool rests_on_memory = false; ///< true when a line with a count other than 0 has basis memory
};

/// The limit with its arithmetic. not_found when the rule set has no value for this fibre, wavelength or cord
/// grade; usage for counts or lengths outside their range; refused when more is taken out than there is.
Result<Limit> limit(LimitQuestion const& question);

/// The number alone, bit for bit the same total; allocates nothing unless it fails.
Result<Decibel> limit_value(LimitQuestion const& question);

} // namespace guidepin::loss
