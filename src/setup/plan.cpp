// SPDX-License-Identifier: Apache-2.0
#include "setup/plan.hpp"

#include "plant/presets.hpp"
#include "setup/search.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace guidepin::setup {

using plant::KeyRelation;
using plant::Pins;

namespace {

constexpr std::array arrangement_names{"one-cord", "two-cord", "three-cord", "changer"};
constexpr std::array phase_names{"prepare", "reference", "cord check", "test"};
constexpr std::array check_names{"none", "direct", "known cord", "joint made again"};
constexpr std::array part_names{"source",       "meter",      "launch cord", "tail cord", "substitution cord",
                                "changer cord", "known cord", "cabling"};
constexpr std::array place_names{
    "launch cord to source",
    "launch cord to meter",
    "launch cord to changer cord",
    "changer cord to meter",
    "launch cord to substitution cord",
    "substitution cord to tail cord",
    "launch cord to tail cord",
    "tail cord to meter",
    "launch cord to known cord",
    "known cord to tail cord",
    "launch cord to cabling",
    "cabling to tail cord",
};
struct RuleWords
{
    char const* name;
    char const* sentence;
};
constexpr std::array rule_words{
    RuleWords{"no-adapter-in-kit", "two plugs meet here and the kit has no adapter with these keys left"},
    RuleWords{"wrong-family", "the plugs are of different families and do not enter each other"},
    RuleWords{"pins-both", "pinned would meet pinned: this must not be attempted, it damages both"},
    RuleWords{"pins-none", "unpinned would meet unpinned: it latches, but nothing aligns the fibres"},
    RuleWords{"pins-fixed", "the pins of these plugs cannot be changed"},
    RuleWords{"no-pin-tool", "the pins could be changed, but the kit has no tool for this family"},
    RuleWords{"face-mixed", "a flat face would meet an angled one"},
    RuleWords{"slope", "the slopes of the angled faces do not close with these keys"},
    RuleWords{"rows-differ", "one row would meet two: it mates, and no light passes"},
    RuleWords{"positions", "some of the fibres under test would meet no fibre"},
    RuleWords{"glass", "the cords have another kind of fibre than the cabling"},
    RuleWords{"no-cord", "the kit has no cord left for this part"},
};

Error refused(std::string message)
{
    return Error{Errc::invalid_input, std::move(message)};
}

/// Builds the phases from the search's moves, keeping the pins as they change.
class Assembly
{
  public:
    Assembly(Question const& question, detail::Found const& found, Arrangement arrangement)
        : question_(question)
        , found_(found)
        , cords_(question.kit.cords)
    {
        plan_.arrangement = arrangement;
        plan_.cost = found.cost;
        plan_.opposed_adapters = found.opposed;
        plan_.aligned_adapters = found.aligned;
        plan_.pin_tool = found.pin_tool;
    }

    Plan plan()
    {
        PhasePlan reference;
        reference.phase = Phase::reference;
        PhasePlan check;
        check.phase = Phase::check;
        PhasePlan test;
        test.phase = Phase::test;
        std::vector<PathJoint> standing; // of the phase before
        for (detail::Move const& move : found_.moves) {
            plan_.launch = move.launch;
            if (move.tail.cord >= 0) plan_.tail = move.tail;
            if (move.extra.cord >= 0) plan_.extra = move.extra;
            if (move.known.cord >= 0) plan_.known = move.known;
            bool const in_force = question_.in_force.has_value();
            bool const one_more_after = move.stage == detail::Stage::tail_joined;
            PhasePlan& phase =
                move.stage == detail::Stage::done                                                  ? test
                : move.stage == detail::Stage::checked || (one_more_after && question_.cord_check) ? check
                : one_more_after                                                                   ? test
                                 : reference;
            for (PinChange const& change : move.pin_changes) {
                cords_[static_cast<std::size_t>(change.cord)]
                    .ends[static_cast<std::size_t>(change.end)]
                    .plug.pins = change.to;
                phase.pin_changes.push_back(change);
            }
            if (move.stage == detail::Stage::referenced && !in_force) {
                reference.path = reference_path(move);
                for (PathJoint const& joint : reference.path) reference.made.push_back(joint.place);
                standing = reference.path;
            }
            if (in_force && standing.empty()) {
                standing.push_back(at_source());
                if (move.tail.cord >= 0)
                    standing.push_back(at_meter(Place::tail_meter, Part::tail, plan_.tail));
            }
            if (move.stage == detail::Stage::checked && move.check != CheckKind::none) {
                plan_.check = move.check;
                check.path = move.check == CheckKind::remade ? reference.path : check_path(move);
                if (move.check == CheckKind::remade) {
                    check.opened = check.made = {reference.path[1].place};
                } else {
                    changes_between(standing, check);
                }
                standing = check.path;
            }
            if (move.stage == detail::Stage::done) {
                test.path = test_path(move);
                changes_between(standing, test);
            }
        }
        if (!reference.path.empty()) plan_.reference = std::move(reference);
        if (plan_.check != CheckKind::none) plan_.cord_check = std::move(check);
        plan_.test = std::move(test);
        plan_.pin_changes_of_a_new_reference = round_changes();
        return std::move(plan_);
    }

