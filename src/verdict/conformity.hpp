// SPDX-License-Identifier: Apache-2.0
// From a measured value, its uncertainty and a limit to a decision, after JCGM 106:2012 (ISO/IEC Guide 98-4).
// Which rule gives which word: docs/methods/verdict.md#decision-rules.
// Verified by: tests/oracle/verdict/conformity.cpp (JCGM 106 7.3.3, 7.4, 8.3.3; scipy 1.10),
// tests/unit/verdict/conformity.cpp (rules against each other, monotone).
#pragma once

#include "units/quantity.hpp"

#include <cstdint>
#include <limits>
#include <optional>
#include <string_view>

namespace guidepin::verdict {

double normal_cdf(double z);
/// z with Phi(z) = p, for 0 < p < 1. A guard band of z u accepts only what conforms with probability p or
/// more.
double normal_quantile(double p);

constexpr double no_bound = std::numeric_limits<double>::infinity();

/// Values from `lower` to `upper`, both allowed.
struct Interval
{
    double lower = -no_bound;
    double upper = no_bound;
    bool holds(double value) const { return value >= lower && value <= upper; }
};

/// p_c = Phi((upper - y)/u) - Phi((lower - y)/u), JCGM 106:2012 7.3, 7.4. u of 0 gives 0 or 1.
Probability probability_of_conformity(double y, double u, Interval allowed);

/// Names of JCGM 106:2012 8.2, 8.3.2, 8.3.3.
enum class DecisionRule : std::uint8_t { simple_acceptance, guarded_acceptance, guarded_rejection };
char const* words_of(DecisionRule rule); ///< "simple acceptance", "guarded acceptance", "guarded rejection"
char const* name_of(DecisionRule rule);  ///< "simple-acceptance", "guarded-acceptance", "guarded-rejection"
std::optional<DecisionRule> parse_decision_rule(std::string_view text);

/// The verdict on a reading, fibre or link. The order is not a rank: see worse().
enum class State : std::uint8_t {
    pass,
    marginal_pass, ///< within the limit, but not by the guard band
    marginal_fail, ///< beyond the limit, but not by the guard band
    fail,
    held, ///< measured under a reference now in doubt
    open, ///< not measured yet
};
char const* name_of(State state); ///< "pass", "marginal pass", "marginal fail", "fail", "held", "open"

/// Returns the one of two states that decides: fail, held, open, marginal fail, marginal pass, pass.
State worse(State a, State b);

/// Is a thing in this state accepted under this rule? Held and open never are.
bool accepted(State state, DecisionRule rule);

/// The state of an attenuation `margin` below its limit (negative beyond it), with guard band `w` (0 or
/// above). simple acceptance: pass from margin 0 up, else fail; w does not count. Both guarded rules: pass
/// from margin w up, marginal pass from 0 up, marginal fail from -w up, else fail.
constexpr State state_of(double margin, double w, DecisionRule rule)
{
    if (rule == DecisionRule::simple_acceptance) return margin >= 0 ? State::pass : State::fail;
    if (margin >= w) return State::pass;
    if (margin >= 0) return State::marginal_pass;
    return margin >= -w ? State::marginal_fail : State::fail;
}

} // namespace guidepin::verdict
