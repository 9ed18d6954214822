// SPDX-License-Identifier: Apache-2.0
// Every odd input that the issue lists, and the property that the number of threads and the size of the
// pieces never show.
#include "intake/readings.hpp"

#include "base/text.hpp"
#include "intake/column_map.hpp"
#include "intake/readings_columns.hpp"
#include "intake/write.hpp"
#include "intake_readings.hpp"

#include <cmath>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::intake {
namespace readings_test {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using verdict::LaunchEnd;
using verdict::ReadingColumns;

constexpr std::string_view header = "link,launch_end,position,far_position,wavelength_nm,attenuation_db,"
                                    "length_m,taken_at,reference,operator\n";
constexpr std::string_view good_row = "L-1,a,1,12,850,0.35,42.5,2026-03-02T08:15:00+01:00,R1,Crew 3\n";

Intake<ReadingColumns> read(std::string const& text, ReadOptions const& options = {})
{
    auto result = read_readings(text, options);
    EXPECT_TRUE(result.has_value()) << (result ? "" : result.error().message);
    return result ? std::move(*result) : Intake<ReadingColumns>{};
}

std::string error_of(std::string const& text, ReadOptions const& options = {})
{
    auto const result = read_readings(text, options);
    EXPECT_FALSE(result.has_value());
    if (result) return {};
    EXPECT_EQ(result.error().code, Errc::invalid_input);
    return result.error().message;
}

TEST(Readings, PlainRow)
{
    auto const found = read(std::string(header) + std::string(good_row));
    ReadingColumns const& rows = found.content;
    ASSERT_EQ(rows.size(), 1u);
    EXPECT_EQ(rows.links.text(rows.link[0]), "L-1");
    EXPECT_EQ(rows.launch_end[0], LaunchEnd::a);
    EXPECT_EQ(rows.position[0], 1);
    EXPECT_EQ(rows.far_position[0], 12);
    EXPECT_EQ(rows.wavelength_nm[0], 850);
    EXPECT_EQ(rows.value[0], 0.35);
    EXPECT_EQ(rows.length_m[0], 42.5);
    EXPECT_EQ(instant_text({rows.taken_ms[0], rows.offset_minutes[0]}), "2026-03-02T08:15:00+01:00");
    EXPECT_EQ(rows.references.text(rows.reference[0]), "R1");
    EXPECT_EQ(rows.operators.text(rows.operator_name[0]), "Crew 3");
    EXPECT_EQ(rows.line[0], 2u);
    EXPECT_FALSE(rows.is_power);
    EXPECT_FALSE(found.refused);
    EXPECT_EQ(found.rows, 1u);
}

TEST(Readings, ColumnsAreMadeForRowsAndNotForEmptyLines)
{
    // Symptom: 100 MB of empty lines took 4.9 GB, 49 bytes for each line. Cause: columns were made for every
    // line feed.
    for (std::string const& nothing : {std::string("\n"), std::string("\r\n"), std::string(" \n")}) {
        std::string file(header);
        for (int i = 0; i < 200'000; ++i) file += nothing;
        file += good_row;
        for (char const* const quoted : {"", "\"L-2\",b,1,12,850,0.35,42.5,,R1,Crew 3\n"}) {
            auto const found = read(file + quoted);
            EXPECT_EQ(found.content.size(), *quoted == '\0' ? 1u : 2u);
            EXPECT_EQ(found.content.line[0], 200'002u);
            EXPECT_LE(found.content.link.capacity(), 4u);
            EXPECT_LE(found.content.value.capacity(), 4u);
        }
    }
    std::string separators(header);
    for (int i = 0; i < 100'000; ++i) separators += ",,,,,,,,,\n";
    EXPECT_LE(read(separators + std::string(good_row)).content.link.capacity(), 100'001u);
    // The shortest row that holds, without a line feed at the end, still finds its place.
    std::string const least =
        "link,launch_end,position,wavelength_nm,attenuation_db\nL,a,1,850,0\nM,b,2,850,1";
    EXPECT_EQ(read(least).content.size(), 2u);
}

TEST(Readings, OnlyWhatIsRequired)
{
    auto const found = read("link,launch_end,position,wavelength_nm,power_dbm\nL-1,B,3,1310,-21.5\n");
    ReadingColumns const& rows = found.content;
    ASSERT_EQ(rows.size(), 1u);
    EXPECT_TRUE(rows.is_power);
    EXPECT_EQ(rows.value[0], -21.5);
    EXPECT_EQ(rows.launch_end[0], LaunchEnd::b);
    EXPECT_EQ(rows.far_position[0], verdict::far_not_stated);
    EXPECT_TRUE(std::isnan(rows.length_m[0]));
    EXPECT_EQ(rows.taken_ms[0], ReadingColumns::no_time);
    EXPECT_EQ(rows.reference[0], verdict::Dictionary::missing);
    EXPECT_EQ(rows.operator_name[0], verdict::Dictionary::missing);
}

// The same two readings written in all the ways of locales and programs.
TEST(Readings, SameContentHoweverItIsWritten)
{
    std::string const plain = "link,launch_end,position,wavelength_nm,attenuation_db,length_m\nL "
                              "1,a,1,850,0.35,30.5\nL 1,a,2,850,-0.02,30.5\n";
    auto const expected = readings_csv(read(plain).content);
    std::vector<std::string> const others{
        "\xEF\xBB\xBF" + plain,
        "link;launch_end;position;wavelength_nm;attenuation_db;length_m\nL 1;a;1;850;0,35;30,5\nL "
        "1;a;2;850;-0,02;30,5\n",
        "link\tlaunch_end\tposition\twavelength_nm\tattenuation_db\tlength_m\nL 1\ta\t1\t850\t0.35\t30.5\nL "
        "1\ta\t2\t850\t-0.02\t30.5",
        "link,launch_end,position,wavelength_nm,attenuation_db,length_m\r\nL 1,a,1,850,0.35,30.5\r\n\r\nL "
        "1,a,2,850,-0.02,30.5\r\n",
        "\"link\",\"launch_end\",\"position\",\"wavelength_nm\",\"attenuation_db\",\"length_m\"\n\"L "
        "1\",\"a\",\"1\",\"850\",\"0,35\",\"30,5\"\n\"L 1\",a,2,850,\"-0,02\",\"30,5\"\n",
        " Link , Launch End,POSITION,Wavelength-nm,attenuation_dB,Length_M\n L 1 , A ,1, 850 ,0.35 , 30.5\nL "
        "1,a,2,850,-0.02,30.5\n,,,,,\n",
        "note,position,link,launch_end,wavelength_nm,attenuation_db,length\nx,1,L 1,a,850nm,0.35 dB,30.5 "
        "m\ny,2,L 1,a,850 nm,-.02dB,3050e-2m\n",
    };
    for (std::string const& text : others) EXPECT_EQ(readings_csv(read(text).content), expected) << text;
}

TEST(Readings, LengthInFeet)
{
    auto const feet = read("link,launch_end,position,wavelength_nm,attenuation_db,length_ft\nL,a,1,850,0.3,"
                           "100\nL,a,2,850,0.3,10 m\n");
    EXPECT_DOUBLE_EQ(feet.content.length_m[0], 30.48); // the international foot is 0.3048 m exactly
    EXPECT_EQ(feet.content.length_m[1], 10);
    auto const own =
        read("link,launch_end,position,wavelength_nm,attenuation_db,length\nL,a,1,850,0.3,100 ft\n");
    EXPECT_DOUBLE_EQ(own.content.length_m[0], 30.48);
    EXPECT_EQ(
        read("link,launch_end,position,wavelength_nm,attenuation_db,length\nL,a,1,850,0.3,100\n").bad.count,
        1u);
}

TEST(Readings, QuotedLineBreaksAndQuotes)
{
    auto const found = read("link,launch_end,position,wavelength_nm,attenuation_db,operator\n"
                            "\"L\n1\",a,1,850,0.1,\"the \"\"blue\"\" "
                            "crew\"\nL2,a,1,850,0.2,\n\"L\n1\",a,2,850,0.3,\"the \"\"blue\"\" crew\"\n");
    ReadingColumns const& rows = found.content;
    ASSERT_EQ(rows.size(), 3u);
    EXPECT_EQ(rows.links.text(rows.link[0]), "L\n1");
    EXPECT_EQ(rows.operators.text(rows.operator_name[0]), "the \"blue\" crew");
    EXPECT_EQ(rows.operator_name[2], rows.operator_name[0]);
    EXPECT_EQ(rows.link[2], rows.link[0]);
    EXPECT_THAT(rows.line, ElementsAre(2u, 4u, 5u));
}

TEST(Readings, DarkAndUnstatedFarPositions)
{
    auto const found = read("link,launch_end,position,far_position,wavelength_nm,attenuation_db\nL,a,1,0,850,"
                            "0.1\nL,a,2,dark,850,0.1\nL,a,3,,850,0.1\n");
    EXPECT_THAT(found.content.far_position, ElementsAre(0, 0, -1));
}

TEST(Readings, AllBadCellsAtOnceByLineColumnValueAndReason)
{
    std::string const text = std::string(header) + std::string(good_row) +
                             "L-1,c,65,99,850.5,9x,-1,yesterday,R1,x\n"      // every cell but the names
                             "L-1,a,1,1,850,0.3\n"                           // too few
                             ",a,0,1,599,80.5,1,2026-03-02T08:15:00Z,R1,x\n" // empty name, ranges
                             "L-1,a,2,1,850,nan,1,2026-03-02T08:15:00Z,R1,x\n";
    auto const found = read(text);
    EXPECT_TRUE(found.refused);
    EXPECT_EQ(found.content.size(), 0u);
    EXPECT_EQ(found.content.links.size(), 0u);
    EXPECT_EQ(found.rows, 5u);
    EXPECT_EQ(found.bad.rows, 4u);
    std::vector<std::string> told;
    for (Problem const& problem : found.bad.listed)
        told.push_back(fmt::format("{} {} {}", problem.line, problem.column, problem.value));
    EXPECT_THAT(told, ElementsAre("3 launch_end c", "3 position 65", "3 far_position 99",
                                  "3 wavelength_nm 850.5", "3 attenuation_db 9x", "3 length_m -1",
                                  "3 taken_at yesterday", "4  ", "5 link ", "5 position 0",
                                  "5 wavelength_nm 599", "5 attenuation_db 80.5", "6 attenuation_db nan"));
    EXPECT_THAT(found.bad.listed[1].reason, HasSubstr("1 to 64"));
    EXPECT_THAT(found.bad.listed[7].reason, HasSubstr("6 fields where the header has 10"));
    EXPECT_THAT(found.bad.listed[8].reason, HasSubstr("empty"));
    std::string const message = refusal("readings.csv", found.bad, found.rows).message;
    EXPECT_THAT(message, HasSubstr("readings.csv: 4 of 5 rows do not hold"));
    EXPECT_THAT(message, HasSubstr("line 3, position: '65': is outside the positions 1 to 64"));
}

TEST(Readings, GoodRowsAreKeptWhenAskedFor)
{
    std::string const text = std::string(header) + "L-9,a,99,1,850,0.3,1,,R9,x\n" + std::string(good_row);
    ReadOptions options;
    options.keep_good_rows = true;
    auto const found = read(text, options);
    EXPECT_FALSE(found.refused);
    ASSERT_EQ(found.content.size(), 1u);
    EXPECT_EQ(found.content.line[0], 3u);
    EXPECT_EQ(found.bad.rows, 1u);
    EXPECT_EQ(found.content.links.size(), 1u) << "a name that only a bad row has is not a link that was read";
    EXPECT_EQ(found.content.links.text(found.content.link[0]), "L-1");
}

TEST(Readings, ListIsCappedButAllAreCounted)
{
    std::string text(header);
    for (int i = 0; i < 500; ++i) text += "L,a,99,1,850,0.3,1,,R,x\n";
    ReadOptions options;
    options.listed_at_most = 7;
    auto const found = read(text, options);
    EXPECT_EQ(found.bad.listed.size(), 7u);
    EXPECT_EQ(found.bad.count, 500u);
    EXPECT_EQ(found.bad.rows, 500u);
    EXPECT_THAT(problems_text(found.bad), HasSubstr("and 493 more"));
}

TEST(Readings, Headers)
{
    EXPECT_THAT(error_of(""), HasSubstr("empty"));
    EXPECT_THAT(error_of(" \r\n\n"), HasSubstr("empty"));
    EXPECT_THAT(error_of("\xFF\xFEl\0i\0"), HasSubstr("UTF-16"));
    EXPECT_THAT(error_of("PK\x03\x04..."), HasSubstr("workbook"));
    EXPECT_EQ(read(std::string(header)).rows, 0u);
    std::string const missing = error_of("link,launch_end,pos,wavelength,attenuation_db\nL,a,1,850,0.1\n");
    EXPECT_THAT(missing, HasSubstr("'position' is missing"));
    EXPECT_THAT(missing, HasSubstr("'wavelength_nm' is missing (is it 'wavelength'?)"));
    EXPECT_THAT(missing, HasSubstr("column map"));
    EXPECT_THAT(error_of("link,launch_end,position,wavelength_nm\nL,a,1,850\n"),
                HasSubstr("'attenuation_db' or 'power_dbm' is missing"));
    EXPECT_THAT(error_of("link,launch_end,position,wavelength_nm,attenuation_db,power_dbm\n"),
                HasSubstr("keep one"));
    EXPECT_THAT(error_of("link,link,launch_end,position,wavelength_nm,attenuation_db\n"),
                HasSubstr("is there twice"));
    EXPECT_THAT(error_of("link,launch_end,position,wavelength_nm,attenuation_db,far_postion\n"),
                HasSubstr("is it 'far_position'?"));
    EXPECT_THAT(read("link,launch_end,position,wavelength_nm,attenuation_db,weather\n").unused_columns,
                ElementsAre("weather"));
    EXPECT_THAT(error_of(std::string(5000, ',') + "\n"), HasSubstr("5001 columns; at most 5000"));
    ReadOptions named;
    named.name = "r.csv";
    EXPECT_THAT(error_of("", named), HasSubstr("r.csv: "));
}

TEST(Readings, DecimalMarkIsOneForTheFile)
{
    auto const mixed =
        read("link;launch_end;position;wavelength_nm;attenuation_db\nL;a;1;850;0,35\nL;a;2;850;0.35\n");
    EXPECT_TRUE(mixed.refused);
    ASSERT_EQ(mixed.bad.listed.size(), 1u);
    EXPECT_EQ(mixed.bad.listed[0].line, 3u);
    EXPECT_THAT(mixed.bad.listed[0].reason, HasSubstr("decimal comma"));
    ReadOptions told;
    told.decimal = ',';
    told.separator = ';';
    EXPECT_EQ(
        read("link;launch_end;position;wavelength_nm;attenuation_db\nL;a;1;850;1\nL;a;2;850;0,35\n", told)
            .content.value[1],
        0.35);
    EXPECT_EQ(read("link;launch_end;position;wavelength_nm;attenuation_db\nL;a;1;850;1\nL;a;2;850;0,35\n")
                  .content.value[1],
              0.35)
        << "the first decimals may come late";
}

TEST(Readings, DefaultZone)
{
    ReadOptions options;
    options.default_offset_minutes = 120;
    auto const found = read(
        "link,launch_end,position,wavelength_nm,attenuation_db,taken_at\nL,a,1,850,0.1,2026-07-01 10:00\n",
        options);
    EXPECT_EQ(instant_text({found.content.taken_ms[0], found.content.offset_minutes[0]}),
              "2026-07-01T10:00:00+02:00");
}

TEST(Readings, SaidTwiceIsKeptOnceSaidDifferentlyIsBad)
{
    std::string const h = "link,launch_end,position,wavelength_nm,attenuation_db,taken_at\n";
    std::string const t1 = ",2026-03-02T08:15:00Z\n";
    std::string const t2 = ",2026-03-02T09:15:00Z\n";
    auto const twice =
        read(h + "L,a,1,850,0.3" + t1 + "L,a,2,850,0.3" + t1 + "L,a,1,850,0.30" + t1 + "L,b,1,850,0.3" + t1);
    EXPECT_FALSE(twice.refused);
    EXPECT_EQ(twice.bad.count, 0u);
    EXPECT_EQ(twice.repeated.count, 1u);
    EXPECT_EQ(twice.repeated.listed[0].line, 4u);
    EXPECT_THAT(twice.repeated.listed[0].reason, HasSubstr("line 2"));
    EXPECT_THAT(twice.content.line, ElementsAre(2u, 3u, 5u));

    EXPECT_EQ(read(h + "L,a,1,850,0.3" + t1 + "L,a,1,850,0.4" + t2).content.size(), 2u) << "a retest";

    std::string const against =
        h + "L,a,1,850,0.3" + t1 + "M,a,1,850,0.3" + t1 + "L,a,1,850,0.4" + t1 + "L,a,1,850,0.3" + t1;
    auto const refused = read(against);
    EXPECT_TRUE(refused.refused);
    EXPECT_EQ(refused.bad.rows, 3u);
    ReadOptions options;
    options.keep_good_rows = true;
    auto const kept = read(against, options);
    EXPECT_THAT(kept.content.line, ElementsAre(3u));
    EXPECT_EQ(kept.content.links.text(kept.content.link[0]), "M");
    EXPECT_EQ(kept.content.links.size(), 1u);

    auto const no_time =
        read("link,launch_end,position,wavelength_nm,attenuation_db\nL,a,1,850,0.3\nL,a,1,850,0.4\n");
    EXPECT_EQ(no_time.bad.rows, 2u);
    auto const with_other_fault =
        read(h + "L,a,1,850,0.3" + t1 + "L,a,99,850,0.3" + t1 + "L,a,1,850,0.4" + t1);
    EXPECT_EQ(with_other_fault.bad.rows, 3u) << "all bad rows at once, of either kind";
    EXPECT_EQ(with_other_fault.bad.listed[1].line, 3u);
}

TEST(Readings, FaultsOfQuotes)
{
    std::string const h = "link,launch_end,position,wavelength_nm,attenuation_db\n";
    auto const inside = read(h + "L 12\" rack,a,1,850,0.1\nL,a,1,850,0.1\n");
    EXPECT_EQ(inside.bad.rows, 1u);
    EXPECT_EQ(inside.bad.listed[0].column, "link");
    auto const open = read(h + "L,a,1,850,0.1\n\"L,a,2,850,0.1\nL,a,3,850,0.1\n");
    EXPECT_EQ(open.bad.rows, 1u);
    EXPECT_EQ(open.bad.listed[0].line, 3u);
    EXPECT_THAT(open.bad.listed[0].reason, HasSubstr("never closed"));
    EXPECT_EQ(read(h + "L\x80,a,1,850,0.1\n").bad.listed.at(0).value, "L\\x80");
    EXPECT_EQ(read(h + "L\x01,a,1,850,0.1\n").bad.rows, 1u);
}

TEST(Readings, FormulaGuardComesOffAgain)
{
    auto const found = read(
        "link,launch_end,position,wavelength_nm,attenuation_db\n'=1+1,a,1,850,0.1\n'plain,a,1,850,0.1\n");
    EXPECT_EQ(found.content.links.text(0), "=1+1");
    EXPECT_EQ(found.content.links.text(1), "'plain");
}

RC_GTEST_PROP(Readings, WrittenAndReadAgainIsTheSame, ())
{
    ReadingColumns const rows = *arbitrary_readings();
    std::string const text = readings_csv(rows);
    auto const again = read_readings(text, {});
    RC_ASSERT(again.has_value());
    RC_ASSERT(again->bad.count == 0u);
    RC_ASSERT(same_readings(again->content, rows));
}

std::string dumped(Intake<ReadingColumns> const& found)
{
    std::string text = fmt::format("{} {} {} {} {}\n", found.rows, found.refused, found.bad.count,
                                   found.bad.rows, found.repeated.count);
    text += problems_text(found.bad) + problems_text(found.repeated) + readings_csv(found.content);
    for (std::uint32_t const line : found.content.line) text += fmt::format("{} ", line);
    for (std::uint32_t const link : found.content.link) text += fmt::format("{} ", link);
    for (std::uint32_t i = 0; i < found.content.links.size(); ++i) text += found.content.links.text(i) + "|";
    return text;
}

// Valid and broken rows, quotes in all places, both line ends: any threads and any piece size give the same,
// and so does the row-by-row reader, which shares neither the cuts nor the scan with it.
RC_GTEST_PROP(Readings, AnyNumberOfThreadsAndPiecesGivesTheSame, ())
{
    std::string const text = *arbitrary_file();
    ReadOptions options;
    options.keep_good_rows = *rc::gen::arbitrary<bool>();
    options.listed_at_most = *rc::gen::inRange<std::size_t>(1, 12);
    auto const expected = read_readings_by_row(text, options);
    for (int const threads : {1, 2, 5}) {
        options.threads = threads;
        for (std::size_t const piece : {1u, 37u, 400u, 1'000'000u}) {
            auto const found = read_readings_in_pieces(text, options, piece);
            RC_ASSERT(found.has_value() == expected.has_value());
            if (found) {
                RC_ASSERT(dumped(*found) == dumped(*expected));
            } else {
                RC_ASSERT(found.error().message == expected.error().message);
            }
        }
    }
}

TEST(Readings, ManyPiecesOfALargerFile)
{
    std::string text(header);
    for (int link = 0; link < 300; ++link) {
        for (int position = 1; position <= 12; ++position) {
            text += fmt::format("L-{},a,{},{},850,0.{:02},30,2026-03-02T08:{:02}:{:02}Z,R{},\"Crew, {}\"\n",
                                link % 150, position, position, position, link / 60, link % 60, link / 100,
                                link % 3);
        }
    }
    ReadOptions options;
    auto const one = read_readings_in_pieces(text, options, 1'000'000'000);
    options.threads = 3;
    auto const many = read_readings_in_pieces(text, options, 1000);
    ASSERT_TRUE(one && many);
    EXPECT_EQ(one->content.size(), 3600u);
    EXPECT_EQ(dumped(*one), dumped(*many));
}

} // namespace readings_test
} // namespace guidepin::intake
