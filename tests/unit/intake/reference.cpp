// SPDX-License-Identifier: Apache-2.0
#include "intake/reference.hpp"

#include "intake/cells.hpp"
#include "intake/csv.hpp"
#include "intake/write.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace guidepin::intake {
namespace reference_test {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

TEST(Reference, PowersAndRepeatedReadingsAreAllKept)
{
    auto const found = read_reference("reference,position,wavelength_nm,power_dbm,taken_at\n"
                                      "R1,1,850,-20.12,2026-03-02T08:00:00+01:00\nR1,1,850,-20.12,2026-03-"
                                      "02T08:00:00+01:00\nR1,2,850,-20.3 dBm,\n");
    ASSERT_TRUE(found.has_value());
    EXPECT_EQ(found->content.size(), 3u) << "equal readings show that the reference repeats";
    EXPECT_THAT(found->content.power_dbm, ElementsAre(-20.12, -20.12, -20.3));
    EXPECT_THAT(found->content.position, ElementsAre(1, 1, 2));
    EXPECT_EQ(found->content.taken_ms[2], verdict::ReadingColumns::no_time);
    auto const again = read_reference(reference_csv(found->content));
    ASSERT_TRUE(again.has_value());
    EXPECT_EQ(reference_csv(again->content), reference_csv(found->content));
    EXPECT_EQ(again->content.taken_ms, found->content.taken_ms);
}

TEST(Reference, BadRows)
{
    auto const found =
        read_reference("reference,position,wavelength_nm,power_dbm\nR1,1,850,-101\n,2,850,-20\nR1,3,,x\n");
    ASSERT_TRUE(found.has_value());
    EXPECT_TRUE(found->refused);
    EXPECT_EQ(found->content.size(), 0u);
    EXPECT_EQ(found->bad.rows, 3u);
    EXPECT_EQ(found->bad.count, 4u);
    EXPECT_THAT(found->bad.listed[0].reason, HasSubstr("-100 to 30 dBm"));
}

TEST(CordCheck, RowsAndRoundTrip)
{
    auto const found = read_cord_check(
        "check,reference,position,far_position,wavelength_nm,attenuation_db,length_m,taken_at\n"
        "C1,R1,1,12,850,0.21,4,2026-03-02T08:05:00Z\nC1,,2,0,850,0.3,,\nC1,R1,1,12,850,0.21,4,2026-03-02T08:"
        "05:00Z\n");
    ASSERT_TRUE(found.has_value());
    CordChecks const& checks = found->content;
    ASSERT_EQ(checks.size(), 2u);
    EXPECT_EQ(found->repeated.count, 1u);
    EXPECT_EQ(checks.checks.text(checks.check[0]), "C1");
    EXPECT_EQ(checks.references.text(checks.reference[0]), "R1");
    EXPECT_EQ(checks.reference[1], verdict::Dictionary::missing);
    EXPECT_THAT(checks.far_position, ElementsAre(12, 0));
    EXPECT_EQ(checks.length_m[0], 4);
    EXPECT_TRUE(std::isnan(checks.length_m[1]));
    auto const again = read_cord_check(cord_check_csv(checks));
    ASSERT_TRUE(again.has_value());
    EXPECT_EQ(cord_check_csv(again->content), cord_check_csv(checks));
    EXPECT_EQ(again->content.value, checks.value);
}

TEST(CordCheck, PowerAndContradiction)
{
    auto const power = read_cord_check("check,position,wavelength_nm,power_dbm\nC1,1,850,-20.4\n");
    ASSERT_TRUE(power.has_value());
    EXPECT_TRUE(power->content.is_power);
    auto const against =
        read_cord_check("check,position,wavelength_nm,attenuation_db\nC1,1,850,0.2\nC1,1,850,0.3\n");
    ASSERT_TRUE(against.has_value());
    EXPECT_TRUE(against->refused);
    EXPECT_EQ(against->bad.rows, 2u);
    EXPECT_THAT(against->bad.listed[1].reason,
                HasSubstr("same check, position, wavelength and time as line 2"));
}

TEST(Limits, AFileThatIsNoReferenceIsRefusedByRowsAndNames)
{
    std::string const head = "reference,position,wavelength_nm,power_dbm\n";
    auto const rows = [&](std::size_t count, auto const& name) {
        std::string file = head;
        for (std::size_t i = 0; i < count; ++i) file += fmt::format("{},1,850,-20\n", name(i));
        return file;
    };
    auto const one = [](std::size_t) { return std::string("R-1"); };
    EXPECT_TRUE(read_reference(rows(most_rows_of_one, one)).has_value());
    auto const many = read_reference(rows(most_rows_of_one + 1, one));
    ASSERT_FALSE(many.has_value());
    EXPECT_THAT(many.error().message, HasSubstr("Line 10002: reference 'R-1' has more than 10000 rows"));
    auto const names = read_reference(rows(1001, [](std::size_t i) { return fmt::format("R-{}", i); }));
    ASSERT_FALSE(names.has_value());
    EXPECT_THAT(names.error().message, HasSubstr("Line 1002: the file names more than 1000 references"));
    auto const all =
        read_reference(rows(100'001, [](std::size_t i) { return fmt::format("R-{}", i % 1000); }));
    ASSERT_FALSE(all.has_value());
    EXPECT_THAT(all.error().message, HasSubstr("more than 100000 rows"));
    // Rows that do not hold count too: they cannot make the list endless.
    auto const bad = read_reference(rows(100'001, [](std::size_t) { return std::string(); }));
    ASSERT_FALSE(bad.has_value());
    EXPECT_THAT(bad.error().message, HasSubstr("more than 100000 rows"));
}

TEST(Limits, ALineOrACellThatIsTooLongIsRefused)
{
    std::string const head = "reference,position,wavelength_nm,power_dbm,taken_at\n";
    std::string const long_line(longest_line + 1, 'x');
    for (std::string const& before : {std::string(), head, head + "R,1,850,-20,\n"}) {
        auto const found = read_reference(before + long_line + "\nR,1,850,-20,\n");
        ASSERT_FALSE(found.has_value());
        EXPECT_THAT(found.error().message,
                    HasSubstr(fmt::format("Line {} is longer than 1048576 bytes",
                                          1 + std::count(before.begin(), before.end(), '\n'))));
    }
    // Just as long as allowed, many times over: the lines are not taken for one.
    std::string file = head;
    for (int i = 0; i < 3; ++i) file += "R,1,850,-20," + std::string(longest_line - 12, ' ') + "\n";
    EXPECT_EQ(read_reference(file)->content.size(), 3u);
    auto const cell = read_reference(head + "R,1,850,-20," + std::string(longest_cell + 1, '2') + "\n");
    ASSERT_TRUE(cell.has_value());
    EXPECT_TRUE(cell->refused);
    EXPECT_EQ(cell->bad.listed[0].reason, "is longer than 4096 bytes");
}

} // namespace reference_test
} // namespace guidepin::intake
