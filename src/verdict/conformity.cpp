// SPDX-License-Identifier: Apache-2.0
#include "verdict/conformity.hpp"

#include <array>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <numbers>

namespace guidepin::verdict {
namespace {

/// Phi(b) - Phi(a), computed in the tail where it keeps its digits.
double normal_between(double a, double b)
{
    if (a > 0) return normal_cdf(-a) - normal_cdf(-b);
    return normal_cdf(b) - normal_cdf(a);
}

constexpr std::array states{State::pass, State::marginal_pass, State::marginal_fail,
                            State::fail, State::held,          State::open};

constexpr int severity(State state)
{
    switch (state) {
    case State::pass:
        return 0;
    case State::marginal_pass:
        return 1;
    case State::marginal_fail:
        return 2;
    case State::open:
        return 3;
    case State::held:
        return 4;
    case State::fail:
        return 5;
    }
    return 5;
}

} // namespace

double normal_cdf(double z)
{
    return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}
double normal_quantile(double p)
{
    return boost::math::quantile(boost::math::normal{}, p);
}

Probability probability_of_conformity(double y, double u, Interval allowed)
{
    if (!(u > 0)) return Probability::clamped(allowed.holds(y) ? 1 : 0);
    return Probability::clamped(normal_between((allowed.lower - y) / u, (allowed.upper - y) / u));
}

char const* name_of(DecisionRule rule)
{
    switch (rule) {
    case DecisionRule::simple_acceptance:
        return "simple-acceptance";
    case DecisionRule::guarded_acceptance:
        return "guarded-acceptance";
    case DecisionRule::guarded_rejection:
        return "guarded-rejection";
    }
    return "";
}

std::optional<DecisionRule> parse_decision_rule(std::string_view text)
{
    for (auto const rule : {DecisionRule::simple_acceptance, DecisionRule::guarded_acceptance,
                            DecisionRule::guarded_rejection}) {
        if (text == name_of(rule)) return rule;
    }
    return std::nullopt;
}

char const* words_of(DecisionRule rule)
{
    switch (rule) {
    case DecisionRule::simple_acceptance:
        return "simple acceptance";
    case DecisionRule::guarded_acceptance:
        return "guarded acceptance";
    case DecisionRule::guarded_rejection:
        return "guarded rejection";
    }
    return "";
}

char const* name_of(State state)
{
    constexpr std::array names{"pass", "marginal pass", "marginal fail", "fail", "held", "open"};
    static_assert(names.size() == states.size());
    return names[static_cast<std::size_t>(state)];
}

State worse(State a, State b)
{
    return severity(a) >= severity(b) ? a : b;
}

bool accepted(State state, DecisionRule rule)
{
    switch (state) {
    case State::pass:
        return true;
    case State::marginal_pass:
    case State::marginal_fail:
        return rule == DecisionRule::guarded_rejection;
    case State::fail:
    case State::held:
    case State::open:
        return false;
    }
    return false;
}

} // namespace guidepin::verdict