  private:
    PathEnd end_of(Part part, CordUse const& use, bool near) const
    {
        PathEnd end;
        end.part = part;
        end.cord = use.cord;
        end.end = near ? use.near_end() : use.far_end();
        end.state = cords_[static_cast<std::size_t>(use.cord)].ends[static_cast<std::size_t>(end.end)].plug;
        return end;
    }
    PathEnd source() const { return {Part::source, -1, 0, question_.source.face}; }
    PathEnd meter() const { return {Part::meter, -1, 0, question_.meter.face}; }

    PathJoint at_source() const
    {
        return {Place::source_launch, source(), end_of(Part::launch, plan_.launch, true),
                question_.source.keys, JoinedBy::port};
    }
    PathJoint at_meter(Place place, Part part, CordUse const& use) const
    {
        return {place, end_of(part, use, false), meter(), question_.meter.keys, JoinedBy::port};
    }
    PathJoint between(Place place, PathEnd left, PathEnd right, KeyRelation keys) const
    {
        return {place, std::move(left), std::move(right), keys, JoinedBy::kit_adapter};
    }

    std::vector<PathJoint> reference_path(detail::Move const& move) const
    {
        std::vector<PathJoint> path{at_source()};
        PathEnd const launch = end_of(Part::launch, plan_.launch, false);
        switch (plan_.arrangement) {
        case Arrangement::one_cord:
            path.push_back(at_meter(Place::launch_meter, Part::launch, plan_.launch));
            break;
        case Arrangement::changer:
            path.push_back(between(Place::launch_changer, launch, end_of(Part::changer, *plan_.extra, true),
                                   move.adapters[0]));
            path.push_back(at_meter(Place::changer_meter, Part::changer, *plan_.extra));
            break;
        case Arrangement::two_cord:
            path.push_back(
                between(Place::launch_tail, launch, end_of(Part::tail, plan_.tail, true), move.adapters[0]));
            path.push_back(at_meter(Place::tail_meter, Part::tail, plan_.tail));
            break;
        case Arrangement::three_cord:
            path.push_back(between(Place::launch_substitution, launch,
                                   end_of(Part::substitution, *plan_.extra, true), move.adapters[0]));
            path.push_back(between(Place::substitution_tail, end_of(Part::substitution, *plan_.extra, false),
                                   end_of(Part::tail, plan_.tail, true), move.adapters[1]));
            path.push_back(at_meter(Place::tail_meter, Part::tail, plan_.tail));
            break;
        }
        return path;
    }

    std::vector<PathJoint> check_path(detail::Move const& move) const
    {
        std::vector<PathJoint> path{at_source()};
        PathEnd const launch = end_of(Part::launch, plan_.launch, false);
        PathEnd const tail = end_of(Part::tail, plan_.tail, true);
        if (move.check == CheckKind::direct) {
            path.push_back(between(Place::launch_tail, launch, tail, move.adapters[0]));
        } else {
            path.push_back(between(Place::launch_known, launch, end_of(Part::known, *plan_.known, true),
                                   move.adapters[0]));
            path.push_back(
                between(Place::known_tail, end_of(Part::known, *plan_.known, false), tail, move.adapters[1]));
        }
        path.push_back(at_meter(Place::tail_meter, Part::tail, plan_.tail));
        return path;
    }

    std::vector<PathJoint> test_path(detail::Move const& move) const
    {
        auto const joined_by = [](CablingEnd const& end) {
            return end.fitting == plant::EndFitting::bare_plug ? JoinedBy::kit_adapter
                                                               : JoinedBy::panel_adapter;
        };
        PathEnd first{Part::cabling, -1, 0, question_.cabling.first.plug};
        PathEnd second{Part::cabling, -1, 1, question_.cabling.second.plug};
        return {at_source(),
                {Place::launch_cabling, end_of(Part::launch, plan_.launch, false), first, move.first_keys,
                 joined_by(question_.cabling.first)},
                {Place::cabling_tail, second, end_of(Part::tail, plan_.tail, true), move.second_keys,
                 joined_by(question_.cabling.second)},
                at_meter(Place::tail_meter, Part::tail, plan_.tail)};
    }

