// SPDX-License-Identifier: Apache-2.0
// The set-up solver: from ports, cabling and kit to the arrangement for the reference, the cord check and the
// test. Exact: a shortest path over pin states, mated joints and phases. Method: docs/methods/setup.md.
// Sources: IEC 61754-7 and TIA-604-5 (pins, keys), IEC 61280-4-5 and TIA-526-28 (reference methods for MPO).
// Verified by: tests/oracle/setup (the pin tables written out, rigid bodies in space, an independent
// brute-force search on thousands of kits), tests/unit/setup.
#pragma once

#include "setup/kit.hpp"
#include "setup/method.hpp"

#include <compare>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace guidepin::setup {

/// What is between source and meter while the reference is taken. `changer` is a one-cord reference with
/// one more cord at the meter, because the launch cord's own pins do not fit there; its joint counts.
enum class Arrangement : std::uint8_t { one_cord, two_cord, three_cord, changer };
char const* name_of(Arrangement arrangement); ///< "one-cord", "two-cord", "three-cord", "changer"
/// "one-cord reference", …, "reference with a changer cord": as people say it.
char const* words_of(Arrangement arrangement);
std::optional<Arrangement> parse_arrangement(std::string_view text);
/// The method whose count of joints holds: two-cord for `changer`.
ReferenceMethod method_of(Arrangement arrangement);

enum class Phase : std::uint8_t { prepare, reference, check, test };
char const* name_of(Phase phase); ///< "prepare", "reference", "cord check", "test"

/// Where two ends meet.
enum class Place : std::uint8_t {
    source_launch,
    launch_meter,
    launch_changer,
    changer_meter,
    launch_substitution,
    substitution_tail,
    launch_tail,
    tail_meter,
    launch_known,
    known_tail,
    launch_cabling,
    cabling_tail,
};
char const* name_of(Place place); ///< "launch cord to source", …

/// What prevents a joint. The first are the plant's mate faults; the others are the kit's.
enum class Rule : std::uint8_t {
    no_adapter_in_kit, ///< two plugs and no adapter of these keys left in the kit
    wrong_family,
    pins_both,
    pins_none,
    pins_fixed,  ///< the pins would have to change and the plug is not made for it
    no_pin_tool, ///< the pins could be changed, but the kit has no tool for this family
    face_mixed,
    slope,
    rows_differ,
    positions, ///< some fibres under test would stay dark
    glass,     ///< other fibre than the cabling
    no_cord,   ///< no cord left in the kit that may play this part
};
char const* name_of(Rule rule);  ///< "pins-none", …
char const* sentence(Rule rule); ///< in words

/// A cord in its part: `turned` when ends[1] looks towards the source.
struct CordUse
{
    int cord = -1; ///< index into the kit
    bool turned = false;
    int near_end() const { return turned ? 1 : 0; }
    int far_end() const { return turned ? 0 : 1; }
    friend bool operator==(CordUse const&, CordUse const&) = default;
};

/// The reference that is in force when a job goes on to its next links. The launch cord is in the source and
/// stays there. For two- and three-cord references the tail cord stays in the meter as well.
struct InForce
{
    Arrangement arrangement = Arrangement::one_cord;
    CordUse launch;
    CordUse tail;
    friend bool operator==(InForce const&, InForce const&) = default;
};

struct Question
{
    Port source, meter;
    Cabling cabling;
    Kit kit;
    std::vector<Arrangement> permitted{Arrangement::one_cord};
    bool cord_check = true; ///< false: the check is left out, at the person's risk
    std::optional<InForce> in_force;
};

/// Compared in this order.
struct Cost
{
    int pin_changes = 0;       ///< each end, each time
    int reference_matings = 0; ///< each time a reference-grade plug is put into something
    int items = 0;             ///< cords, adapters used at once, a pin tool
    friend auto operator<=>(Cost const&, Cost const&) = default;
};

enum class CheckKind : std::uint8_t { none, direct, known_cord, remade };
char const* name_of(CheckKind kind); ///< "none", "direct", "known cord", "joint made again"

