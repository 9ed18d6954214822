// SPDX-License-Identifier: Apache-2.0
// Which readings may rest on their reference: references, cord checks and events in time, and the question
// "may a reading of reference R taken at t be judged, or is it held?". Nothing is deleted: adding a
// reference's failed check or an event only holds more. Rules: docs/methods/reference.md.
//
// Built for a million questions: hold_kind() is a few comparisons and two searches, without allocation; the
// words are made only for a reading that is held. Immutable once built, safe to read from many threads.
// Verified by: tests/unit/verdict/timeline_allocation.cpp (allocations counted),
// tests/unit/verdict/timeline.cpp (cases by rule; a plain model that looks at everything, any order of input,
// and that adding an event never releases a reading, as properties).
#pragma once

#include "base/result.hpp"
#include "units/instant.hpp"
#include "units/quantity.hpp"
#include "verdict/reference_id.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::verdict {

/// What voids a reference. All act on the readings after them; a failed drift check and an impossible gain
/// also show that the reference was off before, so they act back to the last good check as well.
enum class VoidKind : std::uint8_t {
    launch_cord_left_source,
    launch_cord_cleaned,
    cord_changed,
    adapter_changed,
    instrument_changed,
    wavelength_or_mode_changed,
    power_cycle,
    temperature_change,
    drift_check_failed,
    negative_loss,
    time_limit,
    person_voided,
};
constexpr int void_kinds = 12;
char const* name_of(VoidKind kind); ///< "launch-cord-left-source", "power-cycle", …
std::optional<VoidKind> parse_void_kind(std::string_view text);
char const* words_of(VoidKind kind); ///< "the launch cord was taken off the source"
/// Id of the fact that says so ("readiness.void.cord-off-source"); empty for a person's own decision.
char const* fact_of(VoidKind kind);

struct ReferenceEntry
{
    ReferenceId id;
    Instant taken;
    bool accepted = false;          ///< with or without remarks
    std::optional<Seconds> max_age; ///< at least 0; none: no limit
};

struct CordCheckEntry
{
    ReferenceId reference;
    Instant at;
    bool accepted = false; ///< with or without remarks
};

struct VoidEvent
{
    VoidKind kind = VoidKind::person_voided;
    Instant at;
    /// Acts on this one, whatever its time. None: on every reference that was taken before the event; one
    /// taken at the same moment counts as taken after it.
    std::optional<ReferenceId> reference;
};

/// Why a reading is held, the first that applies in this order. 0 is not held, as verdict::judge() takes it.
enum class HoldKind : std::uint8_t {
    none = 0,
    reference_unknown,
    reference_refused,
    before_reference, ///< the reading is older than its reference
    reference_voided, ///< by an event at or before the reading
    reference_too_old,
    no_accepted_check,  ///< none yet, before or after the reading
    check_failed,       ///< the last check before the reading failed
    later_check_failed, ///< the next one after it failed
    /// What was measured moved as a whole: the watch found it, the timeline never says so.
    reference_doubted,
    // What a reference and its checks hold is compared with the reading (job/groundwork/reference_cover.hpp);
    // the timeline never says these either.
    reference_mismatch,      ///< another wavelength, fibre, plug or face than the link's
    position_not_referenced, ///< no power at that position and wavelength
    position_not_checked,    ///< no accepted cord check covers that position and wavelength
};
char const* name_of(HoldKind kind); ///< "none", "reference-unknown", …

struct Hold
{
    HoldKind kind = HoldKind::none;
    std::string id;   ///< "hold.reference-voided"
    std::string text; ///< why and what to do
};

class ReferenceTimeline
{
  public:
    static constexpr std::size_t unknown = static_cast<std::size_t>(-1);

    /// In any order. conflict when two references have one id; usage for an empty id, or an age that is
    /// negative or no number.
    static Result<ReferenceTimeline> build(std::vector<ReferenceEntry> references,
                                           std::vector<CordCheckEntry> const& checks,
                                           std::vector<VoidEvent> const& events);

    std::size_t size() const { return references_.size(); }
    ReferenceId const& id(std::size_t reference) const { return references_[reference].entry.id; }
    /// For hold_kind(); `unknown` for an id that is not there. Indices follow the order of the ids.
    std::size_t find(ReferenceId const& id) const;

    /// `reference` from find(), `ms` since 1970 UTC. O(log n), allocates nothing.
    HoldKind hold_kind(std::size_t reference, std::int64_t ms) const;

    /// With words. Nothing when the reading may be judged; then nothing is allocated either.
    std::optional<Hold> hold_reason(ReferenceId const& reference, Instant time) const;

    /// What had no effect, in words, in order of time: checks and events that name an unknown reference,
    /// accepted checks older than their reference.
    std::vector<std::string> const& without_effect() const { return without_effect_; }

  private:
    struct Mark
    {
        Instant at;
        bool good = false;
        bool event = false; ///< failed by an event, not by a cord check
    };
    struct Reference
    {
        ReferenceEntry entry;
        std::int64_t expires_ms = 0; ///< last moment of its age
        bool voided = false;
        VoidEvent by;            ///< the earliest that acts
        std::vector<Mark> marks; ///< by time, one for each moment; a failure outweighs
    };
    std::vector<Reference> references_; // by id
    std::vector<std::string> without_effect_;
};

} // namespace guidepin::verdict
