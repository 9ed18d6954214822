// SPDX-License-Identifier: Apache-2.0
// What a link is expected to lose before anybody measured it, the chance that it passes, and the planning
// answers that follow: by itself, or for the links of a job. Method and assumptions:
// docs/methods/prediction.md. Verified by: tests/unit/job/predict.cpp (against loss::predict, closed forms,
// monotony), tests/oracle/loss (the distributions themselves), tests/cli.
#pragma once

#include "loss/limit.hpp"
#include "loss/prediction.hpp"

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::job {

struct JobState;

/// Joints of one population, and where its two figures come from.
struct Population
{
    std::string what; ///< "end connections, grade B"
    int count = 0;
    bool in_reference = false;
    double mean_db = 0, p97_db = 0;
    loss::Gamma loss;
    std::string source; ///< "IEC 61755-1 (2020)", or "as given"
    std::string basis;  ///< "secondary", "memory", "common-practice", "as given"
};

struct GivenPopulation
{
    double mean_db = 0, p97_db = 0;
};

/// One link at one wavelength, as planned.
struct PlannedLink
{
    std::string name; ///< empty without a job
    facts::FibreCategory const* category = nullptr;
    Nanometres wavelength{850};
    Metres length;
    int ends = 2, inner = 0, splices = 0, fibres = 12;
    setup::ReferenceMethod method = setup::ReferenceMethod::one_cord;
    facts::CordGrade cords = facts::CordGrade::reference;
};

struct PredictWish
{
    facts::Tables const* tables = nullptr; ///< null: those built in
    facts::RuleSet const* rules = nullptr; ///< for the fibre, and for the limit where none is given
    std::string grade;     ///< of connections inside; empty: Bm for multimode, B for single-mode
    std::string end_grade; ///< of the test cords' ends in the cabling; empty: as inside
    std::optional<double> fibre_db_per_km; ///< none: four fifths of what the rule set allows
    std::optional<GivenPopulation> splice; ///< none: the planning value of the tables as what 97 of 100 keep
    std::optional<Decibel> limit;          ///< none: by the rule set
    std::string limit_from;                ///< where `limit` comes from, in words
    std::optional<std::size_t> draws;      ///< of a simulation as a check
    std::uint64_t seed = 1;
};

/// The shares for which quantiles are reported.
inline constexpr std::array told_shares{0.5, 0.95, 0.97, 0.99, 0.999};

struct Drawn
{
    std::size_t draws = 0;
    std::uint64_t seed = 0;
    double mean_db = 0, sd_db = 0;
    std::vector<double> quantiles_db; ///< of told_shares
    double chance_fibre = 0;
    double chance_fibre_u = 0; ///< standard error of the simulation, binomial
};

struct PredictedLink
{
    PlannedLink link;
    std::vector<Population> populations;
    double fibre_db_per_km = 0;
    std::string fibre_source;
    double fibre_db = 0, mean_db = 0, sd_db = 0;
    std::vector<double> fibre_quantiles_db; ///< of told_shares: one fibre
    std::vector<double> worst_quantiles_db; ///< of told_shares: the worst fibre of the link
    std::string route;                      ///< "closed form" or "convolution"
    Decibel limit;
    std::string limit_from;
    double chance_fibre = 0, chance_link = 0;
    std::optional<Drawn> drawn;
};

/// Errors: not_found (grade, coefficient), invalid_input (a population that no gamma meets, counts out of
/// range).
Result<PredictedLink> predict_link(PlannedLink const& link, PredictWish const& wish);

/// What still fits within a fixed limit: the largest number of inner connections, or the greatest
/// length in whole metres, at which all fibres of the link keep it with probability `yield`.
struct PlanAnswer
{
    bool any = false;    ///< false: not even none inside, or no length at all
    int connections = 0; ///< inside
    double length_m = 0;
    bool at_the_end = false; ///< the search ended at its upper bound: 1000 connections, 200 km
    double yield = 0;        ///< that the answer has
    double yield_beyond = 0; ///< that one connection or one metre more would have
};
Result<PlanAnswer> connections_within(PlannedLink link, PredictWish wish, Decibel limit, double yield);
Result<PlanAnswer> length_within(PlannedLink link, PredictWish wish, Decibel limit, double yield);

/// Scheduled links of a job at the wavelengths that it requires, as it measures them. Errors: not_found for
/// a name that is not scheduled.
Result<std::vector<PlannedLink>> planned_links(JobState const& state, std::vector<std::string> const& names);

} // namespace guidepin::job
