// SPDX-License-Identifier: Apache-2.0
#include "intake/column_map.hpp"

#include "intake/readings.hpp"
#include "intake/reference.hpp"
#include "intake/schedule.hpp"
#include "intake/write.hpp"
#include "intake_readings.hpp"

#include <cmath>
#include <fstream>
#include <sstream>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::intake {
namespace column_map_test {

using ::testing::HasSubstr;

ColumnMap map_of(std::string const& toml)
{
    auto map = read_column_map(toml, "map.toml");
    EXPECT_TRUE(map.has_value()) << (map ? "" : map.error().message);
    return map ? std::move(*map) : ColumnMap{};
}

std::string error_of(std::string const& toml)
{
    auto const map = read_column_map(toml, "map.toml");
    EXPECT_FALSE(map.has_value());
    return map ? "" : map.error().message;
}

Intake<verdict::ReadingColumns> read(std::string const& text, ColumnMap const& map, ReadOptions options = {})
{
    options.map = &map;
    auto found = read_readings(text, options);
    EXPECT_TRUE(found.has_value()) << (found ? "" : found.error().message);
    return found ? std::move(*found) : Intake<verdict::ReadingColumns>{};
}

constexpr char const* identity = R"(
layout = "readings"
column.link.from = "link"
column.launch_end.from = "launch_end"
column.position.from = "position"
column.far_position.from = "far_position"
column.wavelength_nm.from = "wavelength_nm"
column.attenuation_db.from = "attenuation_db"
column.length_m.from = "length_m"
column.taken_at.from = "taken_at"
column.reference.from = "reference"
column.operator.from = "operator"
)";

RC_GTEST_PROP(ColumnMap, TheIdentityChangesNothing, ())
{
    auto rows = *arbitrary_readings();
    rows.is_power = false;
    std::string const text = readings_csv(rows);
    auto const map = read_column_map(identity);
    RC_ASSERT(map.has_value());
    ReadOptions options;
    auto const plain = read_readings(text, options);
    options.map = &*map;
    auto const mapped = read_readings(text, options);
    RC_ASSERT(plain.has_value());
    RC_ASSERT(mapped.has_value());
    RC_ASSERT(same_readings(mapped->content, plain->content));
    RC_ASSERT(mapped->content.line == plain->content.line);
}

TEST(ColumnMap, UnitsScalesConstantsValuesAndTimes)
{
    auto const map = map_of(R"toml(
layout = "readings"
[file]
separator = ";"
decimal = ","
skip_lines = 2
comment = "#"
zone = "+02:00"
empty = ["n/a"]
[column.link]
from = "Cable"
[column.launch_end]
from = "Side"
values = { near = "a", "Far End" = "b" }
[column.position]
from = "Core"
add = 1
[column.wavelength_nm]
from = "Lambda"
unit = "um"
[column.attenuation_db]
from = "Gain"
scale = -1
[column.length_m]
from = "Len (ft)"
unit = "ft"
[column.taken_at]
from = ["Date", "Time"]
pattern = "DD.MM.YYYY hh:mm"
[column.operator]
constant = "Crew 3"
)toml");
    auto const found =
        read("made by hand\nsecond; line\n# a comment\nCable;Side;Core;Lambda;Gain;Len (ft);Date;Time\n"
             "C1;near;0;0,85;-0,35;100;02.03.2026;08:15\n# another\nC1;far  "
             "end;1;1,31;0,02;n/a;02.03.2026;08:16\n",
             map);
    ASSERT_EQ(found.content.size(), 2u) << problems_text(found.bad);
    auto const& rows = found.content;
    EXPECT_EQ(rows.launch_end[0], verdict::LaunchEnd::a);
    EXPECT_EQ(rows.launch_end[1], verdict::LaunchEnd::b);
    EXPECT_EQ(rows.position[0], 1);
    EXPECT_EQ(rows.position[1], 2);
    EXPECT_EQ(rows.wavelength_nm[0], 850);
    EXPECT_EQ(rows.wavelength_nm[1], 1310);
    EXPECT_EQ(rows.value[0], 0.35);
    EXPECT_EQ(rows.value[1], -0.02);
    EXPECT_DOUBLE_EQ(rows.length_m[0], 30.48);
    EXPECT_TRUE(std::isnan(rows.length_m[1]));
    EXPECT_EQ(instant_text({rows.taken_ms[0], rows.offset_minutes[0]}), "2026-03-02T08:15:00+02:00");
    EXPECT_EQ(rows.operators.text(rows.operator_name[0]), "Crew 3");
    EXPECT_EQ(rows.line[0], 5u);
    EXPECT_EQ(rows.line[1], 7u);
}

