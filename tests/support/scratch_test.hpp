// SPDX-License-Identifier: Apache-2.0
// A test in a folder of its own, where Ines works on a job with one thread, at a time that only the test
// moves.
#pragma once

#include "job/open/job.hpp"

#include <gtest/gtest.h>

#include <filesystem>
#include <string>

#include "fixed_clock.hpp"
#include "scratch_folder.hpp"

namespace guidepin::support {

class ScratchTest : public ::testing::Test
{
  protected:
    explicit ScratchTest(char const* now)
        : clock_(parse_instant(now).value().ms)
    {
        actor_.name = "Ines";
        actor_.key_path = (folder_ / "station.key").string();
        actor_.clock = &clock_;
        actor_.threads = 1;
    }

    /// Of the test's job file.
    std::string path() const { return (folder_ / "job.guidepin").string(); }

    ScratchFolder const scratch_;
    std::filesystem::path const folder_ = scratch_.path();
    FixedClock clock_;
    job::Actor actor_;
};

} // namespace guidepin::support
