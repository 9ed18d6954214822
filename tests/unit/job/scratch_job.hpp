// SPDX-License-Identifier: Apache-2.0
// A job file of its own for each test, and files as an instrument would write them.
#pragma once

#include "job/groundwork/trust.hpp"
#include "job/open/job.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "scratch_test.hpp"

namespace guidepin::job {

inline std::vector<int> positions(int first, int last)
{
    std::vector<int> list;
    for (int p = first; p <= last; ++p) list.push_back(p);
    return list;
}

/// 1 to 4 and 9 to 12: eight fibres in a plug of twelve.
inline std::vector<int> outer_eight()
{
    return {1, 2, 3, 4, 9, 10, 11, 12};
}

class ScratchJob : public support::ScratchTest
{
  protected:
    ScratchJob()
        : ScratchTest("2026-03-02T12:00:00Z")
    {
    }

    void open_new(std::string const& kit, std::string const& rules = "wavelengths-multimode = [850]\n")
    {
        job_.reset();
        std::filesystem::remove(path());
        auto const settings = settings_from_sheet(
            {"sheet", "[rules]\nrequire-length = false\nrequire-polarity = false\n" + rules + kit});
        ASSERT_TRUE(settings.has_value()) << settings.error().message;
        auto const made = Job::create(path(), *settings, actor_);
        ASSERT_TRUE(made.has_value()) << made.error().message;
        auto opened = Job::open(path(), actor_, true);
        ASSERT_TRUE(opened.has_value()) << opened.error().message;
        job_.emplace(std::move(opened).value());
    }
    /// Lines "N-1,OM4,50,mpo-12,12,B,flat".
    void schedule(std::string const& lines)
    {
        auto const done = job_->import_schedule(
            "schedule.csv", "link,category,length_m,family,fibres,trunk_type,face\n" + lines, {});
        ASSERT_TRUE(done.has_value()) << done.error().message;
    }
    void reference(std::vector<int> const& at, std::vector<int> const& wavelengths = {850},
                   TestKit const& kit = {.source = "S", .meter = "M", .launch = "L", .tail = "T"},
                   std::string const& method = "")
    {
        std::string text = "reference,position,wavelength_nm,power_dbm,taken_at\n";
        for (int const nm : wavelengths) {
            for (int const p : at)
                text += fmt::format("R-1,{},{},{},2026-03-02T08:00:00Z\n", p, nm, nm < 1310 ? -20.0 : -5.0);
        }
        ReferenceOptions how;
        how.kit = kit;
        how.method = setup::parse_reference_method(method);
        auto const done = job_->take_reference("reference.csv", text, {}, how);
        ASSERT_TRUE(done.has_value()) << done.error().message;
    }
    void check(std::vector<int> const& at, std::vector<int> const& wavelengths = {850},
               std::string const& id = "C-1", bool turned = false)
    {
        std::string text = "check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\n";
        for (int const nm : wavelengths) {
            for (int const p : at)
                text +=
                    fmt::format("{},R-1,{},{},{},0.1,2026-03-02T08:10:00Z\n", id, p, turned ? 13 - p : p, nm);
        }
        auto const done = job_->take_cord_check(id + ".csv", text, {}, verdict::ReferenceId(), false);
        ASSERT_TRUE(done.has_value()) << done.error().message;
    }
    static std::string reading_rows(std::string const& link, std::vector<int> const& at, int nm = 850,
                                    double loss = 0.4, std::string const& time = "09:00:00")
    {
        std::string text;
        for (int const p : at)
            text += fmt::format("{},a,{},{},{},{},2026-03-02T{}Z,R-1\n", link, p, 13 - p, nm, loss, time);
        return text;
    }
    static std::string readings_file(std::string const& rows, char const* value = "attenuation_db")
    {
        return fmt::format("link,launch_end,position,far_position,wavelength_nm,{},taken_at,reference\n",
                           value) +
               rows;
    }
    ReadingsOutcome readings(std::string const& rows, char const* value = "attenuation_db")
    {
        auto const done = job_->import_readings("readings.csv", readings_file(rows, value), {}, {});
        EXPECT_TRUE(done.has_value()) << (done ? "" : done.error().message);
        return done ? *done : ReadingsOutcome{};
    }
    Assessment const& assessment()
    {
        auto const done = job_->assessment();
        EXPECT_TRUE(done.has_value()) << done.error().message;
        return **done;
    }
    Trust reference_now() { return reference_trust(job_->state(), assessment()).at(0); }
    Trust check_now() { return check_trust(job_->state(), assessment()).back(); }
    static std::vector<std::string> ids(Trust const& trust)
    {
        std::vector<std::string> ids;
        for (TrustReason const& reason : trust.reasons) ids.push_back(reason.id);
        return ids;
    }
    static std::string texts(Trust const& trust)
    {
        std::string text;
        for (TrustReason const& reason : trust.reasons) text += reason.text + "\n";
        return text;
    }
    /// Readings by why they are held.
    std::map<std::string, int> holds()
    {
        std::map<std::string, int> counts;
        for (std::uint8_t const hold : assessment().hold)
            ++counts[verdict::name_of(static_cast<verdict::HoldKind>(hold))];
        return counts;
    }
    std::string first_hold_text()
    {
        Assessment const& all = assessment();
        for (std::uint32_t row = 0; row < all.hold.size(); ++row) {
            if (all.hold[row] != 0) return all.hold_of(job_->state(), row).text;
        }
        return {};
    }

    std::optional<Job> job_;
};

/// Source and meter with pins, cords without, all of it stated; the reference's joints hold.
inline char const* const stated_kit = R"(
[[instrument]]
id = "S"
role = "source"
pins = "pinned"
calibration-due = 2026-11-10
[[instrument]]
id = "M"
role = "meter"
pins = "pinned"
calibration-due = 2026-11-10
[[cord]]
id = "L"
role = "launch"
face = "flat"
[[cord]]
id = "T"
role = "tail"
face = "flat"
)";

} // namespace guidepin::job
