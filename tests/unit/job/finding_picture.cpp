// SPDX-License-Identifier: Apache-2.0
// The picture of a finding. Oracle: losses chosen so that the course is known; which drawing belongs to which
// cause.
#include "job/paper/finding_picture.hpp"
#include "job/open/job.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include <fmt/format.h>

#include "scratch_test.hpp"

namespace guidepin::job {
namespace finding_picture_test {

using ::testing::ElementsAre;

class FindingPicture : public support::ScratchTest
{
  protected:
    FindingPicture()
        : ScratchTest("2026-03-02T09:30:00Z")
    {
    }
    void SetUp() override
    {
        auto const settings = settings_from_sheet({"sheet", "[rules]\nwavelengths-multimode = [850]\n"});
        ASSERT_TRUE(settings) << settings.error().message;
        ASSERT_TRUE(Job::create(path(), *settings, actor_));
        auto opened = Job::open(path(), actor_, true);
        ASSERT_TRUE(opened) << opened.error().message;
        job_.emplace(std::move(opened).value());
        std::string schedule = "link,zone,category,length_m,family,fibres,trunk_type\n";
        std::string readings = "link,launch_end,position,far_position,wavelength_nm,attenuation_db,length_m,"
                               "taken_at,reference\n";
        // Under R-1 the second and third link read 0.2 dB more; under R-2 nothing is wrong.
        constexpr double losses[] = {0.40, 0.60, 0.60, 0.40, 0.40, 0.40};
        for (int link = 1; link <= 6; ++link) {
            schedule += fmt::format("N-{},North,OM4,50,mpo-12,12,B\n", link);
            for (int p = 1; p <= 12; ++p)
                readings += fmt::format("N-{},a,{},{},850,{},50,2026-03-02T08:{:02}:00Z,R-{}\n", link, p,
                                        13 - p, losses[link - 1], 10 + 4 * link, link <= 3 ? 1 : 2);
        }
        ASSERT_TRUE(job_->import_schedule("schedule.csv", schedule, {}));
        auto const brought = job_->import_readings("readings.csv", readings, {}, {});
        ASSERT_TRUE(brought) << brought.error().message;
    }

    FindingPictures pictures()
    {
        return FindingPictures::of(job_->state(), *job_->assessment().value()).value();
    }

    std::optional<Job> job_;
};

TEST_F(FindingPicture, CourseOfAReferenceIsWhatItsLinksReadTooMuch)
{
    cause::Finding finding;
    finding.cause = cause::Cause::reference_drift;
    finding.links = {1, 2};
    finding.reference = job_->state().readings.references.find("R-1");
    auto const course = pictures().course(finding);
    ASSERT_TRUE(course);
    ASSERT_EQ(course->values.size(), 3u);
    EXPECT_NEAR(course->values[0], 0.0, 1e-6);
    EXPECT_NEAR(course->values[1], 0.2, 1e-6);
    EXPECT_NEAR(course->values[2], 0.2, 1e-6);
    EXPECT_THAT(course->held, ElementsAre(false, true, true));
    EXPECT_THAT(course->signal, ElementsAre(false, true, false));
    EXPECT_DOUBLE_EQ(course->change_at.value(), 0.5);
    EXPECT_EQ(course->change_label, "from N-2 on");
}

TEST_F(FindingPicture, EachCauseHasItsDrawing)
{
    cause::Finding finding;
    finding.cause = cause::Cause::dirty_end_face;
    finding.links = {0};
    auto const row = pictures().picture(finding, 700).value();
    ASSERT_TRUE(row);
    finding.cause = cause::Cause::crossed_fibres;
    auto const map = pictures().picture(finding, 700).value();
    ASSERT_TRUE(map);
    EXPECT_NE(row->height, map->height);
    EXPECT_THAT(map->name, ::testing::HasSubstr("N-1"));
    finding.cause = cause::Cause::copied_measurement;
    finding.links = {0, 1};
    auto const two = pictures().picture(finding, 700).value();
    ASSERT_TRUE(two);
    EXPECT_GT(two->height, 2 * row->height);
    finding.links = {};
    EXPECT_FALSE(pictures().picture(finding, 700).value());
}

} // namespace finding_picture_test
} // namespace guidepin::job
