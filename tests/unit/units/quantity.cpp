// SPDX-License-Identifier: Apache-2.0
// Oracle: the definition of the units (a level plus a level has no meaning); RFC 3339 section 5.8 examples.
#include "units/quantity.hpp"
#include "units/instant.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin {
namespace quantity_test {

template <class A, class B>
concept Addable = requires(A a, B b)
{
    a + b;
};
template <class A, class B>
concept Subtractable = requires(A a, B b)
{
    a - b;
};

static_assert(!Addable<Dbm, Dbm>);
static_assert(Addable<Dbm, Decibel>);
static_assert(!Addable<Decibel, Metres>);
static_assert(!Addable<Decibel, double>);
static_assert(Subtractable<Dbm, Dbm>);
static_assert(std::is_same_v<decltype(Dbm{} - Dbm{}), Decibel>);
static_assert(!std::is_convertible_v<double, Decibel>);

TEST(Quantity, AttenuationIsReferenceMinusTest)
{
    EXPECT_DOUBLE_EQ((-20.15_dBm - -21.55_dBm).value(), -20.15 - -21.55);
    EXPECT_DOUBLE_EQ((DecibelPerKilometre{3.0} * 100_m).value(), 0.3);
}

TEST(Quantity, ProbabilityRefusesWhatIsNone)
{
    EXPECT_FALSE(Probability::from(1.0001));
    EXPECT_FALSE(Probability::from(-0.1));
    EXPECT_FALSE(Probability::from(std::nan("")));
    EXPECT_EQ(Probability::from(0.5)->value(), 0.5);
}

TEST(Length, ReadsMetresAndFeet)
{
    EXPECT_DOUBLE_EQ(parse_length("30")->value(), 30);
    EXPECT_DOUBLE_EQ(parse_length(" 30 m")->value(), 30);
    EXPECT_DOUBLE_EQ(parse_length("100 ft")->value(), 30.48); // 1 ft = 0.3048 m exactly
    EXPECT_DOUBLE_EQ(parse_length("2km")->value(), 2000);
    EXPECT_FALSE(parse_length("30 yards"));
    EXPECT_FALSE(parse_length(""));
    EXPECT_FALSE(parse_length("m"));
}

// A reading without a time ended the program when its time was written as a date.
TEST(Instant, WhatNoYearHoldsIsNoTime)
{
    Instant const last{253402300799999, 0}, first{-62135596800000, 0};
    EXPECT_EQ(instant_text(last), "9999-12-31T23:59:59.999Z");
    EXPECT_EQ(instant_text(first), "0001-01-01T00:00:00Z");
    for (std::int64_t const ms : {last.ms + 1, first.ms - 1, INT64_MIN, INT64_MAX}) {
        EXPECT_EQ(instant_text({ms, 0}), "no time");
        EXPECT_EQ(date_text({ms, 0}), "no time");
        EXPECT_EQ(time_text({ms, 0}), "no time");
    }
    EXPECT_EQ(instant_text({first.ms, -60}), "no time");
    EXPECT_EQ(instant_text({last.ms, 60}), "no time");
}

// Oracle: RFC 3339, section 5.8, the examples and what they say of them.
TEST(Instant, ReadsTheExamplesOfRfc3339)
{
    auto const first = parse_instant("1985-04-12T23:20:50.52Z");
    ASSERT_TRUE(first);
    EXPECT_EQ(instant_text(*first), "1985-04-12T23:20:50.520Z");
    EXPECT_EQ(*parse_instant("1996-12-19T16:39:57-08:00"), *parse_instant("1996-12-20T00:39:57Z"));
    EXPECT_EQ(*parse_instant("1990-12-31T15:59:60-08:00"), *parse_instant("1990-12-31T23:59:60Z"));
    EXPECT_EQ(*parse_instant("1937-01-01T12:00:27.87+00:20"), *parse_instant("1937-01-01T11:40:27.87Z"));
}

TEST(Instant, RefusesWhatNoCalendarHas)
{
    for (char const* text : {"2025-02-29T00:00:00Z", "2025-13-01T00:00Z", "2025-01-01T24:00Z", "2025-01-01",
                             "x", "2025-01-01T00:00:00+1", "2025-01-01T00:00Zjunk"}) {
        EXPECT_FALSE(parse_instant(text)) << text;
    }
    EXPECT_TRUE(parse_instant("2024-02-29T00:00Z"));
}

RC_GTEST_PROP(Instant, RoundTripsThroughItsText, ())
{
    Instant const instant{*rc::gen::inRange<std::int64_t>(-1'000'000'000'000, 4'000'000'000'000),
                          static_cast<std::int16_t>(*rc::gen::inRange(-14 * 60, 14 * 60 + 1))};
    auto const again = parse_instant(instant_text(instant));
    RC_ASSERT(again.has_value());
    RC_ASSERT(*again == instant);
    RC_ASSERT(again->offset_minutes == instant.offset_minutes);
}

} // namespace quantity_test
} // namespace guidepin
