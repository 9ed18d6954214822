// SPDX-License-Identifier: Apache-2.0
#include "intake/cells.hpp"

#include "verdict/readings.hpp"

#include <gtest/gtest.h>

namespace guidepin::intake {
namespace cells_test {

TEST(Cells, EdgesOfTheRanges)
{
    std::int16_t position = 0;
    for (char const* const good : {"1", "64", "01", "+7"})
        EXPECT_EQ(read_position(good, position), nullptr) << good;
    for (char const* const bad : {"", "0", "65", "-1", "1.0", "a", "00065", "1 2", "99999999999999999999"}) {
        EXPECT_NE(read_position(bad, position), nullptr) << bad;
    }
    for (char const* const good : {"", "0", "64", "Dark"})
        EXPECT_EQ(read_far_position(good, position), nullptr) << good;
    for (char const* const bad : {"65", "-1", "none", "1.5"})
        EXPECT_NE(read_far_position(bad, position), nullptr) << bad;
    std::uint16_t wavelength = 0;
    for (char const* const good : {"600", "1700", "850nm", "850 NM", "850.0"}) {
        EXPECT_EQ(read_wavelength(good, wavelength), nullptr) << good;
    }
    for (char const* const bad : {"", "599", "1701", "850.5", "0.85", "850 um", "1e9"}) {
        EXPECT_NE(read_wavelength(bad, wavelength), nullptr) << bad;
    }
    double value = 0;
    for (char const* const good : {"-5", "80", "0", "0.35 dB", "1e-2"})
        EXPECT_EQ(read_value(good, '.', false, value), nullptr) << good;
    for (char const* const bad : {"", "-5.001", "80.001", "nan", "inf", "0.35 dBm", "0,35", "dB"}) {
        EXPECT_NE(read_value(bad, '.', false, value), nullptr) << bad;
    }
    for (char const* const good : {"-100", "30", "-20.1 dBm"})
        EXPECT_EQ(read_value(good, '.', true, value), nullptr) << good;
    for (char const* const bad : {"-100.1", "30.1", "-20 dB"})
        EXPECT_NE(read_value(bad, '.', true, value), nullptr) << bad;
    std::uint8_t end = 9;
    EXPECT_EQ(read_end("B", end), nullptr);
    EXPECT_EQ(end, 1);
    for (char const* const bad : {"", "c", "ab", "!"}) EXPECT_NE(read_end(bad, end), nullptr) << bad;
    int count = 9;
    EXPECT_EQ(read_count("", count), nullptr);
    EXPECT_EQ(count, 0);
    for (char const* const bad : {"-1", "1001", "1.5", "x"})
        EXPECT_NE(read_count(bad, count), nullptr) << bad;
}

TEST(Cells, Lengths)
{
    double metres = 0;
    EXPECT_EQ(read_length("30,5 m", ',', LengthUnit::metres, metres), nullptr);
    EXPECT_EQ(metres, 30.5);
    EXPECT_EQ(read_length("1 km", '.', LengthUnit::feet, metres), nullptr);
    EXPECT_EQ(metres, 1000);
    EXPECT_EQ(read_length("10'", '.', LengthUnit::in_value, metres), nullptr);
    EXPECT_DOUBLE_EQ(metres, 3.048);
    for (char const* const bad : {"-1", "200001", "x", "30 yd", "1,5"}) {
        EXPECT_NE(read_length(bad, '.', LengthUnit::metres, metres), nullptr) << bad;
    }
    EXPECT_NE(read_length("30", '.', LengthUnit::in_value, metres), nullptr);
    EXPECT_NE(read_length("1.234,5", ',', LengthUnit::metres, metres), nullptr);
}

} // namespace cells_test
} // namespace guidepin::intake