TEST(ColumnMap, PowersInWatts)
{
    // Closed form: 10 log10(P / 1 mW): 1 mW is 0 dBm, 10 uW is -20 dBm, 1 nW is -60 dBm.
    for (auto const& [unit, text] : std::vector<std::pair<std::string, std::string>>{
             {"mW", "0.01"}, {"uW", "10"}, {"µW", "10"}, {"nW", "10000"}, {"W", "1e-5"}}) {
        auto const map = map_of(fmt::format(
            "layout = \"reference\"\n[column.reference]\nconstant = \"R1\"\n[column.position]\nfrom = \"p\"\n"
            "[column.wavelength_nm]\nconstant = \"850\"\n[column.power_dbm]\nfrom = \"Level\"\nunit = "
            "\"{}\"\n",
            unit));
        ReadOptions options;
        options.map = &map;
        auto const found = read_reference(fmt::format("p,Level\n1,{}\n2,0\n", text), options);
        ASSERT_TRUE(found.has_value());
        EXPECT_EQ(found->bad.rows, 1u);
        EXPECT_THAT(found->bad.listed[0].reason, HasSubstr("above zero"));
        options.keep_good_rows = true;
        auto const kept = read_reference(fmt::format("p,Level\n1,{}\n2,0\n", text), options);
        ASSERT_EQ(kept->content.size(), 1u);
        EXPECT_NEAR(kept->content.power_dbm[0], -20, 1e-12);
    }
}

constexpr char const* wide_map = R"(
layout = "readings"
[column.link]
from = "Link"
[column.launch_end]
from = "Dir"
[wide]
fills = "attenuation_db"
header = "F{position}@{wavelength_nm}"
)";

TEST(ColumnMap, WideByPattern)
{
    auto const map = map_of(wide_map);
    auto const found =
        read("Link,Dir,F1@850,F2@850,f1@1300,F2@1300,Remark\nA,a,0.1,0.2,0.3,,x\nB,b,0.5,,,0.8,\n", map);
    ASSERT_EQ(found.content.size(), 5u) << problems_text(found.bad);
    EXPECT_THAT(found.content.position, ::testing::ElementsAre(1, 2, 1, 1, 2));
    EXPECT_THAT(found.content.wavelength_nm, ::testing::ElementsAre(850, 850, 1300, 850, 1300));
    EXPECT_THAT(found.content.value, ::testing::ElementsAre(0.1, 0.2, 0.3, 0.5, 0.8));
    EXPECT_THAT(found.unused_columns, ::testing::ElementsAre("Remark"));
}

TEST(ColumnMap, WideFaultsAreToldOnceARow)
{
    auto const map = map_of(wide_map);
    auto const found = read("Link,Dir,F1@850,F2@850\nA,q,0.1,xx\n", map);
    EXPECT_TRUE(found.refused);
    ASSERT_EQ(found.bad.listed.size(), 2u);
    EXPECT_EQ(found.bad.listed[0].column, "Dir");
    EXPECT_EQ(found.bad.listed[1].column, "F2@850");
    EXPECT_EQ(found.bad.listed[1].value, "xx");
    ReadOptions options;
    options.map = &map;
    auto const none = read_readings("Link,Dir,G1,G2\nA,a,0.1,0.2\n", options);
    ASSERT_FALSE(none.has_value());
    EXPECT_THAT(none.error().message, HasSubstr("no header of the file has the form"));
}

TEST(ColumnMap, WideByListAndBothDirections)
{
    auto const map = map_of(R"(
layout = "readings"
[column.link]
from = "Link"
[[wide.column]]
from = "out 1"
position = 1
wavelength_nm = 850
launch_end = "a"
[[wide.column]]
from = "back 1"
position = 12
wavelength_nm = 850
launch_end = "b"
)");
    auto const found = read("Link,out 1,back 1\nA,0.1,0.2\n", map);
    ASSERT_EQ(found.content.size(), 2u) << problems_text(found.bad);
    EXPECT_EQ(found.content.launch_end[1], verdict::LaunchEnd::b);
    EXPECT_EQ(found.content.position[1], 12);
    auto const pattern = map_of(
        "layout = \"readings\"\ncolumn.link.from = \"Link\"\ncolumn.wavelength_nm.constant = \"1310\"\n"
        "[wide]\nheader = \"pos {position} from {launch_end}\"\n");
    auto const both = read("Link,Pos 1 from A,Pos 1 from B\nx,0.1,0.2\n", pattern);
    ASSERT_EQ(both.content.size(), 2u) << problems_text(both.bad);
    EXPECT_EQ(both.content.launch_end[1], verdict::LaunchEnd::b);
}

