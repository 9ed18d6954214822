// SPDX-License-Identifier: Apache-2.0
// room: base job
// bench_entry JOB [TIMES]: what one more test of one link costs in a job that is open, from the typed rows to
// verdicts, holds and derived rows on the disk, and then to findings, as ratios to the time of reading the
// records. JOB is copied, not written.
#include "base/clock.hpp"
#include "job/findings/explain.hpp"
#include "job/findings/findings.hpp"
#include "job/open/job.hpp"
#include "job/open/typed.hpp"

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <unistd.h>

#include <fmt/format.h>

using namespace guidepin;

namespace {

[[noreturn]] void stop(std::string const& message)
{
    std::fprintf(stderr, "bench_entry: %s\n", message.c_str());
    std::exit(3);
}

template <class T>
T must(Result<T> result)
{
    if (!result) stop(result.error().message);
    return std::move(*result);
}

template <class Work>
double seconds_of(Work const& work)
{
    auto const begin = std::chrono::steady_clock::now();
    work();
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
}

/// The link's readings at one wavelength, measured again a little worse.
job::TypedReadings again(job::JobState const& state, job::TestEntry const& test, int number)
{
    job::TypedReadings typed;
    typed.link = test.link;
    typed.key = fmt::format("bench-{}-{}", ::getpid(), number);
    std::uint32_t const first = test.first_row;
    typed.from_end_b = state.readings.launch_end[first] == verdict::LaunchEnd::b;
    typed.wavelength_nm = state.readings.wavelength_nm[first];
    if (state.readings.reference[first] != verdict::Dictionary::missing)
        typed.reference = state.readings.references.id(state.readings.reference[first]);
    typed.taken = Instant{state.readings.taken_ms[first] + 60'000, 0};
    for (std::uint32_t row = first; row < first + test.rows; ++row) {
        if (state.readings.wavelength_nm[row] != typed.wavelength_nm ||
            state.readings.launch_end[row] != state.readings.launch_end[first])
            continue;
        job::TypedReading reading;
        reading.position = state.readings.position[row];
        if (state.readings.far_position[row] > 0) reading.far_position = state.readings.far_position[row];
        reading.attenuation_db = state.readings.value[row] + 0.01;
        typed.rows.push_back(reading);
    }
    return typed;
}

} // namespace

int main(int argc, char** argv)
{
    if (argc < 2) stop("give a job: bench_entry JOB [TIMES]");
    int const times = argc > 2 ? std::max(2, std::atoi(argv[2])) : 20;
    auto const folder = std::filesystem::temp_directory_path() / fmt::format("bench-entry-{}", ::getpid());
    std::filesystem::create_directories(folder);
    std::string const path = (folder / "copy.guidepin").string();
    for (char const* ending : {"", "-wal"}) {
        if (std::filesystem::exists(std::string(argv[1]) + ending))
            std::filesystem::copy_file(std::string(argv[1]) + ending, path + ending);
    }
    SystemClock const clock;
    job::Actor actor;
    actor.clock = &clock;
    actor.name = "Bench";
    actor.key_path = (folder / "key").string();
    actor.program = "bench";
    actor.threads = 2;
    double read = 1e9;
    for (int i = 0; i < 3; ++i)
        read = std::min(read, seconds_of([&] { must(job::Job::open(path, actor, false)); }));
    {
        auto job = must(job::Job::open(path, actor, true));
        std::size_t const tests = job.state().tests.size();
        if (tests == 0) stop("this job has no test to repeat");
        double const judged = seconds_of([&] { must(job.assessment()); });
        std::optional<job::Explaining> explaining;
        double const explained = seconds_of([&] {
            explaining = must(job::Explaining::of(job.state(), *must(job.assessment()), 2));
            must(job::findings_from(job.state(), *must(job.assessment()), explaining->findings()));
        });
        std::vector<double> entries, renewed, reported;
        std::size_t findings = 0;
        for (int i = 0; i < times; ++i) {
            auto const& test =
                job.state()
                    .tests[tests * static_cast<std::size_t>(2 * i + 1) / static_cast<std::size_t>(2 * times)];
            auto const typed = again(job.state(), test, i);
            entries.push_back(seconds_of([&] {
                if (must(job.enter_readings(typed)).rows == 0) stop("an entry was not kept");
            }));
            job::Assessment const& assessment = *must(job.assessment());
            std::uint32_t const link = job.state().readings.link[job.state().tests.back().first_row];
            renewed.push_back(seconds_of([&] {
                if (!explaining->renew(job.state(), assessment, link)) stop("a link could not be renewed");
            }));
            reported.push_back(seconds_of([&] {
                findings = must(job::findings_from(job.state(), assessment, explaining->findings())).size();
            }));
        }
        std::string const version = job.version();
        if (!must(job.rebuild())) stop("rebuilt from the records the derived rows are others");
        fmt::print("{} links, {} readings, {} references; two threads\n", job.state().readings.links.size(),
                   job.state().readings.size(), job.state().references.size());
        auto const row = [&](char const* what, double seconds) {
            fmt::print("{:<44} {:8.1f} ms {:7.3f} x reading the records\n", what, seconds * 1000,
                       seconds / read);
        };
        row("reading the records", read);
        row("judging all", judged);
        row("first entry, which writes all derived rows", entries.front());
        std::sort(entries.begin() + 1, entries.end());
        row("a later entry, median", entries[1 + (entries.size() - 1) / 2]);
        row("a later entry, at most", entries.back());
        row(fmt::format("explaining all, {} findings", findings).c_str(), explained);
        std::sort(renewed.begin(), renewed.end());
        row("its link and reference explained, median", renewed[renewed.size() / 2]);
        row("its link and reference explained, at most", renewed.back());
        std::sort(reported.begin(), reported.end());
        row("and all findings reported, median", reported[reported.size() / 2]);
        row("and all findings reported, at most", reported.back());
    }
    std::filesystem::remove_all(folder);
    return 0;
}
