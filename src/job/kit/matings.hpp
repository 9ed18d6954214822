// SPDX-License-Identifier: Apache-2.0
// How often each end of the kit was mated, counted from references, cord checks and readings. Counting rule:
// docs/methods/setup.md#register. Verified by: tests/unit/job/kit_register.cpp (counts worked by hand for
// each method).
#pragma once

#include "job/kit/kit_history.hpp"

#include <algorithm>
#include <map>
#include <string>
#include <utility>
#include <vector>

namespace guidepin::job {

/// Matings by serial and end: 0 is the near end, 1 the far one.
using EndCounts = std::map<std::pair<std::string, int>, int, std::less<>>;

EndCounts count_matings(KitHistory const& history);
EndCounts count_matings(JobState const& state);

/// All launches of a job. Each reference and launch end in a link-tested record is one launch: it mates the
/// two ends that face the cabling. A job has tens of thousands of launches under a handful of references. The
/// state has to outlive this.
class Launches
{
  public:
    explicit Launches(JobState const& state)
        : state_(state)
    {
        for (std::uint32_t i = 0; i < state.readings.references.size(); ++i) {
            auto const found = state.reference_index.find(state.readings.references.id(i));
            kits_.push_back(found == state.reference_index.end() ? nullptr
                                                                 : &state.references[found->second].kit);
        }
    }
    /// Returns the kits by the number that the readings have for a reference; nullptr if the job does not
    /// have that reference.
    std::vector<TestKit const*> const& kits() const { return kits_; }

    /// Calls visit(reference, link, moment in ms) for each launch under a reference with a kit.
    template <class Visit>
    void each(Visit const& visit) const
    {
        verdict::ReadingColumns const& rows = state_.readings;
        std::vector<Launch> launches;
        for (TestEntry const& test : state_.tests) {
            launches.clear();
            for (std::uint32_t row = test.first_row; row < test.first_row + test.rows; ++row) {
                std::uint32_t const reference = rows.reference[row];
                if (reference == verdict::Dictionary::missing) continue;
                verdict::LaunchEnd const end = rows.launch_end[row];
                auto const same = [&](Launch const& l) { return l.reference == reference && l.end == end; };
                if (!launches.empty() && same(launches.back())) continue;
                if (std::any_of(launches.begin(), launches.end(), same)) continue;
                std::int64_t const ms = rows.taken_ms[row];
                launches.push_back(
                    {reference, end, ms == verdict::ReadingColumns::no_time ? test.recorded.ms : ms});
            }
            for (Launch const& launch : launches) {
                if (kits_[launch.reference]) visit(launch.reference, rows.link[test.first_row], launch.ms);
            }
        }
    }

  private:
    struct Launch
    {
        std::uint32_t reference;
        verdict::LaunchEnd end;
        std::int64_t ms;
    };
    JobState const& state_;
    std::vector<TestKit const*> kits_;
};

} // namespace guidepin::job
