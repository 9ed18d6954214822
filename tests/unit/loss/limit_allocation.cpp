// SPDX-License-Identifier: Apache-2.0
// Oracle: the allocation functions themselves, counted: a million readings must not pay for their limits.
#include "loss/limit.hpp"

#include <gtest/gtest.h>

namespace guidepin::loss {

extern thread_local long counted_allocations; // counted_allocation.cpp

namespace limit_allocation_test {

TEST(LimitValue, AllocatesNothing)
{
    LimitQuestion question;
    question.rules = *facts::built_in_tables().rule_set("tia-568.3-e");
    question.category = *facts::built_in_tables().category("OS2");
    question.wavelength = 1550_nm;
    question.length = 2000_m;
    question.method = setup::ReferenceMethod::two_cord;
    question.inner = 2;
    question.splices = 4;
    long const before = counted_allocations;
    auto const value = limit_value(question);
    long const after = counted_allocations;
    ASSERT_TRUE(value);
    EXPECT_EQ(after, before);
    auto const lines = limit(question); // the counter does count
    EXPECT_GT(counted_allocations, after);
    EXPECT_EQ(lines->total.value(), value->value());
}

} // namespace limit_allocation_test
} // namespace guidepin::loss
