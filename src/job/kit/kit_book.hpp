// SPDX-License-Identifier: Apache-2.0
// The book of a job's kit: history, matings and limits of all items, built once from the state, and from that
// the standing of each item on a day. Rules: docs/methods/setup.md#register. Verified by:
// tests/unit/job/kit_register.cpp (counts worked by hand for each method, gates, overrides and what ends
// them).
#pragma once

#include "job/kit/kit_history.hpp"
#include "job/kit/matings.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

/// The result of the latest inspection of one end.
struct FaceStanding
{
    Instant at;
    std::string person;
    bool pass = false;
    std::string type, edition;
    std::vector<std::string> breaches; ///< "position 3, zone A: 1 scratches of any size, 0 allowed"
    std::string note;                  ///< of the verdict: loose debris, zones without criteria
    bool outdated = false;             ///< pins were changed since: inspect it again
};

struct EndStanding
{
    int end = 0;
    std::optional<plant::Pins> pins; ///< as they are now; none if the end has no pins
    bool exchangeable = false;
    int matings = 0, pin_changes = 0;
    std::optional<int> pins_counted; ///< by the latest pin change
    std::optional<FaceStanding> face;
};

/// One item: what is known of it, how worn it is, whether it may be used.
struct KitStanding
{
    KitItem item;            ///< the latest entry; pins of its ends as they came
    bool registered = false; ///< by a record; otherwise only the job sheet names it
    std::vector<EndStanding> ends;
    int matings = 0, pin_changes = 0; ///< of the end with more
    std::optional<int> matings_limit, pin_changes_limit;
    int references = 0, links = 0; ///< in which it was used; each link counts once
    setup::Fitness fitness = setup::Fitness::fit;
    std::vector<setup::FitnessFinding> findings;
    std::vector<KitOverride> overrides; ///< in force
};

/// The state has to outlive this.
class KitBook
{
  public:
    explicit KitBook(JobState const& state);

    JobState const& state() const { return history_.state(); }
    KitHistory const& history() const { return history_; }
    setup::RegisterLimits const& limits() const { return limits_; }

    /// Returns how worn an item is on that day, not yet judged. The item has to be known.
    KitStanding standing(std::string_view serial, setup::Day today) const;
    /// Adds to a standing whether the item is fit on that day if each end is mated `wear` times more.
    /// `decisions` count beside those of the records.
    void judge(KitStanding& standing, setup::Day today, int wear = 0,
               std::vector<KitOverride> const& decisions = {}) const;

  private:
    KitHistory history_;
    EndCounts matings_;
    setup::RegisterLimits limits_;
};

/// Returns the limits of the register that the latest record sets.
setup::RegisterLimits limits_now(JobState const& state);

} // namespace guidepin::job
