// SPDX-License-Identifier: Apache-2.0
// Oracle: docs/formats/kit.md, which says each key, and the way there and back through the kit's own text.
#include "job/sheet/kit_file.hpp"
#include "job/sheet/settings.hpp"
#include "plant/presets.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <sstream>

#include "kit_file_text.hpp"

namespace guidepin::job {
namespace kit_file_test {

using plant::Pins;
using ::testing::AllOf;
using ::testing::HasSubstr;

facts::Tables const& tables = facts::built_in_tables();

std::string file_text(std::string const& name)
{
    std::ifstream file(std::string(GUIDEPIN_SOURCE_DIR) + "/" + name);
    EXPECT_TRUE(file.good()) << name;
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

Result<KitFile> kit_of(std::string const& text)
{
    return kit_from_file({"kit.toml", text}, tables);
}

std::string refusal_of(std::string const& text)
{
    auto const kit = kit_of(text);
    EXPECT_FALSE(kit.has_value()) << text;
    return kit ? std::string() : kit.error().message;
}

/// Every key with a value that is not its default.
std::string const every_key = R"([limits]
matings = 200
pin-changes = 40
warn-at = 0.8
calibration-warning-days = 14
end-faces-required = true

[[instrument]]
serial = "S-1"
role = "source"
name = "Source of the crew"
family = "mpo-24"
pins = "unpinned"
face = "angled"
keys = "opposed"
wavelengths = [1310, 1550]
calibrated = 2025-02-28
calibration-due = 2026-02-28

[[cord]]
serial = "C-1"
roles = ["launch", "known"]
family = "mpo-12"
type = "A"
fibres = "1-4"
category = "OM3"
length = 3.5
grade = "standard"
pins-near = "pinned"
face-near = "angled"
slope-near = "up"
pins-far = "pinned"
face-far = "flat"
pins-exchangeable = "both"

[[cord]]
serial = "C-2"
fibre = "multimode"
core-um = 62.5
face = "angled"

[[adapter]]
keys = "aligned"
family = "mpo-16"
count = 7

[[pin-tool]]
serial = "P-1"
family = "mpo-16"
)";

TEST(KitFile, every_key_arrives)
{
    auto const kit = kit_of(every_key);
    ASSERT_TRUE(kit) << kit.error().message;
    ASSERT_TRUE(kit->limits);
    EXPECT_EQ(kit->limits->matings, 200);
    EXPECT_EQ(kit->limits->pin_changes, 40);
    EXPECT_EQ(kit->limits->warn_at, 0.8);
    EXPECT_EQ(kit->limits->calibration_warning_days, 14);
    EXPECT_TRUE(kit->limits->end_faces_required);

    ASSERT_EQ(kit->instruments.size(), 1u);
    KitInstrument const& source = kit->instruments[0];
    EXPECT_EQ(source.role, InstrumentRole::source);
    EXPECT_EQ(source.entry.serial, "S-1");
    EXPECT_EQ(source.entry.name, "Source of the crew");
    EXPECT_EQ(source.port.face.family.name(), "mpo-24");
    EXPECT_EQ(source.port.face.pins, Pins::unpinned);
    EXPECT_EQ(source.port.face.face, plant::Face::angled);
    EXPECT_EQ(source.port.face.kind, plant::EndKind::port);
    EXPECT_EQ(source.port.keys, plant::KeyRelation::opposed);
    EXPECT_EQ(day_text(*source.entry.calibrated), "2025-02-28");
    EXPECT_EQ(day_text(*source.entry.calibration_due), "2026-02-28");
    EXPECT_TRUE(source.serves(facts::FibreKind::single_mode));
    EXPECT_FALSE(source.serves(facts::FibreKind::multimode));

    ASSERT_EQ(kit->kit.cords.size(), 2u);
    setup::Cord const& cord = kit->kit.cords[0];
    EXPECT_EQ(cord.id, "C-1");
    EXPECT_TRUE(cord.roles.may(setup::Role::launch) && cord.roles.may(setup::Role::known));
    EXPECT_FALSE(cord.roles.may(setup::Role::tail));
    EXPECT_EQ(cord.type, "A");
    EXPECT_EQ(plant::occupancy_text(cord.ends[0].plug.occupied), "1-4");
    EXPECT_EQ(plant::occupancy_text(cord.ends[1].plug.occupied), "1-4"); // type A leads 1 to 1
    EXPECT_EQ(cord.category, "OM3");
    EXPECT_EQ(cord.glass, (setup::Glass{facts::FibreKind::multimode, 50}));
    EXPECT_EQ(cord.length.value(), 3.5);
    EXPECT_EQ(cord.grade, facts::CordGrade::standard);
    EXPECT_EQ(cord.ends[0].plug.pins, Pins::pinned);
    EXPECT_EQ(cord.ends[0].plug.slope, plant::Slope::up);
    EXPECT_EQ(cord.ends[1].plug.face, plant::Face::flat);
    EXPECT_TRUE(cord.ends[0].pins_exchangeable && cord.ends[1].pins_exchangeable);
    EXPECT_EQ(kit->kit.cords[1].glass.core_um, 62.5);
    EXPECT_EQ(kit->kit.cords[1].ends[1].plug.slope, plant::Slope::down);

    EXPECT_EQ(kit->kit.adapters_of(plant::KeyRelation::aligned, plant::Family::Key::mpo16), 7);
    EXPECT_TRUE(kit->kit.has_pin_tool(plant::Family::Key::mpo16));
}

TEST(KitFile, reads_back_from_its_own_text)
{
    for (std::string const& text : {every_key, file_text("demo/kit.toml"),
                                    file_text("tests/fuzz/corpus/kit_file/odd.toml"), std::string()}) {
        auto const kit = kit_of(text);
        ASSERT_TRUE(kit) << kit.error().message;
        auto const again = kit_of(kit_file_text(*kit));
        ASSERT_TRUE(again) << again.error().message << kit_file_text(*kit);
        EXPECT_EQ(kit_file_text(*again), kit_file_text(*kit));
        ASSERT_EQ(again->kit.cords.size(), kit->kit.cords.size());
        for (std::size_t i = 0; i < kit->kit.cords.size(); ++i) {
            EXPECT_EQ(again->kit.cords[i].ends, kit->kit.cords[i].ends);
            EXPECT_EQ(again->kit.cords[i].roles, kit->kit.cords[i].roles);
            EXPECT_EQ(again->kit.cords[i].glass, kit->kit.cords[i].glass);
            EXPECT_EQ(again->kit.cords[i].length, kit->kit.cords[i].length);
        }
        for (std::size_t i = 0; i < kit->instruments.size(); ++i)
            EXPECT_EQ(again->instruments[i].port.face, kit->instruments[i].port.face);
    }
}

TEST(KitFile, the_documents_example_holds)
{
    std::string const document = file_text("docs/formats/kit.md");
    auto const from = document.find("```toml\n") + 8;
    auto const kit = kit_of(document.substr(from, document.find("```\n", from) - from));
    ASSERT_TRUE(kit) << kit.error().message;
    EXPECT_EQ(kit->instruments.size(), 2u);
    EXPECT_EQ(kit->instruments[1].port.face.pins, Pins::neutral);
    EXPECT_TRUE(kit->kit.cords[0].ends[1].pins_exchangeable);
}

TEST(KitFile, what_is_wrong_is_told_by_line)
{
    EXPECT_THAT(refusal_of("[[cord]]\nserial = \"a\"\npins_near = \"pinned\"\n"),
                HasSubstr("kit.toml line 3: cord 1 has no \"pins_near\"; did you mean pins-near"));
    EXPECT_THAT(refusal_of("\n[[cord]]\n"), HasSubstr("line 2: cord 1: serial is missing"));
    EXPECT_THAT(refusal_of("[[cord]]\nserial = \"a\"\n[[pin-tool]]\nserial = \"a\"\n"),
                HasSubstr("line 3: pin-tool 1: serial \"a\" is used in line 1 already"));
    EXPECT_THAT(refusal_of("[[cord]]\nserial = \"a\"\ntype = \"Z\"\n"), HasSubstr("line 1: cord 1: "));
    EXPECT_THAT(refusal_of("[[cord]]\nserial = \"a\"\npins-far = \"neutral\"\n"),
                HasSubstr("neither pinned nor unpinned"));
    EXPECT_THAT(refusal_of("[[cord]]\nserial = \"a\"\nslope-far = \"up\"\n"),
                HasSubstr("slope-far: a flat face has no slope"));
    EXPECT_THAT(refusal_of("[[cord]]\nserial = \"a\"\nroles = [\"launch\", \"lunch\"]\n"),
                HasSubstr("line 3: cord 1.roles: expected a list out of"));
    EXPECT_THAT(refusal_of("[[cord]]\nserial = \"a\"\ncategory = \"OM44\"\n"), HasSubstr("category: "));
    EXPECT_THAT(refusal_of("[[cord]]\nserial = \"a\"\ncategory = \"OS2\"\nfibre = \"multimode\"\n"),
                HasSubstr("category OS2 is single-mode fibre, and fibre says multimode"));
    EXPECT_THAT(refusal_of("[[cord]]\nserial = \"a\"\ncategory = \"OM4\"\ncore-um = 62.5\n"),
                HasSubstr("has a core of 50 um"));
    EXPECT_THAT(refusal_of("[[cord]]\nserial = \"a\"\nlength = \"200 m\"\n"),
                HasSubstr("line 3: cord 1.length: expected a length from 0 to 100 m"));
    EXPECT_THAT(refusal_of("[[cord]]\nserial = \"a\"\nfamily = \"mpo-8\"\n"),
                HasSubstr("line 3: cord 1.family: expected one of mpo-12"));
    EXPECT_THAT(refusal_of("[[cord]]\nserial = \"a\"\nfibres = \"13\"\n"),
                HasSubstr("line 3: cord 1.fibres"));
    EXPECT_THAT(refusal_of("[[instrument]]\nserial = \"a\"\n"), HasSubstr("role is missing"));
    EXPECT_THAT(refusal_of("[[instrument]]\nserial = \"a\"\nrole = \"source\"\npins = \"neutral\"\n"),
                HasSubstr("a source's port is pinned or unpinned"));
    EXPECT_THAT(refusal_of("[[instrument]]\nserial = \"a\"\nrole = \"meter\"\ncalibrated = 2026-05-01\n"
                           "calibration-due = 2026-04-01\n"),
                HasSubstr("calibration-due 2026-04-01 lies before calibrated 2026-05-01"));
    EXPECT_THAT(refusal_of("[limits]\nmatings = 0\n"),
                HasSubstr("line 2: limits.matings: expected a number from 1"));
    EXPECT_THAT(refusal_of("limits = 3\n"), HasSubstr("line 1: write limits as a section"));
    EXPECT_THAT(refusal_of("[[cords]]\n"), HasSubstr("line 1: there is no section \"cords\""));
    EXPECT_THAT(refusal_of("[[adapter]]\ncount = -1\n"), HasSubstr("line 2: adapter 1.count"));
    std::string const two = refusal_of("[[cord]]\n[[adapter]]\nkeys = \"sideways\"\n");
    EXPECT_THAT(two, AllOf(HasSubstr("line 1"), HasSubstr("line 3")));
}

TEST(KitFile, days_are_days_of_the_calendar)
{
    EXPECT_EQ(parse_day("1970-01-01")->days, 0);
    EXPECT_EQ(parse_day("1969-12-31")->days, -1);
    EXPECT_EQ(parse_day("2026-03-01")->days - parse_day("2026-02-28")->days, 1);
    EXPECT_EQ(parse_day("2024-03-01")->days - parse_day("2024-02-28")->days, 2); // leap year
    EXPECT_FALSE(parse_day("2026-02-29"));
    EXPECT_FALSE(parse_day("2026-2-9"));
    EXPECT_EQ(day_text(setup::Day{20'514}), "2026-03-02");
}

/// The demo's kit has the instruments and test cords that the demo's job sheet names, alike in what both say.
TEST(KitFile, the_demos_kit_is_that_of_its_job)
{
    auto const kit = kit_of(file_text("demo/kit.toml"));
    ASSERT_TRUE(kit) << kit.error().message;
    auto const sheet = settings_from_sheet({"job.toml", file_text("demo/job.toml")});
    ASSERT_TRUE(sheet);
    ASSERT_EQ(kit->instruments.size(), sheet->instruments.size());
    for (std::size_t i = 0; i < kit->instruments.size(); ++i) {
        Instrument const& of_job = sheet->instruments[i];
        EXPECT_EQ(kit->instruments[i].entry.serial, of_job.id);
        EXPECT_EQ(name_of(kit->instruments[i].role), of_job.role);
        EXPECT_EQ(kit->instruments[i].port.face.pins, of_job.pins);
        EXPECT_EQ(kit->instruments[i].port.face.face, of_job.face);
        EXPECT_EQ(kit->instruments[i].port.face.family.name(), of_job.family);
        EXPECT_EQ(day_text(*kit->instruments[i].entry.calibration_due), of_job.calibration_due);
    }
    for (setup::Cord const& cord : kit->kit.cords) {
        auto const of_job = std::find_if(sheet->cords.begin(), sheet->cords.end(),
                                         [&cord](Cord const& each) { return each.id == cord.id; });
        ASSERT_NE(of_job, sheet->cords.end()) << cord.id;
        EXPECT_EQ(cord.type, of_job->type);
        EXPECT_EQ(cord.length, of_job->length);
        EXPECT_EQ(cord.ends[0].plug.pins, of_job->pins_near);
        EXPECT_EQ(cord.ends[1].plug.pins, of_job->pins_far);
        EXPECT_EQ(cord.ends[0].plug.face, of_job->face);
        EXPECT_EQ(cord.ends[0].plug.family.name(), of_job->family);
    }
}

} // namespace kit_file_test
} // namespace guidepin::job
