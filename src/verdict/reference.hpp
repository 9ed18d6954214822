// SPDX-License-Identifier: Apache-2.0
// May measurements rest on this reference? Checks what can be known of it by itself: complete, plausible,
// even over the row, repeatable, fresh, made with known things in calibration, in agreement with the one
// before. The limits are facts of the tables (readiness.*), nearly all habits of the trade. Rules:
// docs/methods/reference.md. A value on its limit is within it.
// Verified by: tests/unit/verdict/reference.cpp (closed forms of mean and pooled standard deviation, limits
// of the tables from both sides, order of the input as a property).
#pragma once

#include "plant/connector.hpp"
#include "units/instant.hpp"
#include "units/quantity.hpp"
#include "verdict/reason.hpp"
#include "verdict/reference_id.hpp"

namespace guidepin::verdict {

struct ReferencePower
{
    int position = 0; ///< on the connector that was referenced, from 1
    Nanometres wavelength{850};
    Dbm power;                    ///< not finite: taken as not measured
    std::optional<Instant> taken; ///< else ReferenceQuestion::taken
};

/// An instrument or cord as the record knows it.
struct ItemUsed
{
    std::string role;   ///< "source", "meter", "launch cord"
    std::string id;     ///< serial number or label; empty: not stated
    bool known = false; ///< is in the job's list
    bool needs_calibration = false;
    std::optional<Instant> calibrated_until; ///< last moment at which the calibration holds
    std::string calibration_override = {};   ///< who uses it without, and why; empty: nobody
};

struct ReferenceQuestion
{
    ReferenceId id; ///< for the messages
    std::span<ReferencePower const> powers;
    std::vector<Nanometres> wavelengths; ///< required
    plant::Occupancy occupied;           ///< positions that can carry a fibre
    plant::Occupancy needed = {};        ///< of these, the ones that must have a power; none set: all
    facts::FibreKind kind = facts::FibreKind::multimode;
    ItemUsed source, meter;
    std::vector<ItemUsed> cords;                    ///< at least the launch cord
    std::optional<double> warm_up_minutes;          ///< of the source, as written down; none: not judged
    std::optional<double> warm_up_by_maker_minutes; ///< rules where it is longer than the habit
    std::optional<Instant> taken;                   ///< for powers without a time of their own
    std::optional<Instant> at; ///< the moment at which the reference is to be used; none: age is not judged
    std::optional<double> max_age_hours; ///< of the job; else readiness.reference.age.refuse
    /// Powers of an earlier reference with the same source, meter and launch cord, the cord left in the
    /// source: what has drifted since. Empty: not compared.
    std::span<ReferencePower const> earlier;
    facts::Tables const* tables = nullptr; ///< needed
};

/// Over the occupied positions at one wavelength; every fibre counts once, with the mean of its readings in
/// dB.
struct ReferenceRow
{
    Nanometres wavelength{850};
    bool required = true; ///< what is wrong at a wavelength that is not required is a remark only
    int fibres = 0;       ///< with a power
    int readings = 0;
    Dbm mean, lowest, highest; ///< no meaning without a fibre
    int lowest_position = 0, highest_position = 0;
    Decibel spread; ///< highest less lowest
    /// Pooled standard deviation of one reading, over fibres with several; none without.
    std::optional<Decibel> repeatability;
    Decibel widest;          ///< greatest less smallest reading of one fibre; 0 without repeats
    int widest_position = 0; ///< 0 without repeats
    /// New less earlier, mean over the fibres that both have; none without.
    std::optional<Decibel> drift;
    Decibel largest_drift; ///< of one fibre, with its sign
    int largest_drift_position = 0;
};

struct ReferenceAssessment
{
    Acceptance state = Acceptance::accepted;
    std::vector<Reason> reasons;    ///< in the order of the checks, then wavelength, then position
    std::vector<ReferenceRow> rows; ///< by wavelength
    std::optional<Instant> taken;   ///< of the first reading: from here its age counts
    /// It disagrees with the earlier one beyond readiness.drift-check. That is a remark on this one and a
    /// failed drift check of the earlier one: give the timeline its event.
    bool earlier_has_drifted = false;
};

/// usage when nothing is required or occupied; not_found when the tables lack a limit.
Result<ReferenceAssessment> check_reference(ReferenceQuestion const& question);

} // namespace guidepin::verdict
