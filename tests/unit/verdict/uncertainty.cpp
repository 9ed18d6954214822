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
    // The mean of two directions keeps what both share and halves the variance of the rest.
    double const mean = budget.model().u_of_mean(loss, loss);
    RC_ASSERT(std::abs(mean * mean - (sum.common * sum.common + sum.own * sum.own / 2)) < 1e-12);
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

} // namespace uncertainty_test
} // namespace guidepin::verdict
