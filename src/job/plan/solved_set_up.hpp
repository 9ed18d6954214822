// SPDX-License-Identifier: Apache-2.0
// A plan with all that follows from it: what the instrument shows, the numbers of the cord check, the steps,
// and how the other methods compare. Method: docs/methods/setup.md. Verified by: tests/unit/job/set_up.cpp
// (limits agree with the judgement of a cord check, counts).
#pragma once

#include "job/kit/kit_register.hpp"
#include "job/sheet/settings.hpp"
#include "job/state/state.hpp"
#include "report/locale.hpp"
#include "setup/implied.hpp"
#include "setup/job_setup.hpp"
#include "setup/scene_items.hpp"
#include "setup/steps.hpp"
#include "verdict/uncertainty.hpp"

#include <map>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::job {

/// The rules that judge a set-up. The caller owns what the pointers name and keeps it while they are used.
struct SetupRules
{
    facts::Tables const* tables = nullptr;
    facts::RuleSet const* rules = nullptr;
    std::map<facts::FibreKind, std::vector<Nanometres>> wavelengths; ///< required; missing: as the rules ask
    std::vector<verdict::UncertaintyEdit> uncertainty;
    report::Locale locale = {}; ///< of what people read; files have a point and metres
};
SetupRules setup_rules_of(JobState const& state);

/// The numbers to accept or refuse a cord check by, at one wavelength: those by which it will be judged when
/// its readings come in (docs/methods/reference.md).
struct CheckNumbers
{
    Nanometres wavelength{850};
    Decibel expected_least, expected_most; ///< every joint between nothing and its allowance
    Decibel good_up_to;                    ///< the lower of the two limits
    Decibel refused_above;                 ///< the higher; equal where there is one limit only
    Decibel good_from;                     ///< below zero: down to here all is well
    Decibel refused_below;                 ///< below this it is refused; equal where there is no band
    std::string arithmetic;
    bool rests_on_memory = false;
};

/// One way to take the reference, beside the others.
struct MethodRow
{
    setup::MethodShadow shadow;
    bool chosen = false, permitted = false;
    std::optional<setup::Cost> cost; ///< of the best set-up of this method with the same kit
    std::string blocker;             ///< why there is none
    /// U at k = 2 of a reading of `method_row_loss` with two end connections, for comparing: each joint
    /// inside the reference adds the spread of one more (docs/methods/setup.md).
    Decibel expanded_uncertainty;
};
constexpr Decibel method_row_loss{0.5};

/// The expected map as links of one kind show it.
struct ShownFor
{
    setup::ShownMap map;
    std::vector<std::string> links; ///< empty without a job
};

/// A plan with all that follows from it.
struct SolvedSetup
{
    setup::Question question;
    setup::Plan plan;
    setup::Counting counting;
    std::vector<ShownFor> shown;
    std::string shown_missing; ///< why the map is not known; else empty
    std::vector<CheckNumbers> checks;
    std::string checks_missing; ///< why there are no numbers for the cord check; else empty
    /// What else is looked at in the check: where position 1 arrives, and how long the cords in the path are;
    /// "" without a check.
    std::string check_arrival;
    report::Locale locale; ///< of the rules: sheet, card and page write numbers and lengths so
    std::vector<setup::Step> steps;
    std::vector<setup::Scene> scenes;
    std::vector<MethodRow> methods;          ///< the chosen first
    std::vector<std::string> other_fittings; ///< links whose panel has other adapters than those drawn
    bool kit_assumed = false;                ///< the kit was not given: what the plan names is what to bring
    std::string source_serial, meter_serial; ///< "" where the instrument is not named
    /// Items of it that the register refuses and a person decided to use: which, who and why.
    std::vector<std::string> decisions;
};

/// The labels of a plan's cords, each once, in the order of the parts.
std::vector<std::string> cord_serials_of(setup::Question const& question, setup::Plan const& plan);
/// The labels of all that a set-up uses: its cords, then its instruments.
std::vector<std::string> serials_of(SolvedSetup const& solved);
/// Returns why the register refuses items among `serials`; empty if it refuses none.
std::vector<std::string> refusals_of(std::vector<std::string> const& serials, KitRulings const& rulings);
/// Returns the decisions of people to use items of this set-up that the register refuses.
std::vector<std::string> decisions_of(SolvedSetup const& solved, KitRulings const& rulings);

/// What follows from a plan. `shown` is asked for each of these links (with its cabling as launched), or for
/// the question's cabling when there are none.
Result<SolvedSetup> worked_out(setup::Question question, setup::Plan plan, SetupRules const& rules,
                               std::vector<setup::JobLinks> const& links = {});

} // namespace guidepin::job