    static void changes_between(std::vector<PathJoint> const& before, PhasePlan& now)
    {
        auto const stands_in = [](std::vector<PathJoint> const& path, Place place) {
            return std::any_of(path.begin(), path.end(),
                               [&](PathJoint const& j) { return j.place == place; });
        };
        for (PathJoint const& joint : before) {
            if (!stands_in(now.path, joint.place)) now.opened.push_back(joint.place);
        }
        for (PathJoint const& joint : now.path) {
            if (!stands_in(before, joint.place)) now.made.push_back(joint.place);
        }
    }

    /// Test -> reference -> check -> test once more: every pin that differs along that round is a change.
    int round_changes() const
    {
        if (!plan_.reference) return 0;
        auto const pins_in = [](std::vector<PathJoint> const& path, Part part,
                                int end) -> std::optional<Pins> {
            for (PathJoint const& joint : path) {
                for (PathEnd const* e : {&joint.left, &joint.right}) {
                    if (e->part == part && e->end == end) return e->state.pins;
                }
            }
            return std::nullopt;
        };
        int changes = 0;
        for (Part const part : {Part::launch, Part::tail}) {
            CordUse const& use = part == Part::launch ? plan_.launch : plan_.tail;
            for (int const end : {use.near_end(), use.far_end()}) {
                auto const tested = pins_in(plan_.test.path, part, end);
                auto now = tested;
                for (PhasePlan const* phase : plan_.phases()) {
                    auto const next = pins_in(phase->path, part, end);
                    if (next && now && *next != *now) ++changes;
                    if (next) now = next;
                }
            }
        }
        return changes;
    }

    Question const& question_;
    detail::Found const& found_;
    std::vector<Cord> cords_;
    Plan plan_;
};

Outcome check_question(Question const& question)
{
    TRY(check_kit(question.kit));
    if (question.permitted.empty())
        return refused(
            "No reference method is permitted; permit at least one of one-cord, two-cord, three-cord, "
            "changer.");
    struct Named
    {
        char const* name;
        plant::ConnectorEnd const* end;
        bool port;
    };
    for (Named const& named : {Named{"source port", &question.source.face, true},
                               {"meter port", &question.meter.face, true},
                               {"first end of the cabling", &question.cabling.first.plug, false},
                               {"second end of the cabling", &question.cabling.second.plug, false}}) {
        plant::ConnectorEnd const& end = *named.end;
        if (end.family.key == plant::Family::Key::duplex)
            return refused(fmt::format("The {} is duplex; this set-up is for array connectors.", named.name));
        if ((end.kind == plant::EndKind::port) != named.port)
            return refused(fmt::format("The {} must be a {}.", named.name, named.port ? "port" : "plug"));
        if ((end.slope == plant::Slope::none) != (end.face == plant::Face::flat))
            return refused(
                fmt::format("The {} is {} with slope {}; an angled face has a slope, a flat one has none.",
                            named.name, plant::name_of(end.face), plant::name_of(end.slope)));
        if (end.occupied.none() || (end.occupied & ~plant::all_positions(end.family)).any())
            return refused(fmt::format("The {} has fibres at '{}', which is not within {}.", named.name,
                                       plant::occupancy_text(end.occupied), plant::words_of(end.family)));
        if (end.pins == Pins::neutral && named.end != &question.meter.face)
            return refused(
                fmt::format("The {} cannot be pin-neutral: only a meter port that does not touch the ferrule "
                            "can.",
                            named.name));
    }
    auto const count = static_cast<int>(question.kit.cords.size());
    if (question.in_force) {
        InForce const& force = *question.in_force;
        if (force.launch.cord < 0 || force.launch.cord >= count)
            return refused("The launch cord of the reference in force is not in the kit.");
        bool const with_tail =
            force.arrangement == Arrangement::two_cord || force.arrangement == Arrangement::three_cord;
        if (with_tail &&
            (force.tail.cord < 0 || force.tail.cord >= count || force.tail.cord == force.launch.cord))
            return refused("The tail cord of the reference in force is not in the kit.");
    }
    return {};
}

std::vector<Arrangement> in_order(std::vector<Arrangement> permitted)
{
    // Fewest joints in the reference first; among equals the changer, whose reference leaves the tail cord
    // out.
    auto const rank = [](Arrangement a) {
        return a == Arrangement::one_cord   ? 0
               : a == Arrangement::changer  ? 1
               : a == Arrangement::two_cord ? 2
                                            : 3;
    };
    std::sort(permitted.begin(), permitted.end(),
              [&](Arrangement a, Arrangement b) { return rank(a) < rank(b); });
    permitted.erase(std::unique(permitted.begin(), permitted.end()), permitted.end());
    return permitted;
}

} // namespace

