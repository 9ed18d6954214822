// SPDX-License-Identifier: Apache-2.0
// room: base units facts plant setup loss verdict intake job
// bench_verdicts READINGS.csv SCHEDULE.csv [THREADS]: from files to a verdict for each link, without storing:
// limits, expected maps, uncertainty, what references hold, loss, polarity, length, completeness, p_c, as a
// job does it. One line of JSON: seconds, peak memory, and the answer (links, failing links, sum of the worst
// margins) for comparing with other programs. bench_verdicts --values: "FIXED ALPHA850 ALPHA1300", the
// limit's parts in dB and dB/km, for those programs to use; they compute margins and the worst fibre only.
#include "base/text.hpp"
#include "facts/tables.hpp"
#include "intake/readings.hpp"
#include "intake/schedule.hpp"
#include "job/assess/assess.hpp"
#include "loss/limit.hpp"

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <fcntl.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <fmt/format.h>

namespace {

using namespace guidepin;

[[noreturn]] void stop(std::string const& message)
{
    std::fprintf(stderr, "bench_verdicts: %s\n", message.c_str());
    std::exit(3);
}

template <class T>
T must(Result<T> result)
{
    if (!result) stop(result.error().message);
    return std::move(*result);
}

std::string_view mapped(char const* path)
{
    int const file = ::open(path, O_RDONLY);
    struct stat about
    {
    };
    if (file < 0 || ::fstat(file, &about) != 0 || about.st_size == 0)
        stop(fmt::format("cannot read {}", path));
    auto const size = static_cast<std::size_t>(about.st_size);
    void* const memory = ::mmap(nullptr, size, PROT_READ, MAP_PRIVATE | MAP_POPULATE, file, 0);
    ::close(file);
    if (memory == MAP_FAILED) stop(fmt::format("cannot map {}", path));
    return {static_cast<char const*>(memory), size};
}

double limit_db(std::string const& category, int wavelength_nm, double metres, int inner, int splices)
{
    facts::Tables const& tables = facts::built_in_tables();
    loss::LimitQuestion question;
    question.rules = must(tables.rule_set("tia-568.3-e"));
    question.category = must(tables.category(category));
    question.wavelength = Nanometres{wavelength_nm};
    question.length = Metres{metres};
    question.inner = inner;
    question.splices = splices;
    return must(loss::limit_value(question)).value();
}

} // namespace

int main(int argc, char** argv)
{
    if (argc == 2 && std::string_view(argv[1]) == "--values") {
        double const fixed = limit_db("OM4", 850, 0, 0, 0);
        fmt::print("{} {} {}\n", number_text(fixed), fixed_text(limit_db("OM4", 850, 1000, 0, 0) - fixed, 6),
                   fixed_text(limit_db("OM4", 1300, 1000, 0, 0) - fixed, 6));
        return 0;
    }
    if (argc < 3) {
        std::fputs("usage: bench_verdicts READINGS.csv SCHEDULE.csv [THREADS] | --values\n", stderr);
        return 2;
    }
    facts::built_in_tables(); // not part of the measured work, as other programs' start is not
    auto const start = std::chrono::steady_clock::now();
    intake::ReadOptions options;
    options.threads = argc > 3 ? static_cast<int>(parse_integer(argv[3]).value_or(2)) : 2;
    auto schedule = must(intake::read_schedule(mapped(argv[2]), options));
    std::string_view const file = mapped(argv[1]);
    auto intake = must(intake::read_readings(file, options));
    if (schedule.refused) stop(intake::refusal(argv[2], schedule.bad, schedule.rows).message);
    if (intake.refused) stop(intake::refusal(argv[1], intake.bad, intake.rows).message);
    job::JobState state;
    state.tables = facts::built_in_tables();
    state.rules = *must(state.tables.rule_set("tia-568.3-e"));
    state.settings.wavelengths[facts::FibreKind::multimode] = {Nanometres{850}, Nanometres{1300}};
    state.settings.directions = 2;
    state.readings = std::move(intake.content);
    state.add_links(std::move(schedule.content.links));
    if (state.readings.links.size() != state.scheduled())
        stop("a link of the readings is not in the schedule");
    auto const assessment = must(job::assess(state, options.threads));
    verdict::ReadingColumns const& readings = state.readings;
    std::size_t failing = 0;
    double sum = 0;
    std::size_t measured = 0;
    for (verdict::LinkVerdict const& link : assessment.verdicts.links) {
        if (link.readings == 0) continue;
        ++measured;
        failing += link.margin_db < 0 ? 1 : 0;
        sum += link.margin_db;
    }
    std::chrono::duration<double> const seconds = std::chrono::steady_clock::now() - start;
    struct rusage usage
    {
    };
    ::getrusage(RUSAGE_SELF, &usage);
    double const beyond_file = static_cast<double>(usage.ru_maxrss) * 1024 - static_cast<double>(file.size());
    fmt::print("{{\"seconds\": {:.4f}, \"links\": {}, \"failing\": {}, \"margins\": {:.3f}, "
               "\"bytes_a_reading\": {:.1f}}}\n",
               seconds.count(), measured, failing, sum, beyond_file / static_cast<double>(readings.size()));
    return 0;
}
