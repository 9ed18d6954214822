// SPDX-License-Identifier: Apache-2.0
// Cord checks and retests that show on which side of a change a test lies. Rules: docs/methods/watch.md.
// Verified by: tests/unit/job/watch.cpp (simulated sites with known drift, cord checks, retests).
#pragma once

#include "job/doubt/watched_reference.hpp"

#include <string>
#include <vector>

namespace guidepin::job {

/// The arguments of the constructor have to outlive this.
class Witnesses
{
  public:
    Witnesses(JobState const& state, Groundwork const& ground, Watching const& watching);

    /// Adds the witnesses of one doubt, and plans the retests that are still needed after them. The doubt is
    /// not one of negative loss and has no witnesses yet. Threads may call it for different doubts.
    void hear(WatchedReference const& reference, Doubt& doubt) const;

  private:
    void hear_checks(WatchedReference const& reference, Doubt& doubt) const;
    void hear_retests(WatchedReference const& reference, Doubt& doubt) const;

    /// A test by its link, then by its place in the watching.
    struct TestOfLink
    {
        std::uint32_t link, reference, test;
        friend auto operator<=>(TestOfLink const&, TestOfLink const&) = default;
    };
    JobState const& state_;
    Groundwork const& ground_;
    Watching const& watching_;
    std::vector<TestOfLink> tests_of_link_; ///< ascending
};

} // namespace guidepin::job
