// SPDX-License-Identifier: Apache-2.0
// Setting up a measurement, as a person asks for it: one set-up without a job, or the set-ups of a whole job,
// with all that follows from each. The same for command line and web. Method: docs/methods/setup.md. Verified
// by: tests/unit/job/set_up.cpp (limits agree with the judgement of a cord check, counts, what is refused),
// tests/cli/transcripts/setup.txt.
#pragma once

#include "job/kit/kit_of_job.hpp"
#include "job/kit/kit_register.hpp"
#include "job/sheet/kit_file.hpp"
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

/// The rules that a set-up is judged by. The pointers are the caller's and live as long as it is used.
struct SetupRules
{
    facts::Tables const* tables = nullptr;
    facts::RuleSet const* rules = nullptr;
    std::map<facts::FibreKind, std::vector<Nanometres>> wavelengths; ///< required; missing: as the rules ask
    std::vector<UncertaintyOverride> uncertainty;
    report::Locale locale = {}; ///< of what people read; files have a point and metres
};
SetupRules setup_rules_of(JobState const& state);

/// One set-up in words. Empty words mean what stands behind them.
struct SetupWords
{
    std::string source;               ///< "pinned", "unpinned", or a serial of the kit; the kit's first fit
    std::string meter;                ///< likewise, and "neutral"
    std::string cabling;              ///< "unpinned,unpinned": must be given
    std::string face;                 ///< "flat"
    std::string adapters;             ///< "opposed,opposed"; "bare" where a plug hangs free
    std::string family;               ///< "mpo-12"
    std::string fibres;               ///< all positions of the family
    std::string category;             ///< "OM4" where the faces are flat, "OS2" where they are angled
    std::string type;                 ///< polarity type of the cabling: "B", or "I-B" for two rows
    std::string names;                ///< "A12,B07": the two ends, for the drawings
    std::vector<std::string> methods; ///< one-cord alone
    bool cord_check = true;
};

/// The question that the words ask. `kit` none: a complete kit is taken for granted, first of cords with
/// fixed pins, and where that does not do, of cords whose pins can be changed. Errors: usage, naming the
/// word.
Result<setup::Question> question_of(SetupWords const& words, KitFile const* kit, facts::Tables const& tables);

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
    std::string shown_missing; ///< why the map is not known, where it is not
    std::vector<CheckNumbers> checks;
    std::string checks_missing; ///< likewise for the numbers of the cord check
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

/// Links for which there is no set-up, and what would help.
struct UnsolvedGroup
{
    std::vector<std::string> links;
    std::string reason; ///< rule and joint, why the link is none for a set-up, or what the register refuses
    std::string remedy; ///< the item, or the two, to borrow or buy; "" where neither helps
    std::vector<std::string> ways; ///< what would do with the kit as it is: another end, another method
};

/// The labels of a plan's cords, each once, in the order of the parts.
std::vector<std::string> cord_serials_of(setup::Question const& question, setup::Plan const& plan);
/// The labels of all that a set-up uses: its cords, then its instruments.
std::vector<std::string> serials_of(SolvedSetup const& solved);
/// Why the register refuses items among `serials`; empty where it refuses none.
std::vector<std::string> refusals_of(std::vector<std::string> const& serials, KitRulings const& rulings);

struct SetupAnswer
{
    setup::Question question;
    std::optional<SolvedSetup> solved;
    setup::NoPlan none;     ///< where there is no plan
    UnsolvedGroup unsolved; ///< likewise, as people read it
};

/// Solves it and works out what follows. What `rulings` refuse is not used; where that leaves no set-up, the
/// answer says what is refused and the way out. Errors: those of setup::solve; refused for an instrument that
/// the words name and the rulings refuse; not_found when tables lack a value.
Result<SetupAnswer> set_up(SetupWords const& words, KitFile const* kit, SetupRules const& rules,
                           KitRulings const& rulings = {});

/// What follows from a plan. `shown` is asked for each of these links (with its cabling as launched), or for
/// the question's cabling when there are none.
Result<SolvedSetup> worked_out(setup::Question question, setup::Plan plan, SetupRules const& rules,
                               std::vector<setup::JobLinks> const& links = {});

struct JobSetupWish
{
    std::optional<KitFile> kit;       ///< none: the job's own
    std::optional<setup::Day> today;  ///< what the register refuses on this day is not used, and told
    std::vector<std::string> methods; ///< none: the job's
    bool either_end = true;
    bool alternatives = true;
};

struct SetupGroup
{
    int number = 0; ///< from 1, in the order of the work
    std::vector<setup::GroupedLink> links;
    bool new_reference = true;
    std::string why;
    SolvedSetup setup;
};

struct JobSetups
{
    std::vector<SetupGroup> groups;
    setup::JobCost cost;
    bool exact = true;
    std::vector<setup::KitLine> kit_list;
    std::vector<UnsolvedGroup> unsolved;
    std::vector<setup::JobAlternative> alternatives;
    std::vector<std::string> remarks;
};

/// The set-ups of all links of the job. Links are parted by the instruments that fit them (family, kind of
/// fibre, then face), then grouped by setup::plan_job. Errors: invalid_input without links or instruments.
Result<JobSetups> job_setups(JobState const& state, JobSetupWish const& wish);

} // namespace guidepin::job