TEST(ColumnMap, ASchedule)
{
    auto const map =
        map_of("layout = \"schedule\"\ncolumn.link.from = \"Name\"\ncolumn.category.constant = \"OM4\"\n"
               "column.length_m = { from = \"Len\", unit = \"km\" }\ncolumn.family.constant = \"mpo-12\"\n"
               "column.fibres.from = \"Count\"\ncolumn.trunk_type = { from = \"Pol\", values = { crossed = "
               "\"B\" } }\n");
    ReadOptions options;
    options.map = &map;
    auto const found = read_schedule("Name,Len,Count,Pol\nT1,0.05,12,Crossed\n", options);
    ASSERT_TRUE(found.has_value());
    ASSERT_EQ(found->content.links.size(), 1u) << problems_text(found->bad);
    EXPECT_EQ(found->content.links[0].length.value(), 50);
    EXPECT_EQ(found->content.links[0].trunk_type, "B");
    auto const wrong = read_readings("Name,Len,Count,Pol\nT1,0.05,12,Crossed\n", options);
    ASSERT_FALSE(wrong.has_value());
    EXPECT_THAT(wrong.error().message, HasSubstr("is for schedule, not for readings"));
}

TEST(ColumnMap, FaultsAllAtOnceByLineWithTheNearestName)
{
    std::string const message = error_of("layout = \"readings\"\n"
                                         "[file]\nseperator = \";\"\nzone = \"CET\"\n"
                                         "[column.lnk]\nfrom = \"x\"\n"
                                         "[column.position]\nfrom = \"p\"\nunit = \"m\"\n"
                                         "[column.attenuation_db]\nfrom = \"a\"\nscale = 0\n"
                                         "[column.taken_at]\nfrom = \"t\"\npattern = \"hh:mm\"\n"
                                         "[column.length_ft]\nfrom = \"l\"\n");
    for (char const* const part :
         {"line 3: 'seperator' is not known in [file] (is it 'separator'?)", "line 4: zone 'CET'",
          "'lnk' is no column of readings (is it 'link'?)", "position has no unit", "scale cannot be 0",
          "needs a year", "use length_m with unit", "nothing makes the column link",
          "nothing makes the column launch_end", "nothing makes the column wavelength_nm"}) {
        EXPECT_THAT(message, HasSubstr(part));
    }
    EXPECT_THAT(error_of("layout = \"reading\"\n"), HasSubstr("is it 'readings'?"));
    EXPECT_THAT(error_of("[file]\n"), HasSubstr("layout is missing"));
    EXPECT_THAT(error_of("layout = \n"), HasSubstr("line 1"));
    EXPECT_THAT(error_of(std::string(wide_map) + "oops = 1\n"), HasSubstr("'oops' is not known in [wide]"));
    EXPECT_THAT(error_of("layout = \"readings\"\n[wide]\nheader = \"F{position}{wavelength_nm}\"\n"),
                HasSubstr("text between"));
}

TEST(ColumnMap, AHeaderThatTheFileDoesNotHave)
{
    auto const map = map_of(identity);
    ReadOptions options;
    options.map = &map;
    auto const found = read_readings("link,launch_end,positon,far_position,wavelength_nm,attenuation_db,"
                                     "length_m,taken_at,reference,operator\n",
                                     options);
    ASSERT_FALSE(found.has_value());
    EXPECT_THAT(found.error().message,
                HasSubstr("'position', which the file does not have (is it 'positon'?)"));
}

TEST(ColumnMap, WideHeaders)
{
    auto const found =
        match_wide_header("F{position} @ {wavelength_nm} nm", "f12  @ 850 NM", LayoutKind::readings);
    ASSERT_TRUE(found.has_value());
    EXPECT_EQ((*found)[0], (std::pair<std::string, std::string>("position", "12")));
    EXPECT_EQ((*found)[1], (std::pair<std::string, std::string>("wavelength_nm", "850")));
    for (char const* const other : {"F @ 850 nm", "F12 @ 850", "F12 @ 850 nm x", "Fx @ 850 nm", ""}) {
        EXPECT_FALSE(match_wide_header("F{position} @ {wavelength_nm} nm", other, LayoutKind::readings))
            << other;
    }
}

TEST(Propose, ALongFileReadsThroughItsOwnProposal)
{
    std::string const file =
        "Site report\n\nCable ID;Fibre no;Launch side;Wavelength [nm];Loss (dB);Length (ft);Measured "
        "on;Technician;Weather\n"
        "C1;1;West;850;0,35;100;02.03.2026 08:15;Ann;dry\nC1;2;West;850;0,31;100;13.03.2026 "
        "08:15;Ann;dry\nC1;1;East;850;0,33;100;02.03.2026 09:15;Ann;dry\n";
    auto const proposed = propose_column_map(file, LayoutKind::readings, "site.csv");
    ASSERT_TRUE(proposed.has_value());
    auto const map = map_of(*proposed);
    auto const found = read(file, map);
    ASSERT_EQ(found.content.size(), 3u) << *proposed << problems_text(found.bad);
    EXPECT_EQ(found.content.links.text(0), "C1");
    EXPECT_EQ(found.content.position[1], 2);
    EXPECT_EQ(found.content.value[0], 0.35);
    EXPECT_DOUBLE_EQ(found.content.length_m[0], 30.48);
    EXPECT_EQ(instant_text({found.content.taken_ms[1], 0}), "2026-03-13T08:15:00Z");
    EXPECT_NE(found.content.launch_end[0], found.content.launch_end[2]);
    EXPECT_EQ(found.content.operators.text(0), "Ann");
    EXPECT_THAT(*proposed, HasSubstr("unsure which end is which"));
    EXPECT_THAT(*proposed, HasSubstr("#   Weather"));
    EXPECT_THAT(*proposed, HasSubstr("# [column.reference]"));
}

