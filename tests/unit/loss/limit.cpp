// SPDX-License-Identifier: Apache-2.0
// Oracle: identities of the formula (lines add up, additive in length, monotone in every part); messages by
// content.
#include "loss/limit.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

namespace guidepin::loss {
namespace limit_test {

using facts::CordGrade;
using setup::ReferenceMethod;
using ::testing::HasSubstr;

facts::Tables const& tables()
{
    return facts::built_in_tables();
}

/// Any question that the built-in rule sets can answer with one-cord reference.
LimitQuestion any_question()
{
    auto const& rules = *rc::gen::elementOf(std::vector<facts::RuleSet const*>{
        &tables().rule_sets[0], &tables().rule_sets[1], &tables().rule_sets[2]});
    auto const& row = rules->coefficients[*rc::gen::inRange<std::size_t>(0, rules->coefficients.size())];
    LimitQuestion question;
    question.rules = rules;
    question.category = *tables().category(row.category);
    question.wavelength = Nanometres{row.wavelength_nm};
    question.length = Metres{*rc::gen::inRange(0, 5'000'000) / 1000.0};
    question.cords = CordGrade::reference;
    question.ends = *rc::gen::inRange(0, 3);
    question.inner = *rc::gen::inRange(0, 20);
    question.splices = *rc::gen::inRange(0, 50);
    return question;
}

RC_GTEST_PROP(Limit, LinesAddUpToTheTotalToTheLastBit, ())
{
    auto question = any_question();
    question.ends = 2; // so that no method takes out more than there is
    question.method =
        *rc::gen::element(ReferenceMethod::one_cord, ReferenceMethod::two_cord, ReferenceMethod::three_cord);
    auto const found = limit(question);
    RC_ASSERT(found.has_value());
    double sum = 0;
    bool memory = false;
    for (auto const& line : found->lines) {
        RC_ASSERT(line.loss.value() == line.count * line.each);
        RC_ASSERT(!line.source.document.empty());
        sum += line.loss.value();
        memory |= line.count != 0 && line.basis == facts::Basis::memory;
    }
    RC_ASSERT(sum == found->total.value());
    RC_ASSERT(memory == found->rests_on_memory);
    RC_ASSERT(limit_value(question)->value() == found->total.value());
}

RC_GTEST_PROP(Limit, IsAdditiveInLength, ())
{
    auto question = any_question();
    double const whole = limit_value(question)->value();
    auto half = question;
    half.length = question.length / 2;
    auto nothing = question;
    nothing.length = Metres{0};
    // Two halves hold everything but the cable twice. Tolerance: a few roundings of sums below 300 dB.
    RC_ASSERT(std::abs(2 * limit_value(half)->value() - limit_value(nothing)->value() - whole) < 1e-11);
}

RC_GTEST_PROP(Limit, NeverFallsWhenSomethingIsAdded, ())
{
    auto const question = any_question();
    double const before = limit_value(question)->value();
    auto longer = question;
    longer.length += Metres{1};
    auto more_inner = question;
    ++more_inner.inner;
    auto more_splices = question;
    ++more_splices.splices;
    RC_ASSERT(limit_value(longer)->value() > before);
    RC_ASSERT(std::abs(limit_value(more_inner)->value() - before - question.rules->inner_connection.value) <
              1e-11);
    RC_ASSERT(std::abs(limit_value(more_splices)->value() - before - question.rules->splice.value) < 1e-11);
}

LimitQuestion om4()
{
    LimitQuestion question;
    question.rules = *tables().rule_set("tia-568.3-e");
    question.category = *tables().category("OM4");
    question.length = 100_m;
    return question;
}

TEST(Limit, SaysWhenItRestsOnMemory)
{
    auto const found = limit(om4());
    ASSERT_TRUE(found);
    EXPECT_TRUE(found->rests_on_memory); // the coefficient of OM4 at 850 nm in TIA-568.3 is from memory
    EXPECT_EQ(found->lines[0].fact, "tia-568.3-e.coefficient.OM4.850");
    EXPECT_EQ(found->lines[0].source.text(), "TIA-568.3-E (2022)");
    auto iso = om4();
    iso.rules = *tables().rule_set("iso-14763-3-2014");
    EXPECT_FALSE(limit(iso)->rests_on_memory); // quoted in secondary literature throughout
}

TEST(Limit, NamesWhatIsMissingAndWhatThereIs)
{
    auto question = om4();
    question.wavelength = 953_nm;
    EXPECT_EQ(limit(question).error().code, Errc::not_found);
    EXPECT_THAT(limit(question).error().message, HasSubstr("OM4 at 953 nm. It has 850, 1300 nm"));
    question = om4();
    question.category = *tables().category("62.5/160");
    EXPECT_THAT(limit(question).error().message,
                HasSubstr("no attenuation coefficient for 62.5/160. It has OM1, OM2"));
    question = om4();
    question.rules = *tables().rule_set("iso-14763-3-2014");
    question.cords = CordGrade::standard;
    EXPECT_THAT(limit(question).error().message,
                HasSubstr("standard-grade test cords on multimode fibre. It has reference-grade"));
}

TEST(Limit, RefusesNumbersThatNoLinkHas)
{
    for (double const metres : {-1.0, 200'001.0, std::nan(""), HUGE_VAL}) {
        auto question = om4();
        question.length = Metres{metres};
        ASSERT_FALSE(limit_value(question)) << metres;
        EXPECT_EQ(limit_value(question).error().code, Errc::usage);
    }
    auto question = om4();
    question.ends = 3;
    EXPECT_EQ(limit(question).error().code, Errc::usage);
    question = om4();
    question.inner = -1;
    EXPECT_EQ(limit(question).error().code, Errc::usage);
    question = om4();
    question.splices = 1001;
    EXPECT_EQ(limit(question).error().code, Errc::usage);
}

TEST(Limit, RefusesAReferenceThatTakesOutMoreThanThereIs)
{
    auto question = om4();
    question.cords = CordGrade::standard;
    question.ends = 1;
    question.method = ReferenceMethod::three_cord;
    auto const found = limit(question);
    ASSERT_FALSE(found);
    EXPECT_EQ(found.error().code, Errc::refused);
    EXPECT_THAT(found.error().message, HasSubstr("-0.45 dB"));
}

} // namespace limit_test
} // namespace guidepin::loss
