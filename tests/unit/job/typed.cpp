// SPDX-License-Identifier: Apache-2.0
// References and cord checks typed by hand, against real job files.
// Oracle: the same values brought in as a file, at the same time; the state read back from the records alone.
#include "job/open/typed.hpp"

#include "job/open/job.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include <fmt/format.h>
#include <unistd.h>

namespace guidepin::job {
namespace {

using ::testing::HasSubstr;

class Typed : public ::testing::Test
{
  protected:
    void SetUp() override
    {
        folder_ = std::filesystem::temp_directory_path() / fmt::format("guidepin-typed-{}", ::getpid());
        std::filesystem::remove_all(folder_);
        std::filesystem::create_directories(folder_);
        actor_.name = "Ines";
        actor_.key_path = (folder_ / "station.key").string();
        actor_.clock = &clock_;
        actor_.threads = 1;
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
    void TearDown() override { std::filesystem::remove_all(folder_); }

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

    std::filesystem::path folder_;
    FixedClock clock_{parse_instant("2026-03-02T09:00:00Z")->ms};
    Actor actor_;
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
    odd.id = "R,1";
    EXPECT_THAT(job.enter_reference(odd).error().message, HasSubstr("no name for a reference"));
    EXPECT_EQ(job.enter_cord_check(check()).error().code, Errc::not_found);
    EXPECT_EQ(job.state().references.size(), 0U);
}

} // namespace
} // namespace guidepin::job
