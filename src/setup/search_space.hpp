// SPDX-License-Identifier: Apache-2.0
// The states of the search and what leads from one to the next. Private to the room. A state is: which cord
// plays which part, the pins of the plugs that are still to be mated, and the adapters in use.
#pragma once

#include "plant/presets.hpp"
#include "setup/search.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <queue>
#include <unordered_map>

namespace guidepin::setup::detail {

using plant::ConnectorEnd;
using plant::KeyRelation;
using plant::Pins;

using Mask = std::uint64_t;  // of positions
using Rules = std::uint32_t; // bit of each Rule
using Packed = std::uint64_t;

constexpr Rules bit(Rule rule)
{
    return Rules{1} << static_cast<unsigned>(rule);
}
constexpr Packed packed(int pin_changes, int matings, int items)
{
    return (static_cast<Packed>(pin_changes) << 40) | (static_cast<Packed>(matings) << 20) |
           static_cast<Packed>(items);
}
inline Cost unpacked(Packed cost)
{
    return {static_cast<int>(cost >> 40), static_cast<int>((cost >> 20) & 0xfffff),
            static_cast<int>(cost & 0xfffff)};
}

inline Mask carried(Mask from, plant::PositionMap const& map)
{
    Mask to = 0;
    for (; from != 0; from &= from - 1) {
        int const q = map.at(std::countr_zero(from) + 1);
        if (q > 0) to |= Mask{1} << (q - 1);
    }
    return to;
}

inline KeyRelation keys_of(int index)
{
    return index == 0 ? KeyRelation::opposed : KeyRelation::aligned;
}
inline int index_of(KeyRelation keys)
{
    return keys == KeyRelation::opposed ? 0 : 1;
}

inline Rules pin_rules(Pins a, Pins b)
{
    if (a == Pins::pinned && b == Pins::pinned) return bit(Rule::pins_both);
    if (a == Pins::unpinned && b == Pins::unpinned) return bit(Rule::pins_none);
    return 0;
}

/// A cord of one kind, seen with one end towards the source.
struct Option
{
    int kind = 0;
    bool turned = false;
    CordEnd near, far;
    int near_shape = 0, far_shape = 0;
    Mask all = 0;                 ///< positions of its family: its map is one-to-one on them
    plant::PositionMap map, back; ///< near to far, far to near
    int grade = 0;                ///< 1 reference grade
    Roles roles;
};

struct State
{
    Stage stage = Stage::start;
    std::int16_t launch = -1, tail = -1, extra = -1, known = -1; ///< options
    Pins launch_near{}, launch_far{}, tail_near{}, tail_far{}, extra_near{}, extra_far{}, known_near{},
        known_far{};
    CheckKind check = CheckKind::none;
    std::int8_t first_keys = 0, second_keys = 0; ///< cabling's joints
    std::int8_t adapter_a = -1, adapter_b = -1;  ///< joints made on entering this state
    std::int8_t opposed = 0, aligned = 0;        ///< of the kit, most at once so far
    bool tool = false;
    bool known_again = false;   ///< the changer cord serves in the check …
    bool known_flipped = false; ///< … turned
};

struct Node
{
    State state;
    Packed cost = 0;
    int parent = -1;
};

class Search
{
  public:
    Search(Question const& question, Arrangement arrangement, std::optional<Cost> const& ceiling)
        : question_(question)
        , arrangement_(arrangement)
        , family_(question.cabling.first.plug.family.key)
    {
        if (ceiling) ceiling_ = packed(ceiling->pin_changes, ceiling->reference_matings, ceiling->items);
        plant::Family const& family = question.cabling.first.plug.family;
        all_ = plant::all_positions(family).to_ullong();
        for (int const keys : {0, 1}) {
            for (int p = 1; p <= family.positions(); ++p)
                met_[static_cast<std::size_t>(keys)][static_cast<std::size_t>(p - 1)] =
                    Mask{1} << (plant::met_position(family, keys_of(keys), p) - 1);
        }
        tool_ = question.kit.has_pin_tool(family_);
        stock_ = {question.kit.adapters_of(KeyRelation::opposed, family_),
                  question.kit.adapters_of(KeyRelation::aligned, family_)};
        // The ports keep shapes of their own: a neutral meter port is judged by other rules.
        shapes_ = {question.source.face, question.meter.face};
        for (ConnectorEnd& port : shapes_) port.pins = Pins::neutral;
        source_shape_ = 0;
        meter_shape_ = 1;
        first_shape_ = shape_of(question.cabling.first.plug);
        second_shape_ = shape_of(question.cabling.second.plug);
        collect_options();
        launch_test_ = plant::complement(question.cabling.first.plug.pins);
        tail_test_ = plant::complement(question.cabling.second.plug.pins);
        for (Option const& option : options_)
            under_test_.push_back({positions_under_test(option, 0), positions_under_test(option, 1)});
        for (Option const& option : options_) {
            if (option.roles.may(Role::tail)) least_tail_ = std::min(least_tail_, option.grade);
            if (option.roles.may(extra_role())) least_extra_ = std::min(least_extra_, option.grade);
        }
        if (least_tail_ > 1) least_tail_ = 0;
        if (least_extra_ > 1) least_extra_ = 0;
    }

    SearchResult run();

  private:
    Role extra_role() const
    {
        return arrangement_ == Arrangement::changer ? Role::changer : Role::substitution;
    }
    bool tail_in_reference() const
    {
        return arrangement_ == Arrangement::two_cord || arrangement_ == Arrangement::three_cord;
    }

