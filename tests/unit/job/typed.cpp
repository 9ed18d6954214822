// SPDX-License-Identifier: Apache-2.0
// References and cord checks typed by hand, against real job files.
// Oracle: the same values brought in as a file, at the same time; the state read back from the records alone.
#include "job/open/typed.hpp"

#include "base/no_number.hpp"
#include "intake/write.hpp"
#include "job/open/job.hpp"
#include "record/digest.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include <fmt/format.h>

#include "scratch_test.hpp"

namespace guidepin::job {
namespace typed_test {

using ::testing::HasSubstr;

class Typed : public support::ScratchTest
{
  protected:
    Typed()
        : ScratchTest("2026-03-02T09:00:00Z")
    {
    }
    void SetUp() override
    {
        auto const settings = settings_from_sheet({"sheet", R"([rules]
wavelengths-multimode = [850]
[[instrument]]
id = "S"
role = "source"
calibration-due = 2026-11-10
[[instrument]]
id = "M"
role = "meter"
calibration-due = 2026-11-10
[[cord]]
id = "L"
role = "launch"
[[cord]]
id = "T"
role = "tail"
)"});
        ASSERT_TRUE(settings.has_value()) << settings.error().message;
        for (char const* name : {"typed", "brought"})
            ASSERT_TRUE(Job::create(path(name), *settings, actor_).has_value());
    }

    std::string path(std::string const& name) const { return (folder_ / (name + ".guidepin")).string(); }
    Job opened(std::string const& name)
    {
        auto job = Job::open(path(name), actor_, true);
        EXPECT_TRUE(job.has_value()) << job.error().message;
        return std::move(*job);
    }
    TypedReference reference() const
    {
        TypedReference typed;
        typed.key = "a1";
        typed.kit = {.source = "S", .meter = "M", .launch = "L", .tail = "T"};
        typed.taken = parse_instant("2026-03-02T08:05:00Z");
        for (int p = 1; p <= 12; ++p) typed.powers.push_back({850, p, -20.5 - 0.01 * p});
        return typed;
    }
    TypedCheck check() const
    {
        TypedCheck typed;
        typed.key = "c1";
        typed.reference = "R-1";
        typed.taken = parse_instant("2026-03-02T08:10:00Z");
        for (int p = 1; p <= 12; ++p) typed.rows.push_back({850, p, 13 - p, 0.10 + 0.01 * p});
        return typed;
    }

    static TypedReadings of_link(std::string const& link)
    {
        TypedReadings typed;
        typed.link = link;
        typed.reference = "R-1";
        typed.person = "Tomasz";
        typed.key = "e1";
        typed.taken = parse_instant("2026-03-02T08:20:00Z");
        typed.rows = {{1, 12, 0.35}, {2, 11, 0.4}};
        return typed;
    }
};

TEST_F(Typed, isTheSameAsBroughtInAsAFile)
{
    Job typed = opened("typed");
    Job brought = opened("brought");
    auto const named = typed.enter_reference(reference());
    ASSERT_TRUE(named.has_value()) << named.error().message;
    EXPECT_EQ(named->ids, std::vector<std::string>{"R-1"});
    auto const checked = typed.enter_cord_check(check());
    ASSERT_TRUE(checked.has_value()) << checked.error().message;
    EXPECT_EQ(checked->ids, std::vector<std::string>{"C-1"});

    std::string powers = "reference,position,wavelength_nm,power_dbm,taken_at\n";
    std::string joints = "check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\n";
    for (int p = 1; p <= 12; ++p) {
        powers += fmt::format("R-1,{},850,{:.2f},2026-03-02T08:05:00Z\n", p, -20.5 - 0.01 * p);
        joints += fmt::format("C-1,R-1,{},{},850,{:.2f},2026-03-02T08:10:00Z\n", p, 13 - p, 0.10 + 0.01 * p);
    }
    ReferenceOptions how;
    how.kit = {.source = "S", .meter = "M", .launch = "L", .tail = "T"};
    ASSERT_TRUE(brought.take_reference("powers.csv", powers, {}, how).has_value());
    ASSERT_TRUE(brought.take_cord_check("checks.csv", joints, {}, "", false).has_value());

    JobState const& one = typed.state();
    JobState const& two = brought.state();
    ASSERT_EQ(one.references.size(), 1U);
    ASSERT_EQ(two.references.size(), 1U);
    EXPECT_EQ(one.references[0].position, two.references[0].position);
    EXPECT_EQ(one.references[0].power_dbm, two.references[0].power_dbm);
    EXPECT_EQ(one.references[0].taken_ms, two.references[0].taken_ms);
    EXPECT_EQ(one.references[0].kit.launch, "L");
    ASSERT_EQ(one.checks.size(), 1U);
    ASSERT_EQ(two.checks.size(), 1U);
    EXPECT_EQ(one.checks[0].position, two.checks[0].position);
    EXPECT_EQ(one.checks[0].taken().ms, two.checks[0].taken().ms);
    auto const first = typed.assessment();
    auto const second = brought.assessment();
    ASSERT_TRUE(first.has_value() && second.has_value());
    ASSERT_EQ((*first)->checks.size(), 1U);
    EXPECT_EQ((*first)->checks[0].assessment.fibres.size(), 12U);
    for (std::size_t i = 0; i < 12; ++i)
        EXPECT_EQ((*first)->checks[0].assessment.fibres[i].result,
                  (*second)->checks[0].assessment.fibres[i].result)
            << "fibre " << i;
}

TEST_F(Typed, aKeyIsKeptOnceAlsoAfterTheJobWasOpenedAnew)
{
    {
        Job job = opened("typed");
        ASSERT_TRUE(job.enter_reference(reference()).has_value());
        ASSERT_TRUE(job.enter_cord_check(check()).has_value());
    }
    Job job = opened("typed");
    auto const again = job.enter_reference(reference());
    ASSERT_TRUE(again.has_value());
    EXPECT_TRUE(again->ids.empty());
    ASSERT_TRUE(job.enter_cord_check(check()).has_value());
    EXPECT_EQ(job.state().references.size(), 1U);
    EXPECT_EQ(job.state().checks.size(), 1U);
    TypedReference next = reference();
    next.key = "a2";
    auto const named = job.enter_reference(next);
    ASSERT_TRUE(named.has_value()) << named.error().message;
    EXPECT_EQ(named->ids, std::vector<std::string>{"R-2"}) << "the next free name";
}

TEST_F(Typed, aClockAheadDoesNotMakeAReferenceOfTheFuture)
{
    Job job = opened("typed");
    TypedReference ahead = reference();
    ahead.taken = parse_instant("2026-03-02T12:00:00Z");
    ASSERT_TRUE(job.enter_reference(ahead).has_value());
    EXPECT_EQ(job.state().references[0].taken().ms, clock_.now_ms());
}

TEST_F(Typed, saysWhatCannotBeKept)
{
    Job job = opened("typed");
    TypedReference nameless = reference();
    nameless.key.clear();
    EXPECT_EQ(job.enter_reference(nameless).error().code, Errc::usage);
    TypedReference empty = reference();
    empty.powers.clear();
    EXPECT_THAT(job.enter_reference(empty).error().message, HasSubstr("fill in a position"));
    TypedReference odd = reference();
    for (std::string const& id : {std::string("R\x01"), std::string("R\x00", 2), std::string(401, 'R')}) {
        odd.id = id;
        EXPECT_THAT(job.enter_reference(odd).error().message, HasSubstr("The name of the reference"));
    }
    EXPECT_EQ(job.enter_cord_check(check()).error().code, Errc::not_found);
    EXPECT_EQ(job.state().references.size(), 0U);
}

// Oracle: the texts that the first release wrote and hashed, byte for byte.
TEST_F(Typed, theSourceIsNamedAsInTheFirstRelease)
{
    Job job = opened("typed");
    TypedReference powers = reference();
    powers.powers.resize(2);
    ASSERT_TRUE(job.enter_reference(powers).has_value());
    TypedCheck joints = check();
    joints.rows = {{850, 1, 12, 0.11}, {850, 2, {}, 0.12}};
    ASSERT_TRUE(job.enter_cord_check(joints).has_value());
    TypedReadings readings = of_link("N-1");
    readings.rows = {{1, 12, 0.35}, {2, 0, 45}, {3, {}, -0.5}};
    readings.length_m = 50.5;
    auto const done = job.enter_readings(readings);
    ASSERT_TRUE(done.has_value()) << done.error().message;
    std::vector<std::string> const texts{
        "reference,position,wavelength_nm,power_dbm,taken_at\n"
        "R-1,1,850,-20.51,2026-03-02T08:05:00Z\nR-1,2,850,-20.52,2026-03-02T08:05:00Z\n",
        "check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\n"
        "C-1,R-1,1,12,850,0.11,2026-03-02T08:10:00Z\nC-1,R-1,2,,850,0.12,2026-03-02T08:10:00Z\n",
        "link,launch_end,position,far_position,wavelength_nm,attenuation_db,length_m,taken_at,reference,"
        "operator\n"
        "N-1,a,1,12,850,0.35,50.5,2026-03-02T08:20:00Z,R-1,Tomasz\n"
        "N-1,a,2,0,850,45,50.5,2026-03-02T08:20:00Z,R-1,Tomasz\n"
        "N-1,a,3,,850,-0.5,50.5,2026-03-02T08:20:00Z,R-1,Tomasz\n"};
    std::vector<SourceFile> const& files = job.state().files;
    ASSERT_EQ(files.size(), texts.size());
    for (std::size_t i = 0; i < texts.size(); ++i) {
        EXPECT_EQ(files[i].size, texts[i].size()) << texts[i];
        EXPECT_EQ(files[i].sha256, record::sha256(texts[i]).hex()) << texts[i];
    }
    EXPECT_EQ(files[0].name, "typed-a1.csv");
    EXPECT_EQ(files[0].layout, "reference");
    EXPECT_EQ(files[1].layout, "cord-check");
    EXPECT_EQ(files[2].layout, "readings");
}

// A reference whose name has a comma made a cord check typed for it fail: line 2 had 8 fields where the
// header has
// 7. Whatever a name holds, it comes back unchanged, typed and brought in as a file alike.
TEST_F(Typed, anyNameComesBackUnchanged)
{
    std::vector<std::string> const names{"R,1", "R\"1\"", "R\n1", "R;1\t2", "=R+1",
                                         "'=R", "+1",     "@R",   "R 'x'",  "\xC3\x84,\xE2\x82\xAC"};
    Job job = opened("typed");
    Job brought = opened("brought");
    int number = 0;
    for (std::string const& name : names) {
        TypedReference powers = reference();
        powers.key = fmt::format("a-{}", ++number);
        powers.id = name;
        auto const named = job.enter_reference(powers);
        ASSERT_TRUE(named.has_value()) << name << ": " << named.error().message;
        EXPECT_EQ(named->ids, std::vector<std::string>{name});
        TypedCheck joints = check();
        joints.key = fmt::format("c-{}", number);
        joints.reference = name;
        auto const checked = job.enter_cord_check(joints);
        ASSERT_TRUE(checked.has_value()) << name << ": " << checked.error().message;
        TypedReadings readings = of_link("N" + name);
        readings.key = fmt::format("e-{}", number);
        readings.reference = name;
        readings.person = name;
        auto const done = job.enter_readings(readings);
        ASSERT_TRUE(done.has_value()) << name << ": " << done.error().message;

        auto const columns = columns_of(powers, *powers.taken);
        ASSERT_TRUE(columns.has_value());
        ReferenceOptions how;
        how.kit = powers.kit;
        ASSERT_TRUE(
            brought.take_reference(fmt::format("{}.csv", number), intake::reference_csv(*columns), {}, how)
                .has_value());
    }
    job = opened("typed");
    JobState const& state = job.state();
    EXPECT_TRUE(state.remarks.empty());
    for (std::size_t i = 0; i < names.size(); ++i) {
        EXPECT_EQ(state.references[i].id, names[i]);
        EXPECT_EQ(state.checks[i].reference, names[i]);
        EXPECT_EQ(state.tests[i].link, "N" + names[i]);
        std::uint32_t const row = state.tests[i].first_row;
        EXPECT_EQ(state.readings.references.text(state.readings.reference[row]), names[i]);
        EXPECT_EQ(state.readings.operators.text(state.readings.operator_name[row]), names[i]);
        EXPECT_EQ(brought.state().references[i].id, names[i]) << "as the same file gives it";
    }
}

TEST_F(Typed, aRowThatCannotBeIsNamed)
{
    Job job = opened("typed");
    ASSERT_TRUE(job.enter_reference(reference()).has_value());
    auto const wrong_reading = [&](auto const& alter, char const* words) {
        TypedReadings readings = of_link("N-1");
        alter(readings);
        auto const done = job.enter_readings(readings);
        ASSERT_FALSE(done.has_value()) << words;
        EXPECT_EQ(done.error().code, Errc::invalid_input) << words;
        EXPECT_THAT(done.error().message, HasSubstr(words));
    };
    wrong_reading([](auto& r) { r.rows[0].position = 0; }, "Position 0 at 850 nm does not exist");
    wrong_reading([](auto& r) { r.rows[0].position = 65; }, "1 to 64");
    wrong_reading([](auto& r) { r.wavelength_nm = 599; }, "600 to 1700 nm");
    wrong_reading([](auto& r) { r.wavelength_nm = 1701; }, "600 to 1700 nm");
    wrong_reading([](auto& r) { r.rows[0].far_position = 65; }, "arrives at 65");
    wrong_reading([](auto& r) { r.rows[0].far_position = -1; }, "arrives at -1");
    wrong_reading([](auto& r) { r.rows[0].attenuation_db = 80.1; }, "-5 to 80 dB");
    wrong_reading([](auto& r) { r.rows[0].attenuation_db = nan; }, "-5 to 80 dB");
    wrong_reading([](auto& r) { r.rows.push_back(r.rows[0]); }, "typed twice");
    wrong_reading([](auto& r) { r.length_m = -1; }, "0 to 200 km");
    wrong_reading([](auto& r) { r.length_m = nan; }, "0 to 200 km");
    wrong_reading([](auto& r) { r.link = " "; }, "The link needs a name");
    wrong_reading([](auto& r) { r.person = "\x7F"; }, "The name of the person has a control character");
    TypedReference powers = reference();
    powers.key = "a2";
    powers.powers[3].power_dbm = 30.5;
    EXPECT_THAT(job.enter_reference(powers).error().message, HasSubstr("Position 4 at 850 nm has 30.5 dBm"));
    TypedCheck joints = check();
    joints.rows[3].position = joints.rows[4].position;
    EXPECT_THAT(job.enter_cord_check(joints).error().message, HasSubstr("typed twice"));
    EXPECT_TRUE(job.state().tests.empty());
}

TEST_F(Typed, aKeyIsLettersDigitsAndDashes)
{
    Job job = opened("typed");
    for (std::string const& key :
         {std::string(), std::string(65, 'a'), std::string("a/b"), std::string("a b"), std::string("a\n"),
          std::string("../x"), std::string("\xC3\xA4")}) {
        TypedReference powers = reference();
        powers.key = key;
        EXPECT_EQ(job.enter_reference(powers).error().code, Errc::usage) << key;
        TypedCheck joints = check();
        joints.key = key;
        EXPECT_EQ(job.enter_cord_check(joints).error().code, Errc::usage) << key;
        TypedReadings readings = of_link("N-1");
        readings.key = key;
        EXPECT_EQ(job.enter_readings(readings).error().code, Errc::usage) << key;
    }
    EXPECT_TRUE(require_typed_key(std::string(64, 'Z')).has_value());
    EXPECT_TRUE(require_typed_key("0a-9").has_value());
}

} // namespace typed_test
} // namespace guidepin::job
