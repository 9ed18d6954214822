// SPDX-License-Identifier: Apache-2.0
// Identities of combined uncertainties; budgets from the tables, and their edits.
#include "verdict/uncertainty.hpp"

#include <cmath>

namespace guidepin::verdict {
namespace uncertainty_test {

double any(double low, double high)
{
    return low + (high - low) * *rc::gen::inRange(0, 10001) / 10000.0;
}

RC_GTEST_PROP(UncertaintyProperty, MeanOfDirectionsKeepsWhatIsShared, ())
{
    // u_mean^2 with r = common / total equals common + own / 2.
    double const common = any(0, 0.1);
    double const own = any(0.001, 0.1);
    double const u = std::hypot(common, own);
    double const r = common * common / (u * u);
    double const mean = uncertainty_of_mean(u, u, r);
    RC_ASSERT(std::abs(mean * mean - (common * common + own * own / 2)) < 1e-15);
    RC_ASSERT(mean >= common - 1e-12 && mean <= u + 1e-12);
}

RC_GTEST_PROP(UncertaintyProperty, TheModelSaysWhatTheBudgetSays, ())
{
    BudgetQuestion question;
    question.tables = &facts::built_in_tables();
    question.kind = *rc::gen::element(facts::FibreKind::multimode, facts::FibreKind::single_mode);
    question.wavelength = Nanometres{*rc::gen::element(850, 1300, 1310, 1550)};
    question.method = *rc::gen::element(setup::ReferenceMethod::one_cord, setup::ReferenceMethod::two_cord,
                                        setup::ReferenceMethod::three_cord);
    question.ends = *rc::gen::inRange(0, 3);
    auto const budget = budget_for(question).value();
    double const loss = any(-0.2, 5);
    auto const sum = budget.at(loss);
    RC_ASSERT(std::abs(budget.model().u(loss) - sum.u) < 1e-12);
    RC_ASSERT(std::abs(std::sqrt(budget.model().common_variance(loss)) - sum.common) < 1e-12);
    RC_ASSERT(std::abs(sum.u - std::hypot(sum.common, sum.own)) < 1e-12);
    RC_ASSERT(budget.model().u_of_mean(loss, loss) <= sum.u + 1e-12);
}

TEST(Uncertainty, EditsAreCheckedAndUsed)
{
    std::vector<UncertaintyEdit> edits{{"meter-linearty", 0.1}};
    BudgetQuestion question;
    question.tables = &facts::built_in_tables();
    question.edits = edits;
    auto const unknown = budget_for(question);
    ASSERT_FALSE(unknown.has_value());
    EXPECT_NE(unknown.error().message.find("meter-linearity"), std::string::npos);
    edits[0] = {"meter-linearity", -1};
    EXPECT_FALSE(budget_for(question).has_value());
    edits[0] = {"meter-linearity", 0.5};
    auto const budget = budget_for(question).value();
    EXPECT_GT(budget.at(0.1).u, 0.5 / std::sqrt(3.0));
    EXPECT_TRUE(budget.contributions[0].edited);
    EXPECT_EQ(budget.contributions[0].basis, facts::Basis::derived);
}

TEST(Uncertainty, CorrelationsThatCannotBe)
{
    std::vector<UncertainInput> const inputs{{1}, {1}, {1}};
    EXPECT_FALSE(combined_uncertainty(inputs, std::vector<Correlation>{{0, 1, -1}, {0, 2, -1}, {1, 2, -1}})
                     .has_value());
    EXPECT_FALSE(combined_uncertainty(inputs, std::vector<Correlation>{{0, 0, 1}}).has_value());
    EXPECT_FALSE(combined_uncertainty(inputs, std::vector<Correlation>{{0, 7, 1}}).has_value());
    EXPECT_NEAR(combined_uncertainty(inputs, std::vector<Correlation>{{0, 1, -1}}).value(), 1, 1e-12);
}

} // namespace uncertainty_test
} // namespace guidepin::verdict
