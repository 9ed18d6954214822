// SPDX-License-Identifier: Apache-2.0
// What the job sheet and the records say about each item of the kit over time: its particulars, when it was
// calibrated, since when its wear counts. Verified by: tests/unit/job/kit_register.cpp.
#pragma once

#include "job/state/state.hpp"
#include "setup/register.hpp"

#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

/// What is known of an instrument's calibration.
struct Calibration
{
    std::optional<setup::Day> made, due;
    bool made_later = false; ///< none was made by the day that was asked about; this is the first after it
};

/// The entries of all items, first those of the job sheet, then those of the records. The state has to
/// outlive this.
class KitHistory
{
  public:
    explicit KitHistory(JobState const& state);

    JobState const& state() const { return state_; }
    /// Returns the serials in the order in which they came.
    std::vector<std::string> const& serials() const { return serials_; }
    bool knows(std::string_view serial) const { return entries_.find(serial) != entries_.end(); }
    /// Returns whether a record names the item; otherwise only the job sheet does.
    bool is_registered(std::string_view serial) const { return registered_.contains(serial); }
    /// Returns the latest entry of an item that is known.
    KitItem const& latest(std::string_view serial) const { return entries_.find(serial)->second.back(); }
    /// Returns the moment from which the records count for the item's wear.
    std::int64_t counts_from(std::string_view serial) const;
    /// Returns what is valid for a use of the instrument on that day: the most recent calibration that had
    /// been made by then. None if the item is not known.
    std::optional<Calibration> calibration(std::string_view serial, setup::Day on) const;
    /// Returns an item as the job knew it at that moment: its latest entry until then (else its first), with
    /// the pins of a cord as last changed until then. None if the item is not known.
    std::optional<KitItem> item_at(std::string_view serial, Instant at) const;

  private:
    void add(KitItem item);

    JobState const& state_;
    std::vector<std::string> serials_;
    std::map<std::string, std::vector<KitItem>, std::less<>> entries_;
    std::set<std::string, std::less<>> registered_;
};

/// Does what KitHistory::calibration() does, for one question.
std::optional<Calibration> calibration_for(JobState const& state, std::string_view serial, setup::Day on);
/// Returns until when the calibration was valid, for a use on that day. If it was made only later, returns
/// the day before the use.
std::optional<setup::Day> calibrated_until(KitHistory const& history, std::string_view serial, setup::Day on);
std::optional<setup::Day> calibrated_until(JobState const& state, std::string_view serial, setup::Day on);

/// Returns who decided by then to use the instrument without calibration, and why: "Ines: …". Empty if nobody
/// did.
std::string calibration_override(JobState const& state, std::string_view serial, Instant by);

/// Does what KitHistory::item_at() does, for one question.
std::optional<KitItem> item_at(JobState const& state, std::string_view serial, Instant at);

} // namespace guidepin::job
