// SPDX-License-Identifier: Apache-2.0
#include "verdict/conformity.hpp"

#include <algorithm>
#include <array>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>
#include <numbers>
#include <vector>

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
double normal_density(double z)
{
    return std::exp(-z * z / 2) * std::numbers::inv_sqrtpi / std::numbers::sqrt2;
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

Probability probability_of_conformity_bounded(double y, double u, Interval allowed, double least)
{
    Interval const cut{std::max(allowed.lower, least), allowed.upper};
    if (!(u > 0)) return Probability::clamped(cut.holds(std::max(y, least)) ? 1 : 0);
    if (cut.upper <= cut.lower) return Probability::clamped(0);
    double const whole = normal_cdf((y - least) / u);
    // So far below the bound that nothing is left of the law: all of it sits at the bound.
    if (!(whole > 0)) return Probability::clamped(cut.holds(least) ? 1 : 0);
    return Probability::clamped(normal_between((cut.lower - y) / u, (cut.upper - y) / u) / whole);
}

double bounded_mean(double y, double u, double least)
{
    if (!(u > 0)) return std::max(y, least);
    double const a = (least - y) / u;
    double const whole = normal_cdf(-a);
    return whole > 0 ? y + u * normal_density(a) / whole : least;
}

Normal posterior(Normal prior, double y, double u)
{
    double const from_prior = 1 / (prior.sd * prior.sd);
    double const from_reading = 1 / (u * u);
    double const variance = 1 / (from_prior + from_reading);
    return {variance * (prior.mean * from_prior + y * from_reading), std::sqrt(variance)};
}

double guard_band_by_probability(double probability, double u)
{
    return normal_quantile(probability) * u;
}
double guard_band_by_multiple(double r, double k, double u)
{
    return r * k * u;
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

Result<Risks> global_risks(std::function<double(double)> const& density, Interval support, Interval allowed,
                           Interval acceptance, double u)
{
    if (!std::isfinite(support.lower) || !std::isfinite(support.upper) || !(support.lower < support.upper)) {
        return Error{Errc::invalid_input, "Global risks need a population on a finite interval."};
    }
    if (!(u > 0)) return Error{Errc::invalid_input, "Global risks need an uncertainty above 0."};
    // Cut where the integrand bends: at the limits and around the acceptance limits.
    std::vector<double> cuts{support.lower, support.upper};
    for (double const edge : {acceptance.lower, acceptance.upper}) {
        for (double const step : {-8.0, -3.0, 0.0, 3.0, 8.0}) cuts.push_back(edge + step * u);
    }
    cuts.push_back(allowed.lower);
    cuts.push_back(allowed.upper);
    for (int i = 1; i < 16; ++i) cuts.push_back(support.lower + (support.upper - support.lower) * i / 16);
    std::erase_if(cuts, [&](double cut) { return !support.holds(cut); });
    std::sort(cuts.begin(), cuts.end());
    Risks risks;
    using Rule = boost::math::quadrature::gauss_kronrod<double, 31>;
    for (std::size_t i = 1; i < cuts.size(); ++i) {
        double const from = cuts[i - 1];
        double const to = cuts[i];
        if (!(to > from)) continue;
        bool const conforms = allowed.holds((from + to) / 2);
        auto const taken = [&](double eta) {
            return density(eta) * normal_between((acceptance.lower - eta) / u, (acceptance.upper - eta) / u);
        };
        auto const rejected = [&](double eta) {
            double const above = normal_cdf((eta - acceptance.upper) / u);
            double const below = normal_cdf((acceptance.lower - eta) / u);
            return density(eta) * (above + below);
        };
        if (conforms) {
            risks.producer += Rule::integrate(rejected, from, to, 10, 1e-12);
        } else {
            risks.consumer += Rule::integrate(taken, from, to, 10, 1e-12);
            risks.non_conforming += Rule::integrate(density, from, to, 10, 1e-12);
        }
    }
    return risks;
}

} // namespace guidepin::verdict
