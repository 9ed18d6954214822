// SPDX-License-Identifier: Apache-2.0
// Oracle: RFC 5646 tags; date orders as in Unicode CLDR's short forms widened to four-digit years; the
// international foot of 0.3048 m (1959): 100 ft = 30.48 m.
#include "report/locale.hpp"
#include "report/paper.hpp"

#include <gtest/gtest.h>

using namespace guidepin;
using namespace guidepin::report;

TEST(Locale, NumbersCarryATrueMinusAndNoMinusZero)
{
    Locale point;
    EXPECT_EQ(point.number(-0.216, 2), "\u22120.22");
    EXPECT_EQ(point.number(-0.001, 2), "0.00");
    Locale comma;
    comma.decimal_mark = ',';
    EXPECT_EQ(comma.number(1234.5, 1), "1234,5");
    EXPECT_EQ(comma.decibel(std::nullopt), "–");
    EXPECT_EQ(comma.decibel(Decibel{0.35}), "0,35");
}

TEST(Locale, GroupsBeginWithFiveDigits)
{
    Locale locale;
    EXPECT_EQ(locale.whole(9999), "9999");
    EXPECT_EQ(locale.whole(10000), "10\u00a0000");
    EXPECT_EQ(locale.whole(-1234567), "\u22121\u00a0234\u00a0567");
    EXPECT_EQ(locale.whole(100000), "100\u00a0000");
}

TEST(Locale, LengthsInMetresAndFeet)
{
    EXPECT_EQ(Locale{}.length(Metres{98.46}), "98.5 m");
    Locale feet;
    feet.length_unit = LengthUnit::feet;
    EXPECT_EQ(feet.length(Metres{30.48}), "100 ft");
}

TEST(Locale, ProbabilitiesNeverClaimCertainty)
{
    Locale locale;
    EXPECT_EQ(locale.percent(*Probability::from(1.0)), "> 99.9 %");
    EXPECT_EQ(locale.percent(*Probability::from(0.9996)), "> 99.9 %");
    EXPECT_EQ(locale.percent(*Probability::from(0.5)), "50.0 %");
    EXPECT_EQ(locale.percent(*Probability::from(0.0)), "< 0.1 %");
}

TEST(Locale, DatesInThreeOrders)
{
    Instant const instant = *parse_instant("2026-03-02T08:15:00+01:00");
    EXPECT_EQ(Locale{}.date(instant), "2026-03-02");
    Locale locale;
    locale.date_order = DateOrder::month_day_year;
    EXPECT_EQ(locale.date(instant), "03/02/2026");
    locale.date_order = DateOrder::day_month_year;
    EXPECT_EQ(locale.date(instant), "02/03/2026");
    locale.decimal_mark = ',';
    EXPECT_EQ(locale.date(instant), "02.03.2026");
    EXPECT_EQ(Locale{}.date_time(instant), "2026-03-02 08:15 UTC+01:00");
}

TEST(Paper, SizesInPoints)
{
    // ISO 216: 210 mm x 297 mm; 25.4 mm an inch; US Letter 8.5 in x 11 in.
    EXPECT_NEAR(size_of(Paper::a4).width, 595.2756, 1e-4);
    EXPECT_NEAR(size_of(Paper::a4).height, 841.8898, 1e-4);
    EXPECT_DOUBLE_EQ(size_of(Paper::letter).width, 612);
    EXPECT_EQ(parse_paper("letter"), Paper::letter);
    EXPECT_FALSE(parse_paper("a5"));
    EXPECT_EQ(parse_paper(name_of(Paper::a4)), Paper::a4);
}
