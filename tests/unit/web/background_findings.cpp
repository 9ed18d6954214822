// SPDX-License-Identifier: Apache-2.0
// Findings and audit worked out beside the pages. Oracle: what is put into the job; findings_of() of the same
// job.
#include "web/background_findings.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <filesystem>
#include <thread>

#include <fmt/format.h>

#include "scratch_test.hpp"

namespace guidepin::web {
namespace background_findings_test {

using namespace std::chrono_literals;
using ::testing::HasSubstr;

class BackgroundFindingsOfAJob : public support::ScratchTest
{
  protected:
    BackgroundFindingsOfAJob()
        : ScratchTest("2026-03-02T09:30:00Z")
    {
    }
    void SetUp() override
    {
        auto const settings = job::settings_from_sheet({"sheet", "[rules]\nwavelengths-multimode = [850]\n"});
        ASSERT_TRUE(settings) << settings.error().message;
        ASSERT_TRUE(job::Job::create(path(), *settings, actor_));
        auto opened = job::Job::open(path(), actor_, true);
        ASSERT_TRUE(opened) << opened.error().message;
        job_.emplace(std::move(opened).value());
        ASSERT_TRUE(job_->import_schedule("schedule.csv",
                                          "link,zone,category,length_m,family,fibres,trunk_type\n"
                                          "N-1,North,OM4,50,mpo-12,12,B\nN-2,North,OM4,50,mpo-12,12,B\n",
                                          {}));
    }
    void measure(std::string const& link, bool crossed)
    {
        std::string rows =
            "link,launch_end,position,far_position,wavelength_nm,attenuation_db,length_m,taken_at\n";
        for (int p = 1; p <= 12; ++p) {
            int const far = crossed && p == 3 ? 9 : crossed && p == 4 ? 10 : 13 - p;
            rows += fmt::format("{},a,{},{},850,0.4{},50,2026-03-02T08:30:00Z\n", link, p, far, p % 7);
        }
        ASSERT_TRUE(job_->import_readings(link + ".csv", rows, {}, {}));
    }
    /// The snapshot about the job as it is now; null after ten seconds.
    static std::shared_ptr<FindingsSnapshot const> waited(BackgroundFindings const& background)
    {
        for (int i = 0; i < 1000 && !background.is_current(); ++i) std::this_thread::sleep_for(10ms);
        return background.is_current() ? background.latest() : nullptr;
    }

    std::optional<job::Job> job_;
};

TEST_F(BackgroundFindingsOfAJob, HasTheFindingsAndComputesThemAgainOnRequest)
{
    measure("N-1", false);
    std::atomic<int> done{0};
    BackgroundFindings background(path(), actor_, [&](bool) { ++done; });
    EXPECT_EQ(background.latest(), nullptr);
    background.request(job_->version());
    auto const first = waited(background);
    ASSERT_TRUE(first);
    EXPECT_EQ(first->failure, "");
    EXPECT_TRUE(first->findings.empty());
    ASSERT_TRUE(first->audit);
    EXPECT_EQ(first->audit->readings, 12u);

    measure("N-2", true);
    background.request(job_->version());
    auto const second = waited(background);
    ASSERT_TRUE(second);
    auto const findings = job::findings_of(job_->state(), *job_->assessment().value());
    ASSERT_TRUE(findings);
    ASSERT_EQ(second->findings.size(), findings->size());
    ASSERT_FALSE(second->findings.empty());
    ShownFinding const& shown = second->findings.front();
    EXPECT_EQ(shown.entry.finding.id, findings->front().finding.id);
    EXPECT_THAT(shown.heading, HasSubstr("N-2"));
    EXPECT_EQ(shown.urgency, "must settle");
    EXPECT_TRUE(shown.wide.has_value());
    EXPECT_GE(done, 1);
}

TEST_F(BackgroundFindingsOfAJob, ANoteLeavesTheFindingsAsTheyAreAndATestDoesNot)
{
    measure("N-1", true);
    std::atomic<int> others{0};
    BackgroundFindings background(path(), actor_, [&](bool is_other) { others += is_other ? 1 : 0; });
    background.request(job_->version());
    ASSERT_TRUE(waited(background));
    auto const as_from_scratch = [&] {
        background.request(job_->version());
        auto const snapshot = waited(background);
        auto const findings = job::findings_of(job_->state(), *job_->assessment().value());
        std::vector<std::string> there, wanted;
        if (snapshot)
            for (ShownFinding const& shown : snapshot->findings) there.push_back(shown.entry.finding.id);
        if (findings)
            for (job::JobFinding const& finding : *findings) wanted.push_back(finding.finding.id);
        EXPECT_EQ(there, wanted);
        return there.size();
    };
    job::Note note;
    note.subject = "link";
    note.name = "N-1";
    note.text = "The plug looks dirty";
    ASSERT_TRUE(job_->add_note(note));
    std::size_t const before = as_from_scratch();
    EXPECT_GT(before, 0u);
    EXPECT_EQ(others, 1) << "a note gave other findings";
    measure("N-2", true);
    EXPECT_GT(as_from_scratch(), before);
    EXPECT_EQ(others, 2);
}

TEST_F(BackgroundFindingsOfAJob, SaysWhyItKnowsNothing)
{
    BackgroundFindings background((folder_ / "none.guidepin").string(), actor_, [](bool) {});
    background.request("any");
    std::shared_ptr<FindingsSnapshot const> snapshot;
    for (int i = 0; i < 1000 && !snapshot; ++i) {
        std::this_thread::sleep_for(10ms);
        snapshot = background.latest();
    }
    ASSERT_TRUE(snapshot);
    EXPECT_THAT(snapshot->failure, HasSubstr("none.guidepin"));
}

} // namespace background_findings_test
} // namespace guidepin::web
