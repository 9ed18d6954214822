// SPDX-License-Identifier: Apache-2.0
// Two stations work on one job and bring their files together.
#include "record/merge.hpp"

#include "record/chain.hpp"
#include "record/check.hpp"

#include "places.hpp"

namespace guidepin::record::test {
namespace merge_test {

template <class Place>
class Merging : public ::testing::Test
{
  public:
    StationKey one = key_number(1), two = key_number(2);
    Place place;
};
TYPED_TEST_SUITE(Merging, Places);

TYPED_TEST(Merging, IsTheUnionWhicheverWay)
{
    auto const a = this->place.make(&this->one);
    auto const b = this->place.make(&this->two);
    ASSERT_TRUE(append(*a, notes(1, 3)));
    ASSERT_TRUE(append(*b, notes(10, 2)));
    ASSERT_TRUE(append(*b, notes(20, 2)));

    auto const merged = merge(*a, *b);
    ASSERT_TRUE(merged) << merged.error().message;
    EXPECT_EQ(merged->added, 5);
    EXPECT_EQ(merged->present, 0);
    auto const back = merge(*b, *a);
    ASSERT_TRUE(back) << back.error().message;
    EXPECT_EQ(back->added, 4);
    EXPECT_EQ(back->present, 5);
    EXPECT_EQ(chains_digest(*a).value(), chains_digest(*b).value());
    EXPECT_EQ(a->heads().value(), b->heads().value());
    EXPECT_FALSE(check(*a)->first);
    EXPECT_FALSE(check(*b)->first);

    auto const again = merge(*a, *b);
    ASSERT_TRUE(again);
    EXPECT_EQ(again->added, 0);
    EXPECT_EQ(again->present, 9);

    // Work goes on on both sides.
    ASSERT_TRUE(append(*a, notes(30, 1)));
    ASSERT_TRUE(append(*b, notes(40, 1)));
    ASSERT_TRUE(merge(*a, *b));
    EXPECT_EQ(a->count().value(), 11);
    EXPECT_FALSE(check(*a)->first);
}

TYPED_TEST(Merging, TakesTheOwnChainBack)
{
    auto const a = this->place.make(&this->one);
    ASSERT_TRUE(append(*a, notes(1, 3)));
    auto const fresh = this->place.make(&this->one);
    ASSERT_TRUE(merge(*fresh, *a));
    auto const next = append(*fresh, notes(4, 1));
    ASSERT_TRUE(next) << next.error().message;
    EXPECT_EQ(next->first, 5) << "goes on behind what came back";
    EXPECT_FALSE(check(*fresh)->first);
}

TYPED_TEST(Merging, NamesTheRecordThatDiffers)
{
    auto const a = this->place.make(&this->one);
    ASSERT_TRUE(append(*a, notes(1, 2)));
    auto const b = this->place.make(&this->one);
    ASSERT_TRUE(merge(*b, *a));
    ASSERT_TRUE(append(*a, notes(5, 1)));
    ASSERT_TRUE(append(*b, notes(6, 1))); // the same key on a copy
    auto const before = chains_digest(*a).value();
    auto const merged = merge(*a, *b);
    ASSERT_FALSE(merged);
    EXPECT_EQ(merged.error().code, Errc::conflict);
    EXPECT_NE(merged.error().message.find("Station " + this->one.station() + ", record 4"), std::string::npos)
        << merged.error().message;
    EXPECT_EQ(chains_digest(*a).value(), before);
}

TYPED_TEST(Merging, RefusesAnotherJob)
{
    auto const a = this->place.make(&this->one, "job-1");
    auto const b = this->place.make(&this->two, "job-2");
    auto const merged = merge(*a, *b);
    ASSERT_FALSE(merged);
    EXPECT_EQ(merged.error().code, Errc::conflict);
}

TYPED_TEST(Merging, RefusesWhatDoesNotHold)
{
    auto const a = this->place.make(&this->one);
    auto const b = this->place.make(nullptr);
    // A record that claims to be station two's, without its signature.
    Record forged;
    forged.station = this->two.station();
    forged.sequence = 1;
    forged.kind = kind::station_key;
    forged.body = station_key_body(this->two.public_key());
    forged.hash = hash_of(forged.view());
    auto write = b->begin_write();
    ASSERT_TRUE((*write)->adopt(std::vector{forged}, {}));
    ASSERT_TRUE((*write)->commit());
    auto const merged = merge(*a, *b);
    ASSERT_FALSE(merged);
    EXPECT_EQ(merged.error().code, Errc::damaged);
    EXPECT_NE(merged.error().message.find("not signed"), std::string::npos) << merged.error().message;
}

TYPED_TEST(Merging, DoesNotAdoptAChainThatDoesNotJoin)
{
    auto const a = this->place.make(&this->one);
    Record loose;
    loose.station = this->two.station();
    loose.sequence = 2;
    loose.kind = kind::note;
    loose.body = "{}";
    loose.hash = hash_of(loose.view());
    auto write = a->begin_write();
    ASSERT_TRUE((*write)->adopt(std::vector{loose}, {}));
    auto const committed = (*write)->commit();
    ASSERT_FALSE(committed);
    EXPECT_EQ(committed.error().code, Errc::damaged);
    write = Error{Errc::internal, "dropped"};
    EXPECT_EQ(a->count().value(), 0);
}

} // namespace merge_test
} // namespace guidepin::record::test