    int shape_of(ConnectorEnd end);
    Rules fit(int left, int right, KeyRelation keys);
    void collect_options();
    int members_left(int kind, State const& state) const;
    bool could_change(CordEnd const& end) const { return end.pins_exchangeable && tool_; }
    bool could_be(CordEnd const& end, Pins now, Pins wanted) const
    {
        return now == wanted || could_change(end);
    }
    /// Pins a plug may take to enter `other`; all it can take where `other` is neutral.
    template <class Visit>
    void pins_for(CordEnd const& end, Pins now, Pins other, Visit visit) const
    {
        for (Pins const p : {now, plant::complement(now)}) {
            if (pin_rules(p, other) == 0 && could_be(end, now, p)) visit(p);
        }
    }
    Rules why_not(CordEnd const& end, Pins now, Pins other) const
    {
        Rules const rules = pin_rules(now, other);
        if (rules == 0 || could_change(end)) return 0;
        return rules | bit(end.pins_exchangeable ? Rule::no_pin_tool : Rule::pins_fixed);
    }
    Rules why_not_both(CordEnd const& a, Pins now_a, CordEnd const& b, Pins now_b) const
    {
        if (could_change(a) || could_change(b)) return 0;
        Rules const rules = pin_rules(now_a, now_b);
        if (rules == 0) return 0;
        bool const made_for_it = a.pins_exchangeable || b.pins_exchangeable;
        return rules | bit(made_for_it ? Rule::no_pin_tool : Rule::pins_fixed);
    }

    Mask positions_under_test(Option const& launch, int keys) const;
    Mask under_test_at_launch(Option const& launch, int keys) const
    {
        return under_test_[static_cast<std::size_t>(&launch - options_.data())]
                          [static_cast<std::size_t>(keys)];
    }
    Mask under_test_at_tail(Option const& tail, int keys) const;
    bool lights_meter(Mask at_plug, Option const& last) const;
    bool enters(Mask& mask, ConnectorEnd const& from, int keys, ConnectorEnd const& into) const;

    void push(State state, int parent, int pin_changes, int matings, int new_items);
    Packed bound(State const& state) const;
    std::uint64_t key_of(State const& state) const;
    void blocked(int rank, Phase phase, Place place, Rules rules, int launch, int other);
    bool use_adapters(State& state, int a, int b, int& new_items) const;
    static void pins_changed(State& state, int changes, int& new_items);

    void start();
    void choose_launch(int option);
    void plug_launch_into_source(State const& state, Option const& option);
    void keep_launch_in_force(State state, Option const& option);
    void keep_tail_in_force(State const& state);
    bool is_use(Option const& option, CordUse const& use) const;
    void expand(int node);
    void reference_one_cord(int node);
    void reference_changer(int node);
    void reference_two_cord(int node);
    void reference_three_cord(int node);
    /// Joins launch cord and tail cord, for the two-cord reference or for the direct check.
    void join_launch_to_tail(int node, Stage reached);
    void join_tail(int node, Stage next);
    Rules tail_fits(Option const& tail, int keys, Place& place);
    void check_direct(int node);
    void check_known(int node);
    void check_known_with(int node, int option, Pins near_now, Pins far_now, int new_cords, bool flipped);
    void check_remade(int node);
    void test(int node);

    SearchResult result(int node);
    struct CordsInUse
    {
        CordUse launch, tail, extra, known;
    };
    CordsInUse cords_in_use(std::vector<int> const& way) const;
    Move move_to(State const& state, CordsInUse const& cords, std::vector<Cord>& now) const;
    Blocker blocker() const;

    Question const& question_;
    Arrangement arrangement_;
    plant::Family::Key family_;
    bool tool_ = false;
    std::array<int, 2> stock_{};
    std::vector<ConnectorEnd> shapes_;
    std::vector<std::array<std::int64_t, 2>> fit_; ///< -1 unknown; index left * 64 + right
    std::vector<Option> options_;
    std::vector<std::vector<int>> members_; ///< cords of each kind
    int source_shape_ = 0, meter_shape_ = 0, first_shape_ = 0, second_shape_ = 0;
    int least_tail_ = 2, least_extra_ = 2;
    Pins launch_test_{}, tail_test_{};            ///< pins that the plugs at the cabling must come to
    std::vector<std::array<Mask, 2>> under_test_; ///< by option and keys
    Packed ceiling_ = ~Packed{0};                 ///< a plan must cost less
    Mask all_ = 0;                                ///< positions of the cabling's family
    std::array<std::array<Mask, plant::max_positions>, 2> met_{}; ///< bit met by each position, by keys

    std::vector<Node> nodes_;
    struct Entry
    {
        Packed estimate = 0;
        int stage = 0;
        int node = 0;
        bool operator<(Entry const& other) const // the queue gives the greatest first
        {
            if (estimate != other.estimate) return estimate > other.estimate;
            if (stage != other.stage) return stage < other.stage;
            return node > other.node;
        }
    };
    std::priority_queue<Entry> open_;
    std::unordered_map<std::uint64_t, Packed> best_;

    struct Block
    {
        int rank = -1;
        Phase phase = Phase::reference;
        Place place = Place::source_launch;
        Rules rules = 0;
        int launch = -1, other = -1;
    } block_;
};

} // namespace guidepin::setup::detail
