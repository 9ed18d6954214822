// SPDX-License-Identifier: Apache-2.0
// Oracle: docs/formats/job-sheet.md, which says each key, and the round trip through the settings record.
#include "job/sheet/settings.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <set>
#include <sstream>

namespace guidepin::job {
namespace settings_test {

using ::testing::HasSubstr;

std::string file_text(std::string const& name)
{
    std::ifstream file(std::string(GUIDEPIN_SOURCE_DIR) + "/" + name);
    EXPECT_TRUE(file.good()) << name;
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

std::string refusal_of(std::string const& text)
{
    auto const settings = settings_from_sheet({"sheet.toml", text});
    EXPECT_FALSE(settings.has_value()) << text;
    return settings ? std::string() : settings.error().message;
}

TEST(JobSheet, what_is_wrong_is_told_by_line)
{
    EXPECT_THAT(refusal_of("[job]\ncontracter = \"x\"\n"),
                HasSubstr("sheet.toml line 2: job has no \"contracter\"; did you mean contractor"));
    EXPECT_THAT(refusal_of("[job]\ntitle = 3\n"), HasSubstr("line 2: job.title: expected a text"));
    EXPECT_THAT(refusal_of("[job]\n[people]\nx = 1\n"), HasSubstr("line 2: there is no section \"people\""));
    EXPECT_THAT(refusal_of("job = 3\n"), HasSubstr("line 1: write job as a section"));
    EXPECT_THAT(refusal_of("[rules]\n\ndirections = 3\n"),
                HasSubstr("line 3: rules.directions: expected a number from 1 to 2"));
    EXPECT_THAT(refusal_of("[rules]\ndirections = 1.5\n"),
                HasSubstr("line 2: rules.directions: expected a whole number"));
    EXPECT_THAT(refusal_of("[rules]\nmethod = \"no-cord\"\n"),
                HasSubstr("line 2: rules.method: expected one-cord, two-cord or three-cord"));
    EXPECT_THAT(refusal_of("[rules]\nwavelengths-multimode = [85]\n"),
                HasSubstr("line 2: rules.wavelengths-multimode"));
    EXPECT_THAT(refusal_of("[rules]\nwavelengths-multimode = []\n"),
                HasSubstr("line 2: rules.wavelengths-multimode"));
    EXPECT_THAT(refusal_of("[rules]\nused-positions-only = 1\n"),
                HasSubstr("line 2: rules.used-positions-only: expected true or false"));
    EXPECT_THAT(refusal_of("[writing]\nzone = \"Paris\"\n"), HasSubstr("line 2: writing.zone"));
    EXPECT_THAT(refusal_of("[cord]\nid = \"x\"\n"), HasSubstr("line 1: write each cord as its own [[cord]]"));
    EXPECT_THAT(refusal_of("[[cord]]\nid = \"x\"\n"), HasSubstr("cord 1: id and role must be given"));
    EXPECT_THAT(refusal_of("[[instrument]]\nid = \"x\"\nrole = \"source\"\ncalibrated = \"2026-03-02\"\n"),
                HasSubstr("line 4: instrument 1.calibrated: expected a date"));
    EXPECT_THAT(refusal_of("[job\n"), HasSubstr("sheet.toml line 1"));
}

TEST(JobSheet, everything_wrong_is_told_at_once)
{
    std::string const message =
        refusal_of("[job]\ntitel = \"x\"\n[rules]\ndirections = 3\n[writing]\npaper = \"a3\"\n");
    EXPECT_EQ(std::count(message.begin(), message.end(), '\n'), 2) << message;
}

/// Every key with a value that is not its default.
std::string const every_key = R"([job]
title = "Hall"
client = "Client"
site = "Site"
contractor = "Crew"
contract = "C-1"
[rules]
rule-set = "tia-568.3-d"
rule-file = "own.toml"
method = "three-cord"
cord-grade = "standard"
decision = "guarded-acceptance"
guard-probability = 0.9
directions = 2
used-positions-only = true
length-tolerance-fraction = 0.1
length-tolerance = "10 ft"
reference-age-hours = 6.5
measured-as-channel = true
wavelengths-multimode = [850, 1300]
wavelengths-single-mode = [1550]
[writing]
decimal = ","
length-unit = "ft"
dates = "mdy"
paper = "letter"
zone = "-09:30"
[[instrument]]
id = "M-1"
role = "meter"
description = "Meter"
family = "mpo-16"
pins = "unpinned"
face = "angled"
calibrated = 2026-01-02
calibration-due = 2027-01-02
[[cord]]
id = "L-1"
role = "launch"
type = "A"
family = "mpo-24"
length = "5 m"
grade = "standard"
pins-near = "pinned"
pins-far = "pinned"
face = "angled"
exchangeable-pins = true
matings-limit = 500
pin-changes-limit = 20
[[uncertainty]]
id = "connector-repeatability"
value = 0.04
)";

void expect_every_key(Settings const& s)
{
    EXPECT_EQ(s.title, "Hall");
    EXPECT_EQ(s.client, "Client");
    EXPECT_EQ(s.site, "Site");
    EXPECT_EQ(s.contractor, "Crew");
    EXPECT_EQ(s.contract, "C-1");
    EXPECT_EQ(s.rule_set, "tia-568.3-d");
    EXPECT_EQ(s.rule_file_name, "own.toml");
    EXPECT_EQ(s.method, setup::ReferenceMethod::three_cord);
    EXPECT_EQ(s.cord_grade, facts::CordGrade::standard);
    EXPECT_EQ(s.decision_rule, "guarded-acceptance");
    EXPECT_EQ(s.guard_probability, 0.9);
    EXPECT_EQ(s.directions, 2);
    EXPECT_TRUE(s.used_positions_only);
    EXPECT_EQ(s.length_tolerance_fraction, 0.1);
    EXPECT_DOUBLE_EQ(s.length_tolerance.value(), 3.048); // a foot is 0.3048 m exactly
    EXPECT_EQ(s.reference_age_hours, 6.5);
    EXPECT_TRUE(s.single_channel);
    ASSERT_EQ(s.wavelengths.size(), 2u);
    EXPECT_EQ(s.wavelengths.at(facts::FibreKind::multimode),
              (std::vector{Nanometres{850}, Nanometres{1300}}));
    EXPECT_EQ(s.wavelengths.at(facts::FibreKind::single_mode), (std::vector{Nanometres{1550}}));
    EXPECT_EQ(s.decimal, ",");
    EXPECT_EQ(s.length_unit, "ft");
    EXPECT_EQ(s.date_order, "mdy");
    EXPECT_EQ(s.paper, "letter");
    EXPECT_EQ(s.zone_offset_minutes, -570);
    ASSERT_EQ(s.instruments.size(), 1u);
    Instrument const& i = s.instruments[0];
    EXPECT_EQ(i.id + " " + i.role + " " + i.description + " " + i.family, "M-1 meter Meter mpo-16");
    EXPECT_EQ(i.pins, plant::Pins::unpinned);
    EXPECT_EQ(i.face, plant::Face::angled);
    EXPECT_EQ(i.calibrated + " " + i.calibration_due, "2026-01-02 2027-01-02");
    ASSERT_EQ(s.cords.size(), 1u);
    Cord const& c = s.cords[0];
    EXPECT_EQ(c.id + " " + c.role + " " + c.type + " " + c.family, "L-1 launch A mpo-24");
    EXPECT_EQ(c.length, Metres{5});
    EXPECT_EQ(c.grade, facts::CordGrade::standard);
    EXPECT_EQ(c.pins_near, plant::Pins::pinned);
    EXPECT_EQ(c.pins_far, plant::Pins::pinned);
    EXPECT_EQ(c.face, plant::Face::angled);
    EXPECT_TRUE(c.exchangeable_pins);
    EXPECT_EQ(c.matings_limit, 500);
    EXPECT_EQ(c.pin_changes_limit, 20);
    ASSERT_EQ(s.uncertainty.size(), 1u);
    EXPECT_EQ(s.uncertainty[0].id, "connector-repeatability");
    EXPECT_EQ(s.uncertainty[0].value, 0.04);
}

TEST(JobSheet, every_key_is_read_and_survives_the_record)
{
    auto settings = settings_from_sheet({"sheet.toml", every_key});
    ASSERT_TRUE(settings.has_value()) << settings.error().message;
    expect_every_key(*settings);
    settings->rule_text = "text = \"kept\"\n";
    auto const back = settings_from_json(settings_to_json(*settings));
    ASSERT_TRUE(back.has_value()) << back.error().message;
    expect_every_key(*back);
    EXPECT_EQ(back->rule_text, settings->rule_text);
}

TEST(JobSheet, an_empty_sheet_is_all_defaults)
{
    auto const settings = settings_from_sheet({"sheet.toml", ""});
    ASSERT_TRUE(settings.has_value());
    EXPECT_EQ(settings_to_json(*settings), settings_to_json(Settings{}));
}

TEST(JobSettings, records_that_are_no_settings_are_damage)
{
    for (char const* text :
         {"", "[]", "{\"title\":3}", "{\"cords\":[{\"length_m\":\"x\"}]}", "{\"directions\":5e99}",
          "{\"zone_offset_minutes\":99999}", "{\"wavelengths\":{\"multimode\":[-1e40]}}"}) {
        auto const settings = settings_from_json(text);
        ASSERT_FALSE(settings.has_value()) << text;
        EXPECT_EQ(settings.error().code, Errc::damaged) << text;
    }
}

TEST(JobRules, the_contracts_own_rule_file_stands_in)
{
    Settings settings;
    settings.rule_file_name = "contract-rules.toml";
    settings.rule_text = file_text("demo/contract-rules.toml");
    auto const rules = rule_set_of(settings, facts::built_in_tables());
    ASSERT_TRUE(rules.has_value()) << rules.error().message;
    EXPECT_EQ(rules->id, "contract-2031-07");
    settings.rule_text = "format = 3\n";
    auto const wrong = rule_set_of(settings, facts::built_in_tables());
    ASSERT_FALSE(wrong.has_value());
    EXPECT_THAT(wrong.error().message, HasSubstr("contract-rules.toml"));
    settings.rule_text.clear();
    settings.rule_set = "tia-568.3-x";
    EXPECT_FALSE(rule_set_of(settings, facts::built_in_tables()).has_value());
}

TEST(JobSheetPage, its_example_parses)
{
    std::string const page = file_text("docs/formats/job-sheet.md");
    auto const begin = page.find("```toml\n");
    ASSERT_NE(begin, std::string::npos);
    auto const end = page.find("```", begin + 8);
    ASSERT_NE(end, std::string::npos);
    auto const settings = settings_from_sheet({"example", page.substr(begin + 8, end - begin - 8)});
    ASSERT_TRUE(settings.has_value()) << settings.error().message;
    EXPECT_FALSE(settings->title.empty());
    EXPECT_TRUE(rule_set_of(*settings, facts::built_in_tables()).has_value());
}

TEST(JobSheetPage, names_every_key_that_the_reader_knows_and_no_other)
{
    std::string const page = file_text("docs/formats/job-sheet.md");
    for (std::string const section :
         {"[job]", "[rules]", "[writing]", "[[instrument]]", "[[cord]]", "[[uncertainty]]"}) {
        // A name far from all others makes the reader list what it has.
        std::string const message = refusal_of(section + "\nqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqq = 1\n");
        auto const list = message.find("; it has ");
        ASSERT_NE(list, std::string::npos) << message;
        std::set<std::string> known, told;
        std::istringstream names(message.substr(list + 9, message.find('\n', list) - list - 9));
        for (std::string name; std::getline(names >> std::ws, name, ',');) known.insert(name);
        auto const heading = page.find("## `" + section + "`");
        ASSERT_NE(heading, std::string::npos) << section;
        std::istringstream lines(page.substr(heading, page.find("\n## ", heading) - heading));
        for (std::string line; std::getline(lines, line);) {
            if (line.starts_with("| `")) told.insert(line.substr(3, line.find('`', 3) - 3));
        }
        EXPECT_EQ(told, known) << section;
    }
}

} // namespace settings_test
} // namespace guidepin::job