TEST(Propose, AWideFile)
{
    std::string const file =
        "Link,End,P1 850,P2 850,P3 850,P1 1300,P2 1300,P3 1300\nA,a,0.1,0.2,0.3,0.4,0.5,0.6\n";
    auto const proposed = propose_column_map(file, LayoutKind::readings, "wide.csv");
    ASSERT_TRUE(proposed.has_value());
    EXPECT_THAT(*proposed, HasSubstr("header = \"P{position} {wavelength_nm}\""));
    auto const found = read(file, map_of(*proposed));
    EXPECT_EQ(found.content.size(), 6u) << *proposed << problems_text(found.bad);
}

TEST(Propose, SaysWhatIsMissing)
{
    auto const proposed = propose_column_map("alpha,beta\n1,2\n", LayoutKind::readings, "x.csv");
    ASSERT_TRUE(proposed.has_value());
    EXPECT_THAT(*proposed, HasSubstr("NOT FOUND, needed"));
    EXPECT_THAT(error_of(*proposed), HasSubstr("nothing makes the column link"));
    EXPECT_FALSE(propose_column_map("", LayoutKind::readings, "x.csv").has_value());
    auto const ambiguous =
        propose_column_map("Cable,Fibre,Launch,Lambda,Loss,Date\nC,1,a,850,0.2,02/03/2026 08:00\n",
                           LayoutKind::readings, "x.csv");
    EXPECT_THAT(*ambiguous, HasSubstr("these also fit: MM/DD/YYYY hh:mm"));
}

/// The fenced blocks of the document, by the word behind the fence.
std::vector<std::string> blocks_of(std::string const& path, std::string const& kind)
{
    std::ifstream file(path);
    std::vector<std::string> blocks;
    std::string line;
    bool inside = false;
    while (std::getline(file, line)) {
        if (line.starts_with("```")) {
            if (!inside && line == "```" + kind) blocks.emplace_back();
            inside = !inside && line == "```" + kind;
            continue;
        }
        if (inside) blocks.back() += line + "\n";
    }
    return blocks;
}

TEST(ColumnMapDocument, EachExampleIsReadToWhatItSays)
{
    std::string const path = std::string(GUIDEPIN_SOURCE_DIR) + "/docs/formats/column-map.md";
    auto const maps = blocks_of(path, "toml");
    auto const files = blocks_of(path, "csv");
    auto const plain = blocks_of(path, "plain");
    ASSERT_GE(maps.size(), 3u);
    ASSERT_EQ(maps.size(), files.size());
    ASSERT_EQ(maps.size(), plain.size());
    for (std::size_t i = 0; i < maps.size(); ++i) {
        auto const map = map_of(maps[i]);
        ReadOptions options;
        options.map = &map;
        auto const found = read_readings(files[i], options);
        auto const expected = read_readings(plain[i], {});
        ASSERT_TRUE(found && expected) << maps[i] << (found ? "" : found.error().message);
        EXPECT_EQ(readings_csv(found->content), readings_csv(expected->content))
            << maps[i] << problems_text(found->bad);
        EXPECT_GT(found->content.size(), 0u);
    }
}

TEST(Propose, OnlyTheBeginningIsLookedAt)
{
    // Symptom: one line of 1 GB took 179 s. Cause: all of it was taken for a header.
    auto const endless = propose_column_map(std::string(3'000'000, ','), LayoutKind::readings, "endless.csv");
    ASSERT_FALSE(endless);
    EXPECT_THAT(endless.error().message, ::testing::HasSubstr("No line ends within the first 1048576 bytes"));
    std::string file = "Cable,Core,nm,Loss dB\nA,1,850,0.3\n";
    auto const short_file = propose_column_map(file, LayoutKind::readings, "site.csv");
    while (file.size() < 2'000'000) file += "A,1,850,0.3\n";
    auto const long_file = propose_column_map(file, LayoutKind::readings, "site.csv");
    ASSERT_TRUE(short_file);
    ASSERT_TRUE(long_file);
    EXPECT_EQ(*short_file, *long_file);
}

} // namespace column_map_test
} // namespace guidepin::intake
