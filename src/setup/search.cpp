// SPDX-License-Identifier: Apache-2.0
// The search: its states, their cost and bound, the way back. Method: docs/methods/setup.md.
#include "setup/search_space.hpp"

namespace guidepin::setup::detail {

namespace {

Rules rules_of(plant::MateVerdict const& verdict, bool contacting)
{
    Rules rules = 0;
    for (plant::MateFault const fault : verdict.faults) {
        switch (fault) {
        case plant::MateFault::wrong_family:
            rules |= bit(Rule::wrong_family);
            break;
        case plant::MateFault::face_mixed:
            if (contacting) rules |= bit(Rule::face_mixed);
            break;
        case plant::MateFault::slope:
            if (contacting) rules |= bit(Rule::slope);
            break;
        case plant::MateFault::rows_differ:
            rules |= bit(Rule::rows_differ);
            break;
        default:
            break; // pins and positions are judged here, an adapter is given
        }
    }
    return rules;
}

} // namespace

int Search::shape_of(ConnectorEnd end)
{
    end.pins = Pins::neutral;
    for (std::size_t i = 0; i < shapes_.size(); ++i) {
        if (shapes_[i] == end) return static_cast<int>(i);
    }
    shapes_.push_back(end);
    return static_cast<int>(shapes_.size()) - 1;
}

Rules Search::fit(int left, int right, KeyRelation keys)
{
    auto const index = static_cast<std::size_t>(left) * shapes_.size() + static_cast<std::size_t>(right);
    std::int64_t& known = fit_[index][static_cast<std::size_t>(index_of(keys))];
    if (known < 0) {
        bool const neutral =
            (left == meter_shape_ || right == meter_shape_) && question_.meter.face.pins == Pins::neutral;
        known = rules_of(plant::mate(shapes_[static_cast<std::size_t>(left)],
                                     shapes_[static_cast<std::size_t>(right)], keys),
                         !neutral);
    }
    return static_cast<Rules>(known);
}

void Search::collect_options()
{
    std::vector<Cord> const& cords = question_.kit.cords;
    std::vector<plant::PositionMap> maps;
    for (std::size_t c = 0; c < cords.size(); ++c) {
        Cord const& cord = cords[c];
        if (!cord.glass.fits(question_.cabling.glass)) {
            // The glass may not be all: a cord that was meant for this plug may have another face as well.
            plant::ConnectorEnd const& plug = question_.cabling.first.plug;
            Rules rules = bit(Rule::glass);
            if (cord.ends[0].plug.family.key != plug.family.key)
                rules |= bit(Rule::wrong_family);
            else if (cord.ends[0].plug.face != plug.face && cord.ends[1].plug.face != plug.face)
                rules |= bit(Rule::face_mixed);
            blocked(0, Phase::prepare, Place::source_launch, rules, -1, static_cast<int>(c));
            continue;
        }
        bool const pledged = question_.in_force && (question_.in_force->launch.cord == static_cast<int>(c) ||
                                                    question_.in_force->tail.cord == static_cast<int>(c));
        plant::PositionMap const map = *plant::cable_map(cord.type, cord.ends[0].plug.family);
        bool known = false;
        for (std::size_t k = 0; k < members_.size() && !known && !pledged; ++k) {
            Cord const& first = cords[static_cast<std::size_t>(members_[k].front())];
            bool const first_pledged =
                question_.in_force && (question_.in_force->launch.cord == members_[k].front() ||
                                       question_.in_force->tail.cord == members_[k].front());
            if (!first_pledged && first.ends == cord.ends && first.grade == cord.grade &&
                first.roles == cord.roles && maps[k] == map) {
                members_[k].push_back(static_cast<int>(c));
                known = true;
            }
        }
        if (known) continue;
        int const kind = static_cast<int>(members_.size());
        members_.push_back({static_cast<int>(c)});
        maps.push_back(map);
        plant::PositionMap const back = map.inverse();
        for (bool const turned : {false, true}) {
            // A cord that looks the same from both ends need not be tried both ways, unless one way is taken.
            if (turned && !pledged && cord.ends[0] == cord.ends[1] && map == back) continue;
            Option option;
            option.kind = kind;
            option.turned = turned;
            option.near = cord.ends[turned ? 1 : 0];
            option.far = cord.ends[turned ? 0 : 1];
            option.all = plant::all_positions(option.near.plug.family).to_ullong();
            option.near_shape = shape_of(option.near.plug);
            option.far_shape = shape_of(option.far.plug);
            option.map = turned ? back : map;
            option.back = turned ? map : back;
            option.grade = cord.grade == facts::CordGrade::reference ? 1 : 0;
            option.roles = cord.roles;
            options_.push_back(std::move(option));
        }
    }
    fit_.assign(shapes_.size() * shapes_.size(), {-1, -1});
}

int Search::members_left(int kind, State const& state) const
{
    int left = static_cast<int>(members_[static_cast<std::size_t>(kind)].size());
    for (std::int16_t const used : {state.launch, state.tail, state.extra}) {
        if (used >= 0 && options_[static_cast<std::size_t>(used)].kind == kind) --left;
    }
    return left;
}

Packed Search::bound(State const& s) const
{
    if (s.stage == Stage::done) return 0;
    int const launch = s.launch < 0 ? 0 : options_[static_cast<std::size_t>(s.launch)].grade;
    int const tail = s.tail < 0 ? least_tail_ : options_[static_cast<std::size_t>(s.tail)].grade;
    int const extra = s.extra < 0 ? least_extra_ : options_[static_cast<std::size_t>(s.extra)].grade;
    bool const no_adapter_yet = s.opposed + s.aligned == 0;
    int matings = launch + tail; // the test
    int items = 0;
    bool needs_adapter = false;
    if (s.stage < Stage::checked && question_.cord_check) {
        matings += arrangement_ == Arrangement::three_cord ? launch + extra : launch + tail;
        needs_adapter = true;
    }
    if (s.stage < Stage::referenced) {
        switch (arrangement_) {
        case Arrangement::one_cord:
            matings += launch;
            break;
        case Arrangement::changer:
            matings += launch + 2 * extra;
            break;
        case Arrangement::two_cord:
            matings += launch + tail;
            break;
        case Arrangement::three_cord:
            matings += launch + 2 * extra + tail;
            break;
        }
        if (arrangement_ != Arrangement::one_cord) needs_adapter = true;
        if (arrangement_ == Arrangement::changer || arrangement_ == Arrangement::three_cord) items += 1;
    }
    if (s.tail < 0) {
        matings += tail; // into the meter
        items += 1;
    }
    if (needs_adapter && no_adapter_yet) items += 1;
    int changes = s.tail >= 0 && s.tail_near != tail_test_ ? 1 : 0;
    if (arrangement_ == Arrangement::one_cord && s.stage == Stage::at_source &&
        question_.meter.face.pins != Pins::neutral) {
        Pins const in_meter = plant::complement(question_.meter.face.pins);
        changes += (s.launch_far != in_meter) + (in_meter != launch_test_);
    } else {
        changes += s.launch_far != launch_test_ ? 1 : 0;
    }
    if (changes > 0 && !s.tool) items += 1;
    return packed(changes, matings, items);
}

std::uint64_t Search::key_of(State const& s) const
{
    std::uint64_t key = static_cast<std::uint64_t>(s.stage);
    auto const add = [&key](std::uint64_t value, unsigned bits) { key = (key << bits) | value; };
    add(static_cast<std::uint64_t>(s.launch + 1), 12);
    add(static_cast<std::uint64_t>(s.tail + 1), 12);
    add(static_cast<std::uint64_t>(s.extra + 1), 12);
    add(static_cast<std::uint64_t>(s.launch_far), 2);
    add(static_cast<std::uint64_t>(s.tail_near), 2);
    // Of the changer cord the pins still matter: it may serve in the check.
    add(arrangement_ == Arrangement::changer ? static_cast<std::uint64_t>(s.extra_near) : 0, 2);
    add(arrangement_ == Arrangement::changer ? static_cast<std::uint64_t>(s.extra_far) : 0, 2);
    add(static_cast<std::uint64_t>(s.first_keys), 1);
    add(static_cast<std::uint64_t>(s.second_keys), 1);
    add(static_cast<std::uint64_t>(s.opposed), 2);
    add(static_cast<std::uint64_t>(s.aligned), 2);
    add(s.tool ? 1 : 0, 1);
    return key;
}

void Search::push(State state, int parent, int pin_changes, int matings, int new_items)
{
    Packed const before = parent < 0 ? 0 : nodes_[static_cast<std::size_t>(parent)].cost;
    Packed const cost = before + packed(pin_changes, matings, new_items);
    Packed const estimate = cost + bound(state);
    if (estimate >= ceiling_) return;
    auto const [place, added] = best_.try_emplace(key_of(state), cost);
    if (!added) {
        if (place->second <= cost) return;
        place->second = cost;
    }
    nodes_.push_back({state, cost, parent});
    open_.push({estimate, static_cast<int>(state.stage), static_cast<int>(nodes_.size()) - 1});
}

namespace {

/// Returns how far a joint is from being possible. A cord of another family counts as far away, so that the
/// answer names the rule that a cord for this plug breaks. The wrong kind of fibre is further away than other
/// faults, and no cord at all is further still.
int distance(Rules rules)
{
    return std::popcount(rules) + ((rules & bit(Rule::wrong_family)) != 0 ? 20 : 0) +
           ((rules & bit(Rule::no_cord)) != 0 ? 15 : 0) + ((rules & bit(Rule::glass)) != 0 ? 10 : 0);
}

} // namespace

void Search::blocked(int rank, Phase phase, Place place, Rules rules, int launch, int other)
{
    if (rules == 0 || rank < block_.rank) return;
    if (rank == block_.rank && distance(rules) >= distance(block_.rules)) return;
    block_ = {rank, phase, place, rules, launch, other};
}

/// Adapters of the kit in simultaneous use; false when the kit does not hold them.
bool Search::use_adapters(State& state, int a, int b, int& new_items) const
{
    int opposed = 0;
    int aligned = 0;
    for (int const keys : {a, b}) {
        if (keys == 0) ++opposed;
        if (keys == 1) ++aligned;
    }
    if (opposed > stock_[0] || aligned > stock_[1]) return false;
    if (opposed > state.opposed) {
        new_items += opposed - state.opposed;
        state.opposed = static_cast<std::int8_t>(opposed);
    }
    if (aligned > state.aligned) {
        new_items += aligned - state.aligned;
        state.aligned = static_cast<std::int8_t>(aligned);
    }
    return true;
}

void Search::pins_changed(State& state, int changes, int& new_items)
{
    if (changes > 0 && !state.tool) {
        state.tool = true;
        ++new_items;
    }
}

void Search::expand(int node)
{
    Stage const stage = nodes_[static_cast<std::size_t>(node)].state.stage;
    switch (stage) {
    case Stage::at_source:
        if (arrangement_ == Arrangement::one_cord)
            reference_one_cord(node);
        else if (arrangement_ == Arrangement::changer)
            reference_changer(node);
        else
            join_tail(node, Stage::tail_at_meter);
        break;
    case Stage::tail_at_meter:
        if (arrangement_ == Arrangement::two_cord)
            reference_two_cord(node);
        else
            reference_three_cord(node);
        break;
    case Stage::referenced:
        if (!tail_in_reference())
            join_tail(node, Stage::tail_joined);
        else if (question_.cord_check)
            check_remade(node);
        else
            test(node);
        break;
    case Stage::tail_joined:
        if (question_.cord_check) {
            check_direct(node);
            check_known(node);
        } else {
            test(node);
        }
        break;
    case Stage::checked:
        test(node);
        break;
    case Stage::start:
    case Stage::done:
        break;
    }
}

SearchResult Search::run()
{
    nodes_.reserve(4096);
    best_.reserve(4096);
    start();
    while (!open_.empty()) {
        Entry const entry = open_.top();
        open_.pop();
        Node const& node = nodes_[static_cast<std::size_t>(entry.node)];
        if (best_.at(key_of(node.state)) < node.cost) continue;
        if (node.state.stage == Stage::done) return result(entry.node);
        expand(entry.node);
    }
    SearchResult none;
    none.states = nodes_.size();
    none.blocker = blocker();
    return none;
}

SearchResult Search::result(int node)
{
    std::vector<int> way;
    for (int n = node; n >= 0; n = nodes_[static_cast<std::size_t>(n)].parent) way.push_back(n);
    std::reverse(way.begin(), way.end());
    State const& last = nodes_[static_cast<std::size_t>(node)].state;
    CordsInUse const cords = cords_in_use(way);

    Found found;
    found.cost = unpacked(nodes_[static_cast<std::size_t>(node)].cost);
    found.opposed = last.opposed;
    found.aligned = last.aligned;
    found.pin_tool = last.tool;
    std::vector<Cord> now = question_.kit.cords;
    for (int const n : way)
        found.moves.push_back(move_to(nodes_[static_cast<std::size_t>(n)].state, cords, now));
    SearchResult answer;
    answer.found = std::move(found);
    answer.states = nodes_.size();
    return answer;
}

/// Cords of one kind are interchangeable: takes the first free ones of the kit, in the order of the parts.
Search::CordsInUse Search::cords_in_use(std::vector<int> const& way) const
{
    std::vector<std::size_t> taken(members_.size(), 0);
    auto const use = [&](int option) {
        CordUse cord;
        if (option < 0) return cord;
        Option const& o = options_[static_cast<std::size_t>(option)];
        auto const kind = static_cast<std::size_t>(o.kind);
        cord.cord = members_[kind][taken[kind]++];
        cord.turned = o.turned;
        return cord;
    };
    State const& last = nodes_[static_cast<std::size_t>(way.back())].state;
    CordsInUse cords;
    cords.launch = use(last.launch);
    cords.tail = use(last.tail);
    cords.extra = use(last.extra);
    for (int const n : way) {
        State const& s = nodes_[static_cast<std::size_t>(n)].state;
        if (s.stage != Stage::checked || s.known < 0) continue;
        if (s.known_again) {
            cords.known = cords.extra;
            cords.known.turned = cords.extra.turned != s.known_flipped;
        } else {
            cords.known = use(s.known);
        }
    }
    return cords;
}

/// Returns the move that leads to this state. `now`: the kit's cords with the pins of the moment; changed to
/// those after the move.
Move Search::move_to(State const& s, CordsInUse const& cords, std::vector<Cord>& now) const
{
    Move move;
    move.stage = s.stage;
    move.launch = cords.launch;
    move.tail = s.tail >= 0 ? cords.tail : CordUse{};
    move.extra = s.extra >= 0 ? cords.extra : CordUse{};
    move.check = s.stage == Stage::checked ? s.check : CheckKind::none;
    move.first_keys = keys_of(s.first_keys);
    move.second_keys = keys_of(s.second_keys);
    if (s.adapter_a >= 0) move.adapters.push_back(keys_of(s.adapter_a));
    if (s.adapter_b >= 0) move.adapters.push_back(keys_of(s.adapter_b));
    auto const set = [&](Part part, CordUse const& cord, bool near, Pins pins) {
        int const end = near ? cord.near_end() : cord.far_end();
        Pins& current =
            now[static_cast<std::size_t>(cord.cord)].ends[static_cast<std::size_t>(end)].plug.pins;
        if (current == pins) return;
        current = pins;
        move.pin_changes.push_back({part, cord.cord, end, pins});
    };
    set(Part::launch, cords.launch, true, s.launch_near);
    set(Part::launch, cords.launch, false, s.launch_far);
    if (s.extra >= 0 && s.stage == Stage::referenced) {
        Part const part = arrangement_ == Arrangement::changer ? Part::changer : Part::substitution;
        set(part, cords.extra, true, s.extra_near);
        set(part, cords.extra, false, s.extra_far);
    }
    if (s.stage == Stage::checked && s.check == CheckKind::known_cord) {
        move.known = cords.known;
        set(Part::known, cords.known, true, s.known_near);
        set(Part::known, cords.known, false, s.known_far);
    }
    if (s.tail >= 0) {
        set(Part::tail, cords.tail, true, s.tail_near);
        set(Part::tail, cords.tail, false, s.tail_far);
    }
    return move;
}

Blocker Search::blocker() const
{
    Blocker why;
    why.arrangement = arrangement_;
    why.phase = block_.phase;
    why.place = block_.place;
    for (unsigned r = 0; r <= static_cast<unsigned>(Rule::no_cord); ++r) {
        if ((block_.rules & (Rules{1} << r)) != 0) why.rules.push_back(static_cast<Rule>(r));
    }
    if (why.rules.empty()) why.rules.push_back(Rule::no_cord);
    // Cords that are alike are one kind: where two of a kind met, each is named.
    auto const id = [this](int option, std::size_t of_its_kind) {
        Option const& o = options_[static_cast<std::size_t>(option)];
        auto const& alike = members_[static_cast<std::size_t>(o.kind)];
        return question_.kit.cords[static_cast<std::size_t>(alike[std::min(of_its_kind, alike.size() - 1)])]
            .id;
    };
    if (block_.launch >= 0) why.launch_cord = id(block_.launch, 0);
    if ((block_.rules & bit(Rule::glass)) != 0 && block_.launch < 0 && block_.other >= 0) {
        why.launch_cord = question_.kit.cords[static_cast<std::size_t>(block_.other)].id;
    } else if (block_.other >= 0) {
        bool const alike = block_.launch >= 0 && options_[static_cast<std::size_t>(block_.launch)].kind ==
                                                     options_[static_cast<std::size_t>(block_.other)].kind;
        why.other = id(block_.other, alike ? 1 : 0);
    }
    return why;
}

SearchResult search(Question const& question, Arrangement arrangement, std::optional<Cost> const& ceiling)
{
    return Search{question, arrangement, ceiling}.run();
}

} // namespace guidepin::setup::detail
