// SPDX-License-Identifier: Apache-2.0
// Rows in the file that somebody altered: no page shows them, `check` names them, and the workbench writes
// them again. Two views of one job decide on what the file holds, not on what they read. Oracles: the rows
// computed from the records; a rebuild.
#include "job/assess/compare_derived.hpp"
#include "job/open/job.hpp"
#include "record/derived_digest.hpp"
#include "record/derived_query.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include <fmt/format.h>
#include <sqlite3.h>
#include <unistd.h>

#include "scratch_test.hpp"

namespace guidepin::job {
namespace change_test {

using ::testing::HasSubstr;

std::string readings(std::string const& link, double loss)
{
    std::string text =
        "link,launch_end,position,far_position,wavelength_nm,attenuation_db,taken_at,reference\n";
    for (int p = 1; p <= 12; ++p)
        text += fmt::format("{},a,{},{},850,{:.2f},2026-03-02T09:00:00Z,R-1\n", link, p, 13 - p, loss);
    return text;
}

class Changes : public support::ScratchTest
{
  protected:
    Changes()
        : ScratchTest("2026-03-02T10:00:00Z")
    {
    }
    void SetUp() override
    {
        auto const settings = settings_from_sheet(
            {"sheet", "[rules]\nwavelengths-multimode = [850]\nrequire-length = false\n"});
        ASSERT_TRUE(settings.has_value());
        ASSERT_TRUE(Job::create(path(), *settings, actor_).has_value());
        Job job = open();
        ASSERT_TRUE(job.import_schedule("schedule.csv",
                                        "link,zone,category,length_m,family,fibres,trunk_type\n"
                                        "N-1,North,OM4,50,mpo-12,12,B\nN-2,North,OM4,50,mpo-12,12,B\n",
                                        {})
                        .has_value());
        ASSERT_TRUE(job.import_readings("n-1.csv", readings("N-1", 3.0), {}, {}).has_value());
    }
    Job open(bool writing = true)
    {
        auto job = Job::open(path(), actor_, writing);
        EXPECT_TRUE(job.has_value()) << job.error().message;
        return std::move(*job);
    }
    void run_sql(char const* sql)
    {
        sqlite3* handle = nullptr;
        ASSERT_EQ(sqlite3_open(path().c_str(), &handle), SQLITE_OK);
        EXPECT_EQ(sqlite3_exec(handle, sql, nullptr, nullptr, nullptr), SQLITE_OK) << sqlite3_errmsg(handle);
        sqlite3_close(handle);
    }
    std::string comparison()
    {
        Job const job = open(false);
        auto const found = compare_derived(job.store());
        EXPECT_TRUE(found.has_value());
        return found->holds ? "holds" : found->text;
    }
};

TEST_F(Changes, ARowThatSomebodyAlteredIsNeverShownAndIsWrittenAgain)
{
    struct Forgery
    {
        char const* sql;
        char const* named;
    };
    for (Forgery const& forgery :
         {Forgery{"update derived_link set state = 'pass', reason = '' where link = 'N-1'", "link N-1"},
          Forgery{"update derived_test set state = 'pass'", "the test of link N-1"},
          Forgery{"update derived_progress set links = links + 1 where scope = 'job'", "the count of job"},
          Forgery{"insert into derived_finding values ('f', 'r', 'note', 'link', 'N-1', null, null, 'm', "
                  "'a', '', '{}')",
                  "finding f"},
          Forgery{"insert into derived_text values ('chart', 'x')", "text chart"},
          Forgery{"delete from derived_link where link = 'N-2'", "link N-2"}}) {
        Job job = open();
        ASSERT_TRUE(job.rows().has_value());
        ASSERT_TRUE(job.refresh().has_value());
        std::string const before = record::find_link(**job.rows(), "N-1")->state;
        EXPECT_NE(before, "pass");
        run_sql(forgery.sql);
        EXPECT_THAT(comparison(), HasSubstr(forgery.named));
        EXPECT_EQ(record::find_link(**job.rows(), "N-1")->state, before)
            << "what is shown comes from the records";
        ASSERT_TRUE(job.refresh().has_value());
        EXPECT_THAT(job.caution(), HasSubstr("had been changed by something else")) << forgery.sql;
        EXPECT_EQ(comparison(), "holds") << forgery.sql;
    }
}

TEST_F(Changes, AForgedDigestDoesNotHideAForgedRow)
{
    run_sql("update derived_link set state = 'pass' where link = 'N-1'");
    {
        auto const rows = open(false).store().derived_tables();
        run_sql(fmt::format("update property set value = '{}' where name = 'derived-digest'",
                            record::DerivedDigest::of(*rows)->hex())
                    .c_str());
    }
    EXPECT_THAT(comparison(), HasSubstr("link N-1"));
    Job job = open();
    ASSERT_TRUE(job.rows().has_value());
    ASSERT_TRUE(job.refresh().has_value());
    EXPECT_EQ(comparison(), "holds");
}

TEST_F(Changes, AnotherProgramsRowsAreNoForgery)
{
    Job one = open();
    ASSERT_TRUE(one.rows().has_value());
    ASSERT_TRUE(one.refresh().has_value());
    Job other = open();
    ASSERT_TRUE(other.import_readings("n-2.csv", readings("N-2", 0.4), {}, {}).has_value());
    auto const moved = one.refresh();
    ASSERT_TRUE(moved.has_value());
    EXPECT_TRUE(*moved);
    EXPECT_EQ(one.caution(), "");
    EXPECT_EQ(one.version(), other.version());
    EXPECT_EQ(record::DerivedDigest::of(**one.rows())->hex(),
              record::DerivedDigest::of(**other.rows())->hex());
}

TEST_F(Changes, TwoViewsDecideOnWhatTheFileHolds)
{
    Job one = open(), other = open();
    // Both have read the job; the second decides on what the first has written since.
    std::string const file = readings("N-2", 0.4);
    ASSERT_TRUE(one.import_readings("n-2.csv", file, {}, {}).has_value());
    auto const twice = other.import_readings("n-2.csv", file, {}, {});
    ASSERT_FALSE(twice.has_value());
    EXPECT_EQ(twice.error().code, Errc::conflict);
    std::string powers = "reference,position,wavelength_nm,power_dbm,taken_at\n";
    for (int p = 1; p <= 12; ++p) powers += fmt::format("R-1,{},850,-20.0,2026-03-02T08:00:00Z\n", p);
    ASSERT_TRUE(other.take_reference("r.csv", powers, {}, {}).has_value());
    auto const again = one.take_reference("r.csv", powers, {}, {});
    ASSERT_FALSE(again.has_value());
    EXPECT_EQ(again.error().code, Errc::conflict);
    EXPECT_EQ(comparison(), "holds");
    EXPECT_EQ(open().state().references.size(), 1U);
}

} // namespace change_test
} // namespace guidepin::job