/// An end in a light path.
enum class Part : std::uint8_t { source, meter, launch, tail, substitution, changer, known, cabling };
char const* name_of(Part part); ///< "source", "launch cord", …

struct PathEnd
{
    Part part = Part::source;
    int cord = -1; ///< index into the kit, or -1
    int end = 0;   ///< of the cord, or of the cabling (0 where the launch cord is)
    plant::ConnectorEnd state;
};

enum class JoinedBy : std::uint8_t { port, panel_adapter, kit_adapter };

struct PathJoint
{
    Place place = Place::source_launch;
    PathEnd left, right; ///< towards the source, towards the meter
    plant::KeyRelation keys = plant::KeyRelation::opposed;
    JoinedBy joined_by = JoinedBy::port;
};

struct PinChange
{
    Part part = Part::launch;
    int cord = -1;
    int end = 0;
    plant::Pins to = plant::Pins::pinned;
    friend bool operator==(PinChange const&, PinChange const&) = default;
};

/// One phase: pins are changed first, then the joints of `path` are closed; `made` are the ones that are made
/// now.
struct PhasePlan
{
    Phase phase = Phase::reference;
    std::vector<PinChange> pin_changes;
    std::vector<PathJoint> path; ///< from source to meter
    std::vector<Place> made;
    std::vector<Place> opened; ///< of the phase before
};

struct Plan
{
    Arrangement arrangement = Arrangement::one_cord;
    Cost cost;
    CordUse launch, tail;
    std::optional<CordUse> extra; ///< substitution or changer cord of the reference
    std::optional<CordUse> known; ///< between launch and tail cord in the check; may be the changer cord
    CheckKind check = CheckKind::none;
    std::optional<PhasePlan> reference; ///< none where the reference in force goes on
    std::optional<PhasePlan> cord_check;
    PhasePlan test;
    int opposed_adapters = 0, aligned_adapters = 0; ///< from the kit, most at one time
    bool pin_tool = false;

    std::vector<PhasePlan const*> phases() const;
    /// Pin changes that come back each time the reference is taken again in the middle of this set-up.
    int pin_changes_of_a_new_reference = 0;
    Kit kit_after(Kit kit) const; ///< the kit with the pins as this plan leaves them
    InForce in_force() const { return InForce{arrangement, launch, tail}; }
};

/// Why there is no plan: the joint that cannot be made, in the attempt that came furthest.
struct Blocker
{
    Arrangement arrangement = Arrangement::one_cord;
    Phase phase = Phase::reference;
    Place place = Place::source_launch;
    std::vector<Rule> rules; ///< all that hold at this joint, worst first
    std::string launch_cord; ///< ids of what was tried there; "" where none
    std::string other;
    std::string text() const;
};

/// One thing to borrow or buy that makes a plan possible.
struct Remedy
{
    std::variant<Cord, AdapterStock, PinTool> item;
    std::string text;
    int price_class = 0; ///< 1 adapter, 2 pin tool, 3 cord with fixed pins, 4 cord with exchangeable pins
    Cost cost;           ///< of the plan with it
    Arrangement arrangement = Arrangement::one_cord;
};
Kit with_item(Kit kit, Remedy const& remedy);

struct NoPlan
{
    std::vector<Blocker> blockers; ///< one for each permitted arrangement
    std::optional<Remedy> remedy;  ///< none: no single item of the catalogue helps
};

struct Answer
{
    std::optional<Plan> plan;
    NoPlan none; ///< filled where there is no plan
};

struct SolveOptions
{
    bool look_for_remedy = true;
};

/// The best plan over the permitted arrangements; ties go to the arrangement with fewer joints in the
/// reference, then to the cord that is first in the kit. Errors: invalid_input (a kit or a question that
/// does not hold). Under 10 ms for a kit of 20 items: bench/setup.cpp.
Result<Answer> solve(Question const& question, SolveOptions const& options = {});

/// The best plan, or blocker, for each permitted arrangement: for people who compare.
struct Comparison
{
    Arrangement arrangement = Arrangement::one_cord;
    std::optional<Plan> plan;
    std::optional<Blocker> blocker;
};
Result<std::vector<Comparison>> compare(Question const& question);

} // namespace guidepin::setup
