// SPDX-License-Identifier: Apache-2.0
// A small job in a folder of its own, on which a fault is tried: two links, a reference, its cord check,
// readings of the first link.
#pragma once

#include "job/handover/package.hpp"
#include "job/open/job.hpp"
#include "record/check.hpp"

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <stdlib.h>
#include <unistd.h>

#include "fixed_clock.hpp"
#include "scratch_folder.hpp"

namespace guidepin::job::faults {

/// From one operation that fails to the next: 1 tries every operation. GUIDEPIN_FAULTS asks for a larger step
/// where a slow build (with sanitizers) tries a share of them.
inline int fault_step()
{
    char const* const given = ::getenv("GUIDEPIN_FAULTS");
    return given ? std::max(1, std::atoi(given)) : 1;
}

/// Twelve readings of a link as an instrument would write them.
inline std::string readings_of(std::string const& link, std::string const& minute)
{
    std::string text =
        "link,launch_end,position,far_position,wavelength_nm,attenuation_db,taken_at,reference\n";
    for (int p = 1; p <= 12; ++p)
        text += fmt::format("{},a,{},{},850,0.4,2026-03-02T09:{}:00Z,R-1\n", link, p, 13 - p, minute);
    return text;
}

class FaultJob
{
  public:
    FaultJob()
    {
        actor.name = "Ines";
        actor.key_path = (folder_ / "station.key").string();
        actor.clock = &clock_;
        actor.threads = 1;
    }
    FaultJob(FaultJob const&) = delete;
    FaultJob& operator=(FaultJob const&) = delete;

    std::string file(std::string const& name) const { return (folder_ / name).string(); }
    std::string base() const { return file("base.guidepin"); }
    std::filesystem::path const& folder() const { return folder_; }

    static Settings settings()
    {
        auto const read = settings_from_sheet({"sheet", R"([job]
title = "Harbour Hall"
[rules]
require-length = false
require-polarity = false
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
        if (!read) ADD_FAILURE() << read.error().message;
        return *read;
    }

    /// The job that every trial begins with, closed.
    void make_base()
    {
        must(Job::create(base(), settings(), actor));
        auto job = Job::open(base(), actor, true);
        must(job);
        must(job->import_schedule("schedule.csv",
                                  "link,category,length_m,family,fibres,trunk_type,face\n"
                                  "N-1,OM4,50,mpo-12,12,B,flat\nN-2,OM4,60,mpo-12,12,B,flat\n",
                                  {}));
        std::string reference = "reference,position,wavelength_nm,power_dbm,taken_at\n";
        std::string check = "check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\n";
        for (int p = 1; p <= 12; ++p) {
            reference += fmt::format("R-1,{},850,-20,2026-03-02T08:00:00Z\n", p);
            check += fmt::format("C-1,R-1,{},{},850,0.1,2026-03-02T08:10:00Z\n", p, p);
        }
        ReferenceOptions how;
        how.kit = {"S", "M", "L", "T", ""};
        must(job->take_reference("reference.csv", reference, {}, how));
        must(job->take_cord_check("check.csv", check, {}, verdict::ReferenceId(), false));
        must(job->import_readings("first.csv", readings_of("N-1", "00"), {}, {}));
    }

    /// A fresh copy of the base at `name`, with nothing beside it.
    std::string copy(std::string const& name) const
    {
        std::string const path = file(name);
        for (char const* ending : {"", "-wal", "-shm", "-journal", "-holder"})
            std::filesystem::remove(path + ending);
        std::filesystem::copy_file(base(), path);
        return path;
    }

    template <class Any>
    static void must(Any const& outcome)
    {
        if (!outcome) throw std::runtime_error(outcome.error().message);
    }

    Actor actor;

  private:
    support::ScratchFolder const scratch_{support::ScratchFolder::Place::memory}; // thousands of small jobs
    std::filesystem::path const folder_ = scratch_.path();
    FixedClock clock_{parse_instant("2026-03-02T12:00:00Z")->ms};
};

} // namespace guidepin::job::faults