char const* name_of(Arrangement arrangement)
{
    return arrangement_names[static_cast<std::size_t>(arrangement)];
}

char const* words_of(Arrangement arrangement)
{
    return arrangement == Arrangement::changer ? "reference with a changer cord"
                                               : words_of(method_of(arrangement));
}

std::optional<Arrangement> parse_arrangement(std::string_view text)
{
    for (std::size_t i = 0; i < arrangement_names.size(); ++i) {
        if (text == arrangement_names[i]) return static_cast<Arrangement>(i);
    }
    return std::nullopt;
}

ReferenceMethod method_of(Arrangement arrangement)
{
    switch (arrangement) {
    case Arrangement::one_cord:
        return ReferenceMethod::one_cord;
    case Arrangement::three_cord:
        return ReferenceMethod::three_cord;
    default:
        return ReferenceMethod::two_cord;
    }
}

char const* name_of(Phase phase)
{
    return phase_names[static_cast<std::size_t>(phase)];
}
char const* name_of(Place place)
{
    return place_names[static_cast<std::size_t>(place)];
}
char const* name_of(Rule rule)
{
    return rule_words[static_cast<std::size_t>(rule)].name;
}
char const* sentence(Rule rule)
{
    return rule_words[static_cast<std::size_t>(rule)].sentence;
}
char const* name_of(CheckKind kind)
{
    return check_names[static_cast<std::size_t>(kind)];
}
char const* name_of(Part part)
{
    return part_names[static_cast<std::size_t>(part)];
}

std::vector<PhasePlan const*> Plan::phases() const
{
    std::vector<PhasePlan const*> all;
    if (reference) all.push_back(&*reference);
    if (cord_check) all.push_back(&*cord_check);
    all.push_back(&test);
    return all;
}

Kit Plan::kit_after(Kit kit) const
{
    for (PhasePlan const* phase : phases()) {
        for (PinChange const& change : phase->pin_changes) {
            kit.cords[static_cast<std::size_t>(change.cord)]
                .ends[static_cast<std::size_t>(change.end)]
                .plug.pins = change.to;
        }
    }
    return kit;
}

std::string Blocker::text() const
{
    std::vector<std::string> reasons;
    for (Rule const rule : rules) reasons.emplace_back(sentence(rule));
    std::string cords;
    if (!launch_cord.empty()) cords += fmt::format(" (tried with {}", launch_cord);
    if (!other.empty())
        cords += launch_cord.empty() ? fmt::format(" (tried with {}", other) : " and " + other;
    if (!cords.empty()) cords += ")";
    return fmt::format("{}, {}, joint '{}'{}: {}.", words_of(arrangement), name_of(phase), name_of(place),
                       cords, joined(reasons, "; "));
}

// In remedy.cpp.
Result<std::optional<Remedy>> cheapest_remedy(Question const& question);

Result<Answer> solve(Question const& question, SolveOptions const& options)
{
    TRY(check_question(question));
    Answer answer;
    std::optional<detail::Found> best;
    Arrangement best_arrangement = Arrangement::one_cord;
    for (Arrangement const arrangement : in_order(question.permitted)) {
        if (question.in_force && question.in_force->arrangement != arrangement) continue;
        std::optional<Cost> ceiling;
        if (best) ceiling = best->cost;
        detail::SearchResult result = detail::search(question, arrangement, ceiling);
        if (result.found) {
            if (!best || result.found->cost < best->cost) {
                best = std::move(result.found);
                best_arrangement = arrangement;
            }
        } else {
            answer.none.blockers.push_back(std::move(*result.blocker));
        }
    }
    if (best) {
        answer.plan = Assembly{question, *best, best_arrangement}.plan();
        answer.none = {};
    } else if (options.look_for_remedy) {
        TRY_ASSIGN(answer.none.remedy, cheapest_remedy(question));
    }
    return answer;
}

Result<std::vector<Comparison>> compare(Question const& question)
{
    TRY(check_question(question));
    std::vector<Comparison> all;
    for (Arrangement const arrangement : in_order(question.permitted)) {
        detail::SearchResult result = detail::search(question, arrangement);
        Comparison comparison;
        comparison.arrangement = arrangement;
        if (result.found) comparison.plan = Assembly{question, *result.found, arrangement}.plan();
        comparison.blocker = std::move(result.blocker);
        all.push_back(std::move(comparison));
    }
    return all;
}

} // namespace guidepin::setup
