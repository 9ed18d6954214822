// SPDX-License-Identifier: Apache-2.0
// The cord check: after the reference, the test cords are joined, or a known cord is put between them, and
// measured. What it may lose follows from the joints it contains; it also shows map and length. Until one is
// accepted, no reading may be judged (timeline.hpp). Rules: docs/methods/reference.md.
//
// Two limits, neither from a standard for array cords: the rule set's joint inside a reference, and the habit
// of the trade (readiness.cord-check.*). Up to the lower one all is well; between them a remark; above the
// higher one refused. A value on its limit is within it. Where the check only makes the joints of the
// reference again, what is measured is the difference of two matings, which is as often below zero as above:
// there both limits hold in both directions.
// Verified by: tests/unit/verdict/cord_check.cpp (limits worked by hand from TIA-568.3-E and ISO/IEC 14763-3
// values, both sides of each limit, order of the input as a property).
#pragma once

#include "loss/limit.hpp"
#include "plant/fibre_map.hpp"
#include "setup/method.hpp"
#include "units/quantity.hpp"
#include "verdict/check_id.hpp"
#include "verdict/readings.hpp"
#include "verdict/reason.hpp"

#include <limits>

namespace guidepin::verdict {

struct CordReading
{
    int position = 0;                  ///< on the launch cord's plug, from 1
    int far_position = far_not_stated; ///< at the meter; far_dark: no light arrived
    Nanometres wavelength{850};
    Decibel attenuation;                                        ///< not finite: not measured
    double length_m = std::numeric_limits<double>::quiet_NaN(); ///< as measured; NaN: not measured
};

struct CordCheckQuestion
{
    CheckId id; ///< for the messages
    std::span<CordReading const> readings;
    std::vector<Nanometres> wavelengths; ///< required
    plant::Occupancy occupied;           ///< of the launch cord's plug
    plant::Occupancy needed = {};        ///< of these, the ones that must have a reading; none set: all
    facts::RuleSet const* rules = nullptr;
    facts::FibreCategory const* category = nullptr; ///< of the cords' fibre
    facts::CordGrade cords = facts::CordGrade::reference;
    bool array = true; ///< array connectors; false: single-fibre ferrules
    setup::ReferenceMethod method = setup::ReferenceMethod::one_cord;
    int joints = 1;      ///< in the light path during the check, 1 to 10; not fewer than in the reference
    Metres added_length; ///< fibre that was not in the reference: tail or known cord, 0 to 1000 m
    /// Mean loss of one such joint as measured before, or of its grade: for the prediction. None: no
    /// prediction.
    std::optional<Decibel> joint_mean;
    std::optional<plant::PositionMap> expected_map; ///< none: polarity is not compared
    std::optional<Metres> expected_length;          ///< as the instrument should show it; none: not compared
    facts::Tables const* tables = nullptr;          ///< needed
};

/// What one fibre may lose in this check at one wavelength, and should.
struct CordLimit
{
    Nanometres wavelength{850};
    std::vector<loss::LimitLine> by_rules;    ///< joints, joints taken out with the reference, fibre
    std::vector<loss::LimitLine> by_practice; ///< joints, fibre
    Decibel rules;                            ///< sums of the lines
    Decibel practice;
    Decibel good_from;                ///< below zero: down to here all is well
    Decibel refused_below;            ///< below this it is refused; between the two a remark
    std::optional<Decibel> predicted; ///< joints * joint_mean + fibre
    bool rests_on_memory = false;     ///< one of the lines does
};

enum class CordResult : std::uint8_t {
    good,
    high,       ///< between the two limits
    low,        ///< the same, below zero
    too_high,   ///< above both
    below_zero, ///< beyond the tolerance
    dark,       ///< no light arrived
    missing,    ///< not measured
};

/// One for each reading, and one for each required place without any.
struct CordFibre
{
    int position = 0;
    Nanometres wavelength{850};
    int far_position = far_not_stated;
    Decibel attenuation; ///< NaN where dark or missing
    double length_m = std::numeric_limits<double>::quiet_NaN();
    CordResult result = CordResult::missing;
    bool wrong_place = false;  ///< light arrives elsewhere than the expected map says
    bool wrong_length = false; ///< beyond the tolerance
};

struct CordAssessment
{
    Acceptance state = Acceptance::accepted;
    std::vector<Reason> reasons;
    std::vector<CordLimit> limits; ///< by wavelength: required ones and those measured that have a limit
    std::vector<CordFibre> fibres; ///< by wavelength, position, then value
    bool polarity_compared = false;
    bool length_compared = false;
};

/// Two checks of one reference with the same cords and joints: what has moved between them is the reference
/// (or a cord), since the joints are the same. The mean change over the fibres that both have, at each
/// wavelength, refuses the later one beyond readiness.drift-check; nothing when they agree or share no fibre.
/// The mean of n fibres hides the spread of mating again; a single fibre does not.
Result<std::optional<Reason>> disagreement(CheckId const& earlier_id, std::span<CordReading const> earlier,
                                           CheckId const& later_id, std::span<CordReading const> later,
                                           facts::Tables const& tables);

/// usage for counts and lengths outside their range; not_found when rule set or tables lack a value; refused
/// when the reference held more joints than the check does.
Result<CordAssessment> check_cords(CordCheckQuestion const& question);

} // namespace guidepin::verdict
