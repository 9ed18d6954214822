// SPDX-License-Identifier: Apache-2.0
// Moves up to the reference: the launch cord, and what is between it and the meter.
#include "setup/search_space.hpp"

namespace guidepin::setup::detail {

void Search::start()
{
    if (options_.empty()) {
        blocked(0, Phase::prepare, Place::source_launch, bit(Rule::no_cord), -1, -1);
        return;
    }
    for (std::size_t o = 0; o < options_.size(); ++o) {
        Option const& option = options_[o];
        if (question_.in_force) {
            if (is_use(option, question_.in_force->launch)) choose_launch(static_cast<int>(o));
        } else if (option.roles.may(Role::launch)) {
            choose_launch(static_cast<int>(o));
        } else {
            blocked(0, Phase::prepare, Place::source_launch, bit(Rule::no_cord), -1, -1);
        }
    }
}

void Search::choose_launch(int index)
{
    Option const& option = options_[static_cast<std::size_t>(index)];
    Pins const source = question_.source.face.pins;
    Rules const at_source = fit(option.near_shape, source_shape_, question_.source.keys) |
                            why_not(option.near, option.near.plug.pins, source);
    if (at_source != 0) {
        // A cord of another family was never meant for this port: it does not hide why the others fail.
        bool const meant = (at_source & bit(Rule::wrong_family)) == 0;
        blocked(meant ? 1 : 0, Phase::reference, Place::source_launch, at_source, index, -1);
        return;
    }
    CablingEnd const& end = question_.cabling.first;
    bool const bare = end.fitting == plant::EndFitting::bare_plug;
    for (int const keys : {0, 1}) {
        if (!bare && keys != (end.fitting == plant::EndFitting::aligned_adapter ? 1 : 0)) continue;
        Rules rules = fit(option.far_shape, first_shape_, keys_of(keys)) |
                      why_not(option.far, option.far.plug.pins, end.plug.pins);
        if (bare && stock_[static_cast<std::size_t>(keys)] == 0) rules |= bit(Rule::no_adapter_in_kit);
        if (rules == 0 && under_test_at_launch(option, keys) == 0) rules = bit(Rule::positions);
        if (rules != 0) {
            // A cord that the reference could be taken with comes further than one that fails there.
            bool const referenced =
                arrangement_ == Arrangement::one_cord &&
                (fit(option.far_shape, meter_shape_, question_.meter.keys) |
                 why_not(option.far, option.far.plug.pins, question_.meter.face.pins)) == 0;
            blocked(referenced ? 4 : 2, Phase::test, Place::launch_cabling, rules, index, -1);
            continue;
        }
        State state;
        state.launch = static_cast<std::int16_t>(index);
        state.first_keys = static_cast<std::int8_t>(keys);
        state.launch_far = option.far.plug.pins;
        if (question_.in_force)
            keep_launch_in_force(state, option);
        else
            plug_launch_into_source(state, option);
    }
}

void Search::plug_launch_into_source(State const& state, Option const& option)
{
    pins_for(option.near, option.near.plug.pins, question_.source.face.pins, [&](Pins pins) {
        State next = state;
        next.stage = Stage::at_source;
        next.launch_near = pins;
        int changes = pins != option.near.plug.pins ? 1 : 0;
        int items = 1;
        pins_changed(next, changes, items);
        push(next, -1, changes, option.grade, items);
    });
}

/// The source end of a reference in force stays where it is, so its pins must fit without a change.
void Search::keep_launch_in_force(State state, Option const& option)
{
    Rules const pins = pin_rules(option.near.plug.pins, question_.source.face.pins);
    if (pins != 0) {
        blocked(1, Phase::reference, Place::source_launch, pins | bit(Rule::pins_fixed), state.launch, -1);
        return;
    }
    state.launch_near = option.near.plug.pins;
    if (tail_in_reference()) {
        keep_tail_in_force(state);
        return;
    }
    state.stage = Stage::referenced;
    push(state, -1, 0, 0, 1);
}

bool Search::is_use(Option const& option, CordUse const& use) const
{
    return members_[static_cast<std::size_t>(option.kind)].front() == use.cord && option.turned == use.turned;
}

void Search::keep_tail_in_force(State const& state)
{
    for (std::size_t t = 0; t < options_.size(); ++t) {
        Option const& tail = options_[t];
        if (!is_use(tail, question_.in_force->tail)) continue;
        for (int const second : {0, 1}) {
            Place place = Place::cabling_tail;
            Rules why = tail_fits(tail, second, place);
            if (why == 0) why = pin_rules(tail.far.plug.pins, question_.meter.face.pins);
            if (why != 0) {
                blocked(5, Phase::test, place, why, state.launch, static_cast<int>(t));
                continue;
            }
            State next = state;
            next.tail = static_cast<std::int16_t>(t);
            next.second_keys = static_cast<std::int8_t>(second);
            next.tail_near = tail.near.plug.pins;
            next.tail_far = tail.far.plug.pins;
            next.stage = Stage::checked;
            push(next, -1, 0, 0, 2);
        }
    }
}

void Search::reference_one_cord(int node)
{
    State const from = nodes_[static_cast<std::size_t>(node)].state;
    Option const& launch = options_[static_cast<std::size_t>(from.launch)];
    Rules rules = fit(launch.far_shape, meter_shape_, question_.meter.keys) |
                  why_not(launch.far, from.launch_far, question_.meter.face.pins);
    if (rules == 0) {
        Mask at_plug = under_test_at_launch(launch, from.first_keys);
        if (!enters(at_plug, launch.far.plug, index_of(question_.meter.keys), question_.meter.face))
            rules = bit(Rule::positions);
    }
    if (rules != 0) {
        blocked(3, Phase::reference, Place::launch_meter, rules, from.launch, -1);
        return;
    }
    pins_for(launch.far, from.launch_far, question_.meter.face.pins, [&](Pins pins) {
        State next = from;
        next.stage = Stage::referenced;
        next.launch_far = pins;
        int changes = pins != from.launch_far ? 1 : 0;
        int items = 0;
        pins_changed(next, changes, items);
        push(next, node, changes, launch.grade, items);
    });
}

void Search::reference_changer(int node)
{
    State const from = nodes_[static_cast<std::size_t>(node)].state;
    Option const& launch = options_[static_cast<std::size_t>(from.launch)];
    bool any = false;
    for (std::size_t o = 0; o < options_.size(); ++o) {
        Option const& extra = options_[o];
        if (!extra.roles.may(Role::changer) || members_left(extra.kind, from) < 1) continue;
        any = true;
        Rules const at_meter = fit(extra.far_shape, meter_shape_, question_.meter.keys) |
                               why_not(extra.far, extra.far.plug.pins, question_.meter.face.pins);
        if (at_meter != 0) {
            blocked(3, Phase::reference, Place::changer_meter, at_meter, from.launch, static_cast<int>(o));
            continue;
        }
        for (int const keys : {0, 1}) {
            Rules rules = fit(launch.far_shape, extra.near_shape, keys_of(keys)) |
                          why_not_both(launch.far, from.launch_far, extra.near, extra.near.plug.pins);
            State with = from;
            int adapter_items = 0;
            if (!use_adapters(with, keys, -1, adapter_items)) rules |= bit(Rule::no_adapter_in_kit);
            if (rules == 0) {
                Mask mask = under_test_at_launch(launch, from.first_keys);
                if (!enters(mask, launch.far.plug, keys, extra.near.plug) || !lights_meter(mask, extra))
                    rules = bit(Rule::positions);
            }
            if (rules != 0) {
                blocked(3, Phase::reference, Place::launch_changer, rules, from.launch, static_cast<int>(o));
                continue;
            }
            pins_for(extra.far, extra.far.plug.pins, question_.meter.face.pins, [&](Pins far) {
                for (Pins const mine : {Pins::pinned, Pins::unpinned}) {
                    Pins const near = plant::complement(mine);
                    if (!could_be(launch.far, from.launch_far, mine) ||
                        !could_be(extra.near, extra.near.plug.pins, near)) {
                        continue;
                    }
                    State next = with;
                    next.stage = Stage::referenced;
                    next.extra = static_cast<std::int16_t>(o);
                    next.launch_far = mine;
                    next.extra_near = near;
                    next.extra_far = far;
                    next.adapter_a = static_cast<std::int8_t>(keys);
                    next.adapter_b = -1;
                    int changes = (mine != from.launch_far) + (near != extra.near.plug.pins) +
                                  (far != extra.far.plug.pins);
                    int items = 1 + adapter_items;
                    pins_changed(next, changes, items);
                    push(next, node, changes, launch.grade + 2 * extra.grade, items);
                }
            });
        }
    }
    if (!any) blocked(3, Phase::reference, Place::launch_changer, bit(Rule::no_cord), from.launch, -1);
}

void Search::reference_two_cord(int node)
{
    join_launch_to_tail(node, Stage::referenced);
}

void Search::join_launch_to_tail(int node, Stage reached)
{
    bool const check = reached == Stage::checked;
    State const from = nodes_[static_cast<std::size_t>(node)].state;
    Option const& launch = options_[static_cast<std::size_t>(from.launch)];
    Option const& tail = options_[static_cast<std::size_t>(from.tail)];
    for (int const keys : {0, 1}) {
        Rules rules = fit(launch.far_shape, tail.near_shape, keys_of(keys)) |
                      why_not_both(launch.far, from.launch_far, tail.near, from.tail_near);
        State with = from;
        int adapter_items = 0;
        if (!use_adapters(with, keys, -1, adapter_items)) rules |= bit(Rule::no_adapter_in_kit);
        if (rules == 0) {
            Mask mask = under_test_at_launch(launch, from.first_keys);
            if (!enters(mask, launch.far.plug, keys, tail.near.plug) || !lights_meter(mask, tail))
                rules = bit(Rule::positions);
        }
        if (rules != 0) {
            blocked(check ? 8 : 6, check ? Phase::check : Phase::reference, Place::launch_tail, rules,
                    from.launch, from.tail);
            continue;
        }
        for (Pins const mine : {Pins::pinned, Pins::unpinned}) {
            Pins const near = plant::complement(mine);
            if (!could_be(launch.far, from.launch_far, mine) || !could_be(tail.near, from.tail_near, near))
                continue;
            State next = with;
            next.stage = reached;
            if (check) next.check = CheckKind::direct;
            next.launch_far = mine;
            next.tail_near = near;
            next.adapter_a = static_cast<std::int8_t>(keys);
            next.adapter_b = -1;
            int changes = (mine != from.launch_far) + (near != from.tail_near);
            int items = adapter_items;
            pins_changed(next, changes, items);
            push(next, node, changes, launch.grade + tail.grade, items);
        }
    }
}

void Search::reference_three_cord(int node)
{
    State const from = nodes_[static_cast<std::size_t>(node)].state;
    Option const& launch = options_[static_cast<std::size_t>(from.launch)];
    Option const& tail = options_[static_cast<std::size_t>(from.tail)];
    bool any = false;
    for (std::size_t o = 0; o < options_.size(); ++o) {
        Option const& extra = options_[o];
        if (!extra.roles.may(Role::substitution) || members_left(extra.kind, from) < 1) continue;
        any = true;
        for (int const a : {0, 1}) {
            Rules const first = fit(launch.far_shape, extra.near_shape, keys_of(a)) |
                                why_not_both(launch.far, from.launch_far, extra.near, extra.near.plug.pins);
            if (first != 0) {
                blocked(6, Phase::reference, Place::launch_substitution, first, from.launch,
                        static_cast<int>(o));
                continue;
            }
            for (int const b : {0, 1}) {
                Rules rules = fit(extra.far_shape, tail.near_shape, keys_of(b)) |
                              why_not_both(extra.far, extra.far.plug.pins, tail.near, from.tail_near);
                State with = from;
                int adapter_items = 0;
                if (!use_adapters(with, a, b, adapter_items)) rules |= bit(Rule::no_adapter_in_kit);
                if (rules == 0) {
                    Mask mask = under_test_at_launch(launch, from.first_keys);
                    bool lit = enters(mask, launch.far.plug, a, extra.near.plug);
                    Mask out = carried(mask, extra.map) & extra.far.plug.occupied.to_ullong();
                    lit = lit && std::popcount(out) == std::popcount(mask) &&
                          enters(out, extra.far.plug, b, tail.near.plug) && lights_meter(out, tail);
                    if (!lit) rules = bit(Rule::positions);
                }
                if (rules != 0) {
                    blocked(7, Phase::reference, Place::substitution_tail, rules, from.tail,
                            static_cast<int>(o));
                    continue;
                }
                for (int pins = 0; pins < 4; ++pins) {
                    Pins const mine = (pins & 1) != 0 ? Pins::pinned : Pins::unpinned;
                    Pins const tail_near = (pins & 2) != 0 ? Pins::pinned : Pins::unpinned;
                    Pins const near = plant::complement(mine);
                    Pins const far = plant::complement(tail_near);
                    if (!could_be(launch.far, from.launch_far, mine) ||
                        !could_be(extra.near, extra.near.plug.pins, near) ||
                        !could_be(extra.far, extra.far.plug.pins, far) ||
                        !could_be(tail.near, from.tail_near, tail_near)) {
                        continue;
                    }
                    State next = with;
                    next.stage = Stage::referenced;
                    next.extra = static_cast<std::int16_t>(o);
                    next.launch_far = mine;
                    next.extra_near = near;
                    next.extra_far = far;
                    next.tail_near = tail_near;
                    next.adapter_a = static_cast<std::int8_t>(a);
                    next.adapter_b = static_cast<std::int8_t>(b);
                    int changes = (mine != from.launch_far) + (near != extra.near.plug.pins) +
                                  (far != extra.far.plug.pins) + (tail_near != from.tail_near);
                    int items = 1 + adapter_items;
                    pins_changed(next, changes, items);
                    push(next, node, changes, launch.grade + 2 * extra.grade + tail.grade, items);
                }
            }
        }
    }
    if (!any) blocked(6, Phase::reference, Place::launch_substitution, bit(Rule::no_cord), from.launch, -1);
}

} // namespace guidepin::setup::detail
