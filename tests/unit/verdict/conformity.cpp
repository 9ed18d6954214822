// SPDX-License-Identifier: Apache-2.0
// Identities of probabilities, guard bands and decision rules.
#include "verdict/conformity.hpp"

#include <cmath>

namespace guidepin::verdict {
namespace conformity_test {

double any(double low, double high)
{
    return low + (high - low) * *rc::gen::inRange(0, 10001) / 10000.0;
}

RC_GTEST_PROP(ConformityProperty, ProbabilityFallsWithTheValueAndRisesWithTheLimit, ())
{
    double const u = any(0.001, 0.3);
    double const y = any(-0.2, 2);
    double const limit = any(0.1, 2);
    double const more = any(0, 0.5);
    auto const p = [&](double value, double upper) {
        return probability_of_conformity(value, u, {-no_bound, upper}).value();
    };
    RC_ASSERT(p(y, limit) >= p(y + more, limit));
    RC_ASSERT(p(y, limit) <= p(y, limit + more));
    RC_ASSERT(p(y, limit) >= 0 && p(y, limit) <= 1);
    RC_ASSERT(std::abs(p(limit, limit) - 0.5) < 1e-15);
    // A value and its mirror image about the limit.
    RC_ASSERT(std::abs(p(limit - more, limit) + p(limit + more, limit) - 1) < 1e-12);
}

RC_GTEST_PROP(ConformityProperty, GuardBandMeetsItsProbabilityAtTheAcceptanceLimit, ())
{
    double const p = any(0.5, 0.9999);
    double const u = any(0.001, 0.3);
    double const w = normal_quantile(p) * u;
    RC_ASSERT(std::abs(probability_of_conformity(0.75 - w, u, {-no_bound, 0.75}).value() - p) < 1e-9);
}

RC_GTEST_PROP(ConformityProperty, StatesFollowTheMarginAndRulesKeepTheirOrder, ())
{
    double const margin = any(-1, 1);
    double const w = any(0, 0.3);
    bool const guarded =
        accepted(state_of(margin, w, DecisionRule::guarded_acceptance), DecisionRule::guarded_acceptance);
    bool const simple =
        accepted(state_of(margin, w, DecisionRule::simple_acceptance), DecisionRule::simple_acceptance);
    bool const lenient =
        accepted(state_of(margin, w, DecisionRule::guarded_rejection), DecisionRule::guarded_rejection);
    RC_ASSERT(guarded == (margin >= w));
    RC_ASSERT(simple == (margin >= 0));
    RC_ASSERT(lenient == (margin >= -w));
    RC_ASSERT((!guarded || simple) && (!simple || lenient));
}

TEST(Conformity, WorseIsAnOrder)
{
    State const order[] = {State::pass, State::marginal_pass, State::marginal_fail,
                           State::open, State::held,          State::fail};
    for (std::size_t i = 0; i < std::size(order); ++i) {
        for (std::size_t j = 0; j < std::size(order); ++j) {
            EXPECT_EQ(worse(order[i], order[j]), order[std::max(i, j)]);
        }
    }
}

TEST(Conformity, NamesReadBack)
{
    for (auto const rule : {DecisionRule::simple_acceptance, DecisionRule::guarded_acceptance,
                            DecisionRule::guarded_rejection}) {
        EXPECT_EQ(parse_decision_rule(name_of(rule)), rule);
    }
    EXPECT_FALSE(parse_decision_rule("shared-risk"));
}

TEST(Conformity, ExactValuesWithoutUncertainty)
{
    EXPECT_EQ(probability_of_conformity(0.75, 0, {-no_bound, 0.75}).value(), 1);
    EXPECT_EQ(probability_of_conformity(0.7500001, 0, {-no_bound, 0.75}).value(), 0);
}

} // namespace conformity_test
} // namespace guidepin::verdict
