// SPDX-License-Identifier: Apache-2.0
// What a set-up implies before anything is measured: what the method counts, what the instrument will show,
// what the cord check must show, what the method hides. Mathematics: docs/methods/setup.md. Verified by:
// tests/unit/setup/implied.cpp, tests/oracle/setup/shown_map.cpp (worked table of test-cord types).
#pragma once

#include "setup/plan.hpp"

#include <string>
#include <vector>

namespace guidepin::setup {

/// Connections as the limit counts them: L = … + present * A_end - removed * A_ref + ….
struct Counting
{
    ReferenceMethod method = ReferenceMethod::one_cord;
    int end_connections_present = 2;                      ///< launch cord to cabling, cabling to tail cord
    int joints_removed = 0;                               ///< inside the reference
    int net_by_simple_count = 2;                          ///< for rule sets that only count
    facts::CordGrade grade = facts::CordGrade::reference; ///< the lesser of launch and tail cord
};
Counting counting(Question const& question, Plan const& plan);

/// Port face to port face, with the test cords in: what the instrument shows for a good link.
struct ShownMap
{
    plant::PositionMap expected; ///< of the cabling alone, as numbered at the test cords' plugs
    plant::PositionMap shown;    ///< source port position to meter port position
    std::string cabling_class;   ///< "A"
    std::string shown_class;     ///< "B": may differ although the link is good
    bool same_numbers = false;   ///< nothing to translate
    bool same_class = false;
    std::string text; ///< in words, with what to do about it
};
/// Errors: invalid_input when the cabling's expected map is not known.
Result<ShownMap> shown_map(Question const& question, Plan const& plan);

/// What the cord check must show at one wavelength. A = P_reference - P_check. The joints made in the check
/// lose between nothing and A_ref each, and so do those taken out of the reference: `least` <= A <= `most`.
struct CheckExpectation
{
    Nanometres wavelength;
    int joints_made = 0;
    int joints_removed = 0;
    Decibel joint;         ///< A_ref: what one test-cord joint may lose
    Decibel fibre;         ///< of the cords that the check has and the reference had not
    Decibel least;         ///< fibre - joints_removed * joint
    Decibel most;          ///< fibre + joints_made * joint: the limit
    Decibel refused_above; ///< the same, or a second limit of the caller: between them it is a remark
    Decibel refused_below; ///< the same for `least`
    Decibel net; ///< fibre + (joints_made - joints_removed) * joint: every joint just at its allowance
    facts::Fact joint_fact;
    std::string arithmetic;   ///< "1 joint x 0.10 dB + 2 m x 3.5 dB/km = 0.107 dB"
    bool from_memory = false; ///< some value that decides is of basis memory
};
/// "near plug up-angled", "both plugs up-angled"; "" where every plug has the usual slope or none. The usual
/// angled plug slopes down as seen with its key up.
std::string slopes_text(Cord const& cord);

/// Plug of the launch cord to plug of the tail cord in the cord check, through adapters and what lies
/// between. None: there is no check, or a cord's map is not known.
std::optional<plant::PositionMap> check_map(Question const& question, Plan const& plan);

/// All cords in the light path of the check together.
Metres check_length(Question const& question, Plan const& plan);

/// Fibre that the check has more than the reference; below zero where a longer changer cord came out.
Metres length_added_by_check(Question const& question, Plan const& plan);

/// One row for each wavelength of the rule set and kind of fibre, in its order; none without a check. Errors:
/// not_found, when the rule set lacks a value.
Result<std::vector<CheckExpectation>> check_expectations(Question const& question, Plan const& plan,
                                                         facts::RuleSet const& rules);

/// What a method can hide and how many spreads it adds: the structure, for the uncertainty that verdict
/// computes.
struct MethodShadow
{
    Arrangement arrangement = Arrangement::one_cord;
    int joints_removed = 0;      ///< each can hide its own loss
    int joint_spreads_added = 0; ///< as many more independent spreads than one-cord
    bool can_go_negative = false;
    bool tail_cord_fibre_counted = true; ///< F(tail) is in the result
    std::string hides;                   ///< in words
    std::string check_tells;             ///< what the cord check of this arrangement can find
};
MethodShadow shadow_of(Arrangement arrangement);
/// The plan's own first, then every other arrangement, fewest joints removed first.
std::vector<MethodShadow> shadows(Plan const& plan);

} // namespace guidepin::setup
