// SPDX-License-Identifier: Apache-2.0
// Rules of the audit that no command can break: a second setting, an import taken back, a clock that was set
// back, readings younger than their record. Oracle: what each case does to the job.
#include "job/handover/audit.hpp"
#include "record/canonical_json.hpp"
#include "record/kind.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include <fmt/format.h>

#include "scratch_test.hpp"

namespace guidepin::job {
namespace audit_cases_test {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Not;

std::int64_t at(char const* text)
{
    return parse_instant(text)->ms;
}

class AuditCases : public support::ScratchTest
{
  protected:
    AuditCases()
        : ScratchTest("2026-03-02T09:30:00Z")
    {
    }
    void SetUp() override
    {
        auto const settings = settings_from_sheet({"sheet", "[rules]\nwavelengths-multimode = [850]\n"});
        ASSERT_TRUE(settings) << settings.error().message;
        settings_ = *settings;
        ASSERT_TRUE(Job::create(path(), settings_, actor_));
        auto job = open();
        ASSERT_TRUE(job.import_schedule("schedule.csv",
                                        "link,zone,category,length_m,family,fibres,trunk_type\n"
                                        "N-1,North,OM4,50,mpo-12,12,B\n",
                                        {}));
        std::string rows = "link,launch_end,position,far_position,wavelength_nm,attenuation_db,taken_at\n";
        for (int p = 1; p <= 12; ++p)
            rows += fmt::format("N-1,a,{},{},850,0.40,2026-03-02T08:30:00Z\n", p, 13 - p);
        ASSERT_TRUE(job.import_readings("readings.csv", rows, {}, {}));
    }

    Job open()
    {
        auto opened = Job::open(path(), actor_, true);
        EXPECT_TRUE(opened) << opened.error().message;
        return std::move(opened).value();
    }
    std::vector<AuditFinding> findings()
    {
        auto const report = audit(path(), actor_);
        EXPECT_TRUE(report) << report.error().message;
        return report ? report->findings : std::vector<AuditFinding>{};
    }
    std::vector<std::string> rules()
    {
        std::vector<std::string> rules;
        for (AuditFinding const& finding : findings()) rules.push_back(finding.rule);
        return rules;
    }
    void append(std::string_view kind, std::int64_t ms, std::string body)
    {
        auto const key = record::StationKey::read_or_make(actor_.key_path).value();
        record::OpenOptions open;
        open.maker = {"0.1.0", "x"};
        open.access = record::OpenOptions::Access::write;
        open.key = &key;
        auto const store = record::open_sqlite(path(), open).value();
        ASSERT_TRUE(record::append(
            *store, std::vector{record::Draft{std::string(kind), {ms, 0}, "Ines", std::move(body)}}));
    }

    Settings settings_;
};

TEST_F(AuditCases, APromiseChangedAfterTheTest)
{
    EXPECT_THAT(rules(), Not(Contains("rules-changed-after-test")));
    settings_.directions = 2;
    append(record::kind::setting, at("2026-03-02T11:00:00Z"),
           record::canonicalised(settings_to_json(settings_)).value());
    EXPECT_THAT(rules(), Contains("rules-changed-after-test"));
    EXPECT_THAT(rules(), Contains("direction-not-measured"));
}

TEST_F(AuditCases, TheSamePromiseAgainIsNoChange)
{
    append(record::kind::setting, at("2026-03-02T11:00:00Z"),
           record::canonicalised(settings_to_json(settings_)).value());
    EXPECT_THAT(rules(), Not(Contains("rules-changed-after-test")));
}

TEST_F(AuditCases, ReadingsYoungerThanTheirRecord)
{
    // An import takes none from the future; another program's record may hold them.
    EXPECT_THAT(rules(), Not(Contains("taken-after-recorded")));
    std::string body;
    auto const store = record::open_sqlite(path(), {});
    ASSERT_TRUE(store) << store.error().message;
    record::RecordQuery tests;
    tests.kinds = {std::string(record::kind::link_tested)};
    ASSERT_TRUE((*store)->visit(tests, [&](record::RecordView const& view) -> Outcome {
        body = std::string(view.body);
        return {};
    }));
    append(record::kind::link_tested, at("2026-03-02T08:00:00Z"), body);
    EXPECT_THAT(rules(), Contains("taken-after-recorded"));
}

TEST_F(AuditCases, AnImportTakenBack)
{
    auto job = open();
    SourceFile const& file = job.state().files.back();
    Withdrawal withdrawal;
    withdrawal.station = file.station;
    withdrawal.sequence = file.sequence;
    withdrawal.reason = "the wrong hall";
    ASSERT_TRUE(job.withdraw_import(withdrawal));
    auto const found = findings();
    auto const withdrawn =
        std::find_if(found.begin(), found.end(), [](auto const& f) { return f.rule == "import-withdrawn"; });
    ASSERT_NE(withdrawn, found.end());
    EXPECT_THAT(withdrawn->text, HasSubstr("the wrong hall"));
    EXPECT_THAT(withdrawn->text, HasSubstr("readings.csv"));
    EXPECT_THAT(rules(), Contains("link-not-tested"));
}

TEST_F(AuditCases, AClockSetBack)
{
    EXPECT_THAT(rules(), Not(Contains("clock-went-back")));
    // Ten minutes are what clocks may differ by; an hour is not.
    append(record::kind::note, at("2026-03-02T09:20:00Z"), R"({"name":"","subject":"job","text":"x"})");
    EXPECT_THAT(rules(), Not(Contains("clock-went-back")));
    append(record::kind::note, at("2026-03-02T08:20:00Z"), R"({"name":"","subject":"job","text":"y"})");
    EXPECT_THAT(rules(), Contains("clock-went-back"));
}

} // namespace audit_cases_test
} // namespace guidepin::job
