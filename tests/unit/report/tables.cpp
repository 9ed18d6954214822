// SPDX-License-Identifier: Apache-2.0
// Oracle: RFC 4180 (quotes, CRLF), RFC 8259 through nlohmann-json, ISO/IEC 29500 parts through unzip: the
// text of cells stays text. Days of a spreadsheet: 25,569 is 1970-01-01.
#include "report/tables.hpp"

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <limits>
#include <sstream>

#include <unistd.h>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "scratch_folder.hpp"

using namespace guidepin;
using namespace guidepin::report;

namespace tables_test {

Table sample(int rows = 3)
{
    Table table;
    table.name = "readings";
    table.title = "Readings";
    table.columns = {{"link", "Link", ColumnType::text},
                     {"attenuation_db", "Attenuation, dB", ColumnType::number, 2},
                     {"position", "Position", ColumnType::whole},
                     {"held", "Held", ColumnType::yes_no},
                     {"taken", "Taken", ColumnType::moment}};
    table.rows = [rows](std::function<Outcome(TableRow const&)> const& take) -> Outcome {
        for (int i = 1; i <= rows; ++i) {
            TRY(take({i == 2 ? Cell{std::string("=SUM(A1)")} : Cell{std::string("F2, \"north\"\nend")},
                      i == 3 ? Cell{} : Cell{0.1 + 0.2}, std::int64_t{i}, i == 1,
                      *parse_instant("2026-03-02T08:15:00+01:00")}));
        }
        return {};
    };
    return table;
}

std::string csv_of(Table const& table)
{
    std::string text;
    EXPECT_TRUE(write_csv(table, [&](std::string_view part) {
        text += part;
        return true;
    }));
    return text;
}

std::string shell(std::string const& command)
{
    std::string out;
    FILE* const pipe = popen(command.c_str(), "r");
    if (!pipe) return out;
    char buffer[4096];
    while (std::size_t const n = fread(buffer, 1, sizeof buffer, pipe)) out.append(buffer, n);
    pclose(pipe);
    return out;
}

std::string bytes_of(std::string const& path)
{
    std::ifstream in(path, std::ios::binary);
    std::stringstream all;
    all << in.rdbuf();
    return all.str();
}

TEST(Csv, QuotesAndLinesAsInRfc4180)
{
    EXPECT_EQ(csv_of(sample(2)),
              "link,attenuation_db,position,held,taken\r\n"
              "\"F2, \"\"north\"\"\nend\",0.30000000000000004,1,yes,2026-03-02T08:15:00+01:00\r\n"
              "'=SUM(A1),0.30000000000000004,2,no,2026-03-02T08:15:00+01:00\r\n");
}

TEST(Csv, WhatIsNotThereIsEmptyAndNoNumberIsNotANumber)
{
    Table table = sample(0);
    table.columns.resize(2);
    table.rows = [](auto const& take) -> Outcome {
        TRY(take({Cell{}, std::numeric_limits<double>::quiet_NaN()}));
        return take({std::string(" led"), -0.25});
    };
    EXPECT_EQ(csv_of(table), "link,attenuation_db\r\n,\r\n\" led\",-0.25\r\n");
}

TEST(Csv, ARowOfTheWrongWidthIsOurBug)
{
    Table table = sample(0);
    table.rows = [](auto const& take) -> Outcome { return take({std::string("only one")}); };
    Outcome const outcome = write_csv(table, [](std::string_view) { return true; });
    ASSERT_FALSE(outcome);
    EXPECT_EQ(outcome.error().code, Errc::internal);
}

TEST(Csv, AFullDiskStops)
{
    Outcome const outcome = write_csv(sample(), [](std::string_view) { return false; });
    ASSERT_FALSE(outcome);
    EXPECT_EQ(outcome.error().code, Errc::environment);
}

TEST(JsonTable, ReadsBack)
{
    std::string text;
    ASSERT_TRUE(write_json(sample(), [&](std::string_view part) {
        text += part;
        return true;
    }));
    nlohmann::json const json = nlohmann::json::parse(text);
    EXPECT_EQ(json["name"], "readings");
    ASSERT_EQ(json["columns"].size(), 5u);
    EXPECT_EQ(json["columns"][1]["id"], "attenuation_db");
    EXPECT_EQ(json["columns"][4]["type"], "moment");
    ASSERT_EQ(json["rows"].size(), 3u);
    EXPECT_EQ(json["rows"][0][0], "F2, \"north\"\nend");
    EXPECT_EQ(json["rows"][0][1].get<double>(), 0.1 + 0.2);
    EXPECT_EQ(json["rows"][0][3], true);
    EXPECT_TRUE(json["rows"][2][1].is_null());
    EXPECT_EQ(json["rows"][1][4], "2026-03-02T08:15:00+01:00");
}

TEST(Workbook, SameBytesAndTextStaysText)
{
    support::ScratchFolder const folder;
    std::string const first = folder.file("one.xlsx"), second = folder.file("two.xlsx");
    Instant const made = *parse_instant("2026-03-06T16:30:00+01:00");
    ASSERT_TRUE(write_workbook(first, {sample(), sample(1)}, "Harbour Hall", made));
    // The clock of the machine moves on between the two.
    sleep(2);
    ASSERT_TRUE(write_workbook(second, {sample(), sample(1)}, "Harbour Hall", made));
    EXPECT_EQ(bytes_of(first), bytes_of(second));

    std::string const sheet = shell("unzip -p " + first + " xl/worksheets/sheet1.xml");
    EXPECT_NE(sheet.find("=SUM(A1)"), std::string::npos);
    EXPECT_EQ(sheet.find("<f>"), std::string::npos) << "a text became a formula";
    // The library writes 16 digits, one more than a spreadsheet shows; CSV and JSON beside carry all 17.
    EXPECT_NE(sheet.find("<v>0.3</v>"), std::string::npos);
    // 2026-03-02 is 46083 days after 1899-12-30; 08:15 of the wall clock is 0.34375 of a day.
    EXPECT_NE(sheet.find("46083.34375"), std::string::npos);
    EXPECT_NE(sheet.find("<autoFilter ref=\"A1:E4\"/>"), std::string::npos);
    std::string const book = shell("unzip -p " + first + " xl/workbook.xml");
    EXPECT_NE(book.find("name=\"Readings\""), std::string::npos);
    std::string const core = shell("unzip -p " + first + " docProps/core.xml");
    EXPECT_NE(core.find("2026-03-06T15:30:00Z"), std::string::npos);
}

TEST(Workbook, AnErrorOfTheRowsLeavesNoFile)
{
    support::ScratchFolder const folder;
    std::string const path = folder.file("broken.xlsx");
    Table table = sample();
    table.rows = [](auto const&) -> Outcome { return Error{Errc::damaged, "records do not hold together"}; };
    Outcome const outcome = write_workbook(path, {table}, "x", Instant{});
    ASSERT_FALSE(outcome);
    EXPECT_EQ(outcome.error().code, Errc::damaged);
    EXPECT_FALSE(std::filesystem::exists(path));
}

} // namespace tables_test
