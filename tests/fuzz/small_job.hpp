// SPDX-License-Identifier: Apache-2.0
// A small whole job that fuzzers change: made by the program itself when a fuzzer starts, so that no large
// seed has to be kept and none grows old.
#pragma once

#include "../support/fixed_clock.hpp"
#include "job/open/job.hpp"

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include <fmt/format.h>
#include <unistd.h>

#include "scratch_folder.hpp"

namespace small_job {

using namespace guidepin;

/// A folder in memory if there is one; it goes away at the end.
class Folder : public support::ScratchFolder
{
  public:
    Folder()
        : ScratchFolder(Place::memory)
    {
    }
};

template <class Value>
Value need(Result<Value> value)
{
    if (!value) {
        std::fprintf(stderr, "The job to start from cannot be made: %s\n", value.error().message.c_str());
        std::abort();
    }
    return std::move(value).value();
}

inline void need(Outcome const& outcome)
{
    if (outcome) return;
    std::fprintf(stderr, "The job to start from cannot be made: %s\n", outcome.error().message.c_str());
    std::abort();
}

inline std::string content_of(std::string const& path)
{
    std::ifstream file(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
}

inline void write(std::string const& path, std::string_view bytes)
{
    std::ofstream file(path, std::ios::binary | std::ios::trunc);
    file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
}

inline FixedClock const& noon()
{
    static FixedClock const clock{1'772'452'800'000}; // 2026-03-02T12:00:00Z
    return clock;
}

inline job::Actor actor(Folder const& folder)
{
    job::Actor actor;
    actor.name = "Ines";
    actor.key_path = folder.file("station.key");
    actor.clock = &noon();
    actor.threads = 1;
    return actor;
}

/// Two links, one of them measured, under a reference with its check.
inline void make(std::string const& path, job::Actor const& actor)
{
    need(job::Job::create(path, need(job::settings_from_sheet({"sheet", R"([rules]
wavelengths-multimode = [850]
require-length = false
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
)"})),
                          actor));
    auto job = need(job::Job::open(path, actor, true));
    need(job.import_schedule(
        "schedule.csv",
        "link,category,length_m,family,fibres,trunk_type\nN-1,OM4,50,mpo-12,12,B\nN-2,OM4,50,mpo-12,12,B\n",
        {}));
    std::string powers = "reference,position,wavelength_nm,power_dbm,taken_at\n";
    std::string check = "check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\n";
    std::string readings =
        "link,launch_end,position,far_position,wavelength_nm,attenuation_db,taken_at,reference\n";
    for (int p = 1; p <= 12; ++p) {
        powers += fmt::format("R-1,{},850,-20.0,2026-03-02T08:00:00Z\n", p);
        check += fmt::format("C-1,R-1,{},{},850,0.10,2026-03-02T08:10:00Z\n", p, p);
        readings += fmt::format("N-1,a,{},{},850,0.40,2026-03-02T09:00:00Z,R-1\n", p, 13 - p);
    }
    job::ReferenceOptions how;
    how.kit = {.source = "S", .meter = "M", .launch = "L", .tail = "T"};
    need(job.take_reference("reference.csv", powers, {}, how));
    need(job.take_cord_check("check.csv", check, {}, verdict::ReferenceId{}, false));
    need(job.import_readings("readings.csv", readings, {}, {}));
    need(job.add_note({"link", "N-1", "label is missing", "", "", "key-1", {}, "", ""}));
}

} // namespace small_job
