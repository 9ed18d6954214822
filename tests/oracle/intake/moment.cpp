// SPDX-License-Identifier: Apache-2.0
// Oracles: RFC 3339 (July 2002), section 5.8, its examples with the equivalents that it states; Unix times of
// three of them from GNU date (coreutils 9.1, `date -u -d … +%s`); parse_instant() on random texts. Exact:
// milliseconds are kept, digits beyond are cut.
#include "intake/moment.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::intake {
namespace moment_test {

Instant read(std::string_view text)
{
    MomentReader reader(0);
    auto const moment = reader.read(text);
    EXPECT_TRUE(moment.has_value()) << text;
    return moment.value_or(Instant{-1, -1});
}

TEST(Rfc3339, ExamplesOfSection58)
{
    EXPECT_EQ(read("1985-04-12T23:20:50.52Z").ms, 482'196'050'520);
    // "19 hours, 39 minutes, and 57 seconds past midnight … 8 hours behind UTC … equivalent to
    // 1996-12-20T00:39:57Z"
    EXPECT_EQ(read("1996-12-19T16:39:57-08:00"), read("1996-12-20T00:39:57Z"));
    EXPECT_EQ(read("1996-12-20T00:39:57Z").ms, 851'042'397'000);
    EXPECT_EQ(read("1996-12-19T16:39:57-08:00").offset_minutes, -480);
    // The leap second of 1990, in both of the zones printed, "the same instant"; folded onto the second after
    // it.
    EXPECT_EQ(read("1990-12-31T23:59:60Z"), read("1990-12-31T15:59:60-08:00"));
    EXPECT_EQ(read("1990-12-31T23:59:60Z"), read("1991-01-01T00:00:00Z"));
    // "… the same instant of time as noon, January 1, 1937, Netherlands time", +00:20
    EXPECT_EQ(read("1937-01-01T12:00:27.87+00:20").ms, -1'041'337'172'130);
}

TEST(Rfc3339, WhatIsNone)
{
    MomentReader reader(60);
    for (char const* const text :
         {"2026-02-30T08:00:00Z", "2026-13-01T08:00:00Z", "2026-03-02T24:00:00Z", "2026-03-02T08:60:00Z",
          "2026-03-02T08:00:61Z", "2026-03-02T08:00:00+24:00", "2026-03-02T08:00:00+01:60", "2026-03-02",
          "02.03.2026 08:00:00", "2026-03-02T08:00:00X", "2026-3-2T8:00:00Z", "2026-03-02T0a:00:00Z"}) {
        EXPECT_FALSE(reader.read(text).has_value()) << text;
    }
    EXPECT_TRUE(reader.read("2024-02-29T08:00:00Z").has_value());
    EXPECT_FALSE(reader.read("2025-02-29T08:00:00Z").has_value());
}

RC_GTEST_PROP(MomentReader, IsParseInstantWithAMemory, ())
{
    auto const zone = static_cast<std::int16_t>(*rc::gen::inRange(-720, 840));
    MomentReader reader(zone);
    for (int i = 0; i < 20; ++i) {
        std::string text = fmt::format(
            "{:04}-{:02}-{:02}{}{:02}:{:02}:{:02}{}", *rc::gen::inRange(1999, 2002), *rc::gen::inRange(0, 14),
            *rc::gen::inRange(0, 33), *rc::gen::element('T', ' ', 't', 'x'), *rc::gen::inRange(0, 26),
            *rc::gen::inRange(0, 62), *rc::gen::inRange(0, 62),
            *rc::gen::element<std::string>("", "Z", "z", "+01:00", "-23:59", "+24:00", "+0100", ".5Z", " "));
        if (*rc::gen::inRange(0, 4) == 0) {
            text[*rc::gen::inRange<std::size_t>(0, text.size())] =
                *rc::gen::element('0', 'a', '-', ':', ' ', '.');
        }
        auto const expected = parse_instant(text, zone);
        auto const found = reader.read(text);
        RC_ASSERT(found.has_value() == expected.has_value());
        if (found) {
            RC_ASSERT(found->ms == expected->ms);
            RC_ASSERT(found->offset_minutes == expected->offset_minutes);
        }
    }
}

TEST(DatePattern, OtherOrders)
{
    auto const as = [](char const* pattern, char const* text, std::int16_t zone = 0) {
        auto const parsed = DatePattern::from(pattern);
        EXPECT_TRUE(parsed.has_value()) << pattern;
        auto const moment = parsed->read(text, zone);
        return moment ? instant_text(*moment) : std::string("none");
    };
    EXPECT_EQ(as("DD.MM.YYYY hh:mm:ss", "02.03.2026 08:15:09"), "2026-03-02T08:15:09Z");
    EXPECT_EQ(as("DD.MM.YYYY hh:mm:ss", "02.03.2026 08:15:09", 60), "2026-03-02T08:15:09+01:00");
    EXPECT_EQ(as("M/D/YYYY h:mm AM", "3/2/2026 12:05 am"), "2026-03-02T00:05:00Z");
    EXPECT_EQ(as("M/D/YYYY h:mm AM", "12/31/2026 12:05 PM"), "2026-12-31T12:05:00Z");
    EXPECT_EQ(as("YYYYMMDDhhmm zone", "202603020815 +0530"), "2026-03-02T08:15:00+05:30");
    EXPECT_EQ(as("YY-MM-DD hh:mm:ss.fff", "26-03-02 08:15:09.25"), "2026-03-02T08:15:09.250Z");
    EXPECT_EQ(as("DD.MM.YYYY", "31.02.2026"), "none");
    EXPECT_EQ(as("DD.MM.YYYY", "31.01.2026 "), "2026-01-31T00:00:00Z");
    EXPECT_EQ(as("M/D/YYYY h:mm AM", "3/2/2026 13:05 PM"), "none");
    EXPECT_FALSE(DatePattern::from("hh:mm").has_value());
}

TEST(Zone, AsWritten)
{
    EXPECT_EQ(parse_zone("+01:00"), std::int16_t{60});
    EXPECT_EQ(parse_zone("-0330"), std::int16_t{-210});
    EXPECT_EQ(parse_zone("Z"), std::int16_t{0});
    EXPECT_EQ(parse_zone("+14"), std::int16_t{840});
    for (char const* const text : {"", "1", "+1", "+24:00", "+01:60", "CET", "+01:0", "+0100x"})
        EXPECT_FALSE(parse_zone(text)) << text;
}

} // namespace moment_test
} // namespace guidepin::intake
