// SPDX-License-Identifier: Apache-2.0
// A package is made while another program brings readings. See races.hpp for the oracle; beside that a
// stranger who has the folder alone finds nothing that refutes it.
#include "races.hpp"

#include "job/handover/audit.hpp"
#include "job/handover/package.hpp"

#include <gtest/gtest.h>

#include <filesystem>

#include <fmt/format.h>

namespace guidepin::job::races {
namespace races_package_test {

Act package()
{
    return [](Job& job, Actor const& actor) -> Deed {
        return [&job, actor]() -> Done {
            PackageOptions options;
            options.folder = job.store().name() + "-package";
            options.made = *parse_instant("2026-03-02T12:00:00Z");
            auto const made = write_package(job, actor, options);
            if (!made) return refused(made);
            auto const found = audit(options.folder, actor);
            if (!found) return refused(found);
            // How many files there are depends on the order, and is compared.
            return {Done::How::did,
                    {},
                    fmt::format("{} files, signed {}, {} findings refute it", made->files.size(),
                                made->is_signed, found->count(Weight::refutes))};
        };
    };
}

TEST(Races, OfAPackageAndReadings)
{
    Race race{"package, readings", {}, {}, {}, 12};
    race.prepare = [](Job& job) {
        ASSERT_EQ(take_readings(job, readings_file("N-1", "09:00", 0.40)).how, Done::How::did);
    };
    race.acts = {package(),
                 act([](Job& job) { return take_readings(job, readings_file("N-2", "09:10", 0.40)); })};
    race.judge = [](auto const& answers, JobState const& state) -> std::string {
        if (count(answers, Done::How::did) != 2) return "both can be done";
        if (answers[0].words.find("signed true, 0 findings refute it") == std::string::npos)
            return "a reviewer refutes the package: " + answers[0].words;
        return state.handed_over.size() == 1 ? "" : "the package is not handed over once";
    };
    run(race);
}

} // namespace races_package_test
} // namespace guidepin::job::races
