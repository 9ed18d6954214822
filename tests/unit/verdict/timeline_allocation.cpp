// SPDX-License-Identifier: Apache-2.0
// Oracle: the allocation functions themselves, counted.
#include "verdict/timeline.hpp"

namespace guidepin::verdict {

extern thread_local long counted_allocations;

namespace timeline_allocation_test {

TEST(Timeline, AllocatesNothingWhereThereIsNoHold)
{
    std::string const id = "reference with a name that is longer than any small string";
    std::vector<ReferenceEntry> references;
    std::vector<CordCheckEntry> checks;
    for (int i = 0; i < 100; ++i) {
        references.push_back({id + std::to_string(i), Instant{i}, true, Seconds{60}});
        checks.push_back({id + std::to_string(i), Instant{i + 10}, true});
    }
    auto const timeline = ReferenceTimeline::build(references, checks, {});
    ASSERT_TRUE(timeline.has_value());
    std::string const wanted = id + "57";
    long const before = counted_allocations;
    bool const held = timeline->hold_reason(wanted, Instant{70}).has_value();
    long const released = counted_allocations;
    auto const kind = timeline->hold_kind(timeline->find(wanted), 20);
    long const kinds = counted_allocations;
    auto const early = timeline->hold_reason(wanted, Instant{20});
    long const after = counted_allocations;
    EXPECT_FALSE(held);
    EXPECT_EQ(kind, HoldKind::before_reference);
    EXPECT_EQ(released - before, 0);
    EXPECT_EQ(kinds - released, 0);
    ASSERT_TRUE(early.has_value());
    EXPECT_GT(after, kinds); // the counter counts
}

} // namespace timeline_allocation_test
} // namespace guidepin::verdict
