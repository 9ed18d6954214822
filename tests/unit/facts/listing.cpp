// SPDX-License-Identifier: Apache-2.0
// Oracle: the contract in facts/listing.hpp.
#include "facts/listing.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace guidepin::facts {
namespace listing_test {

using ::testing::HasSubstr;
using ::testing::Not;

TEST(Listing, FindsByWordsInAnyCase)
{
    auto const& tables = built_in_tables();
    auto const found = matching_facts(tables, "om4 COEFFICIENT tia-568.3-e");
    ASSERT_EQ(found.size(), 2u);
    EXPECT_EQ(found[0]->id, "tia-568.3-e.coefficient.OM4.850");
    EXPECT_EQ(found[1]->id, "tia-568.3-e.coefficient.OM4.1300");
    EXPECT_EQ(matching_facts(tables, "").size(), tables.facts.size());
    EXPECT_TRUE(matching_facts(tables, "no such words at all").empty());
}

TEST(Listing, GlobIsHeldAgainstTheWholeId)
{
    auto const& tables = built_in_tables();
    EXPECT_EQ(matching_facts(tables, "*.splice").size(), 4u); // three rule sets, and connection.splice
    EXPECT_EQ(matching_facts(tables, "fibre.om?.core").size(), 5u);
    EXPECT_EQ(matching_facts(tables, "fibre.om?.cor").size(), 0u);
    EXPECT_EQ(matching_facts(tables, "readiness.warm-up*").size(), 3u);
}

TEST(Listing, SaysValueSourceBasisAndCaution)
{
    auto const& tables = built_in_tables();
    auto const text = facts_listing(matching_facts(tables, "tia-568.3-e.coefficient.OM4.850"));
    EXPECT_THAT(text, HasSubstr("tia-568.3-e.coefficient.OM4.850: 3 dB/km\n"));
    EXPECT_THAT(text, HasSubstr("TIA-568.3-E (2022) [memory]; from memory, not confirmed"));
    EXPECT_THAT(text, HasSubstr("can replace it"));
    auto const firm = facts_listing(matching_facts(tables, "iso-14763-3-2014.coefficient.OM4.850"));
    EXPECT_THAT(firm, HasSubstr("[secondary]"));
    EXPECT_THAT(firm, Not(HasSubstr("from memory")));
}

TEST(Listing, CountsEachBasis)
{
    auto const& tables = built_in_tables();
    auto const all = matching_facts(tables, "");
    int sum = 0;
    for (auto const& [basis, count] : count_by_basis(all)) sum += count;
    EXPECT_EQ(sum, static_cast<int>(all.size()));
    EXPECT_GT(count_by_basis(all).at(Basis::memory), 0);
}

} // namespace listing_test
} // namespace guidepin::facts
