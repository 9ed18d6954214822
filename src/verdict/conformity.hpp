// SPDX-License-Identifier: Apache-2.0
// From a measured value, its uncertainty and a limit to a decision, after JCGM 106:2012 (ISO/IEC Guide 98-4).
// Which rule gives which word: docs/methods/verdict.md#decision-rules.
// Verified by: tests/oracle/verdict/conformity.cpp (JCGM 106 7.3.3, 7.4, 8.3.3, 9.5; scipy 1.10),
// tests/unit/verdict/conformity.cpp (rules against each other, monotone).
#pragma once

#include "base/result.hpp"
#include "units/quantity.hpp"

#include <functional>
#include <limits>
#include <optional>
#include <string_view>

namespace guidepin::verdict {

double normal_cdf(double z);
double normal_density(double z);
/// z with Phi(z) = p, for 0 < p < 1.
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

/// The same for a quantity that cannot lie below `least` (attenuation: 0 or the fibre's own): the normal law
/// is cut there and scaled up again.
Probability probability_of_conformity_bounded(double y, double u, Interval allowed, double least);
/// Mean of that cut law.
double bounded_mean(double y, double u, double least);

/// What is known after measuring y with u when the population was N(mean, sd), JCGM 106:2012 7.2.
struct Normal
{
    double mean = 0;
    double sd = 0;
};
Normal posterior(Normal prior, double y, double u);

/// Guard band for p_c >= probability at the acceptance limit: w = z_p u.
double guard_band_by_probability(double probability, double u);
/// w = r k u: r = 1 with k = 2 keeps the risk of a wrong acceptance below 2.3 %.
double guard_band_by_multiple(double r, double k, double u);

/// Names of JCGM 106:2012 8.2, 8.3.2, 8.3.3.
enum class DecisionRule : std::uint8_t { simple_acceptance, guarded_acceptance, guarded_rejection };
char const* name_of(DecisionRule rule); ///< "simple-acceptance", "guarded-acceptance", "guarded-rejection"
std::optional<DecisionRule> parse_decision_rule(std::string_view text);

/// Where a thing stands. The order is not a rank: see worse().
enum class State : std::uint8_t {
    pass,
    marginal_pass, ///< within the limit, but not by the guard band
    marginal_fail, ///< beyond the limit, but not by the guard band
    fail,
    held, ///< measured under a reference now in doubt
    open, ///< not measured yet
};
char const* name_of(State state); ///< "pass", "marginal pass", "marginal fail", "fail", "held", "open"

/// The one that decides when two stand together: fail, held, open, marginal fail, marginal pass, pass.
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

/// Shares of a population before measuring, JCGM 106:2012 9.
struct Risks
{
    double consumer = 0;       ///< non-conforming and accepted
    double producer = 0;       ///< conforming and rejected
    double non_conforming = 0; ///< before any inspection
};
/// `density` of the population on `support` (finite bounds), measured with `u`, allowed and accepted
/// intervals. invalid_input where the support is not finite or u is not above 0.
Result<Risks> global_risks(std::function<double(double)> const& density, Interval support, Interval allowed,
                           Interval acceptance, double u);

} // namespace guidepin::verdict
