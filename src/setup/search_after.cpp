// SPDX-License-Identifier: Apache-2.0
// Moves after the reference: the tail cord, the cord check, the test; and the light that must pass.
#include "setup/search_space.hpp"

namespace guidepin::setup::detail {

/// The mask moves through a joint from a plug into `into`; false when a position would meet nothing.
bool Search::enters(Mask& mask, ConnectorEnd const& from, int keys, ConnectorEnd const& into) const
{
    Mask to = 0;
    if (from.family !=
        question_.cabling.first.plug.family) { // no legal joint, but it must not misread the table
        for (Mask rest = mask; rest != 0; rest &= rest - 1) {
            int const q = plant::met_position(from.family, keys_of(keys), std::countr_zero(rest) + 1);
            to |= Mask{1} << (q - 1);
        }
    } else if (mask == all_) {
        to = all_; // one-to-one
    } else {
        for (Mask rest = mask; rest != 0; rest &= rest - 1)
            to |= met_[static_cast<std::size_t>(keys)][static_cast<std::size_t>(std::countr_zero(rest))];
    }
    mask = to;
    return (to & ~into.occupied.to_ullong()) == 0;
}

/// Positions on the launch cord's far plug that the cabling's fibres meet; 0 when some meet none.
Mask Search::positions_under_test(Option const& launch, int keys) const
{
    Mask mask = question_.cabling.first.plug.occupied.to_ullong();
    if (!enters(mask, question_.cabling.first.plug, keys, launch.far.plug)) return 0;
    Mask const near = carried(mask, launch.back) & launch.near.plug.occupied.to_ullong();
    if (std::popcount(near) != std::popcount(mask)) return 0;
    Mask at_port = near;
    if (!enters(at_port, launch.near.plug, index_of(question_.source.keys), question_.source.face)) return 0;
    return mask;
}

Mask Search::under_test_at_tail(Option const& tail, int keys) const
{
    Mask mask = question_.cabling.second.plug.occupied.to_ullong();
    if (!enters(mask, question_.cabling.second.plug, keys, tail.near.plug)) return 0;
    return lights_meter(mask, tail) ? mask : 0;
}

bool Search::lights_meter(Mask at_plug, Option const& last) const
{
    Mask far =
        (at_plug == last.all ? at_plug : carried(at_plug, last.map)) & last.far.plug.occupied.to_ullong();
    if (std::popcount(far) != std::popcount(at_plug)) return false;
    return enters(far, last.far.plug, index_of(question_.meter.keys), question_.meter.face);
}

/// Returns what keeps this cord from being the tail cord in the test, whatever the pins of the moment; sets
/// `place` to where.
Rules Search::tail_fits(Option const& tail, int keys, Place& place)
{
    CablingEnd const& end = question_.cabling.second;
    bool const bare = end.fitting == plant::EndFitting::bare_plug;
    place = Place::cabling_tail;
    if (!bare && keys != (end.fitting == plant::EndFitting::aligned_adapter ? 1 : 0)) return ~Rules{0};
    Rules rules = fit(second_shape_, tail.near_shape, keys_of(keys)) |
                  why_not(tail.near, tail.near.plug.pins, end.plug.pins);
    if (bare && stock_[static_cast<std::size_t>(keys)] == 0) rules |= bit(Rule::no_adapter_in_kit);
    if (rules != 0) return rules;
    rules = fit(tail.far_shape, meter_shape_, question_.meter.keys) |
            why_not(tail.far, tail.far.plug.pins, question_.meter.face.pins);
    if (rules != 0) {
        place = Place::tail_meter;
        return rules;
    }
    return under_test_at_tail(tail, keys) == 0 ? bit(Rule::positions) : 0;
}

/// The tail cord goes into the meter: before the reference (two- and three-cord) or after it.
void Search::join_tail(int node, Stage next_stage)
{
    State const from = nodes_[static_cast<std::size_t>(node)].state;
    Phase const phase = next_stage == Stage::tail_at_meter ? Phase::reference : Phase::test;
    bool any = false;
    for (std::size_t o = 0; o < options_.size(); ++o) {
        Option const& tail = options_[o];
        if (!tail.roles.may(Role::tail)) continue;
        bool const changer_itself = from.extra >= 0 &&
                                    options_[static_cast<std::size_t>(from.extra)].kind == tail.kind &&
                                    members_left(tail.kind, from) < 1;
        if (members_left(tail.kind, from) < 1 || changer_itself) continue;
        any = true;
        for (int const keys : {0, 1}) {
            Place place = Place::cabling_tail;
            Rules const why = tail_fits(tail, keys, place);
            if (why == ~Rules{0}) continue;
            if (why != 0) {
                blocked(5, Phase::test, place, why, from.launch, static_cast<int>(o));
                continue;
            }
            pins_for(tail.far, tail.far.plug.pins, question_.meter.face.pins, [&](Pins pins) {
                State next = from;
                next.stage = next_stage;
                next.tail = static_cast<std::int16_t>(o);
                next.second_keys = static_cast<std::int8_t>(keys);
                next.tail_near = tail.near.plug.pins;
                next.tail_far = pins;
                next.adapter_a = next.adapter_b = -1;
                int changes = pins != tail.far.plug.pins ? 1 : 0;
                int items = 1;
                pins_changed(next, changes, items);
                push(next, node, changes, tail.grade, items);
            });
        }
    }
    if (!any) blocked(5, phase, Place::tail_meter, bit(Rule::no_cord), from.launch, -1);
}

void Search::check_direct(int node)
{
    join_launch_to_tail(node, Stage::checked);
}

void Search::check_known(int node)
{
    State const from = nodes_[static_cast<std::size_t>(node)].state;
    for (std::size_t o = 0; o < options_.size(); ++o) {
        Option const& known = options_[o];
        if (!known.roles.may(Role::known) || members_left(known.kind, from) < 1) continue;
        check_known_with(node, static_cast<int>(o), known.near.plug.pins, known.far.plug.pins, 1, false);
    }
    if (from.extra < 0 || arrangement_ != Arrangement::changer) return;
    // The changer cord has come off the meter: it may serve once more, either way round.
    Option const& changer = options_[static_cast<std::size_t>(from.extra)];
    if (!changer.roles.may(Role::known)) return;
    check_known_with(node, from.extra, from.extra_near, from.extra_far, 0, false);
    int turned = from.extra; // a cord with equal ends has one option for both ways
    for (std::size_t o = 0; o < options_.size(); ++o) {
        if (options_[o].kind == changer.kind && options_[o].turned != changer.turned)
            turned = static_cast<int>(o);
    }
    check_known_with(node, turned, from.extra_far, from.extra_near, 0, true);
}

void Search::check_known_with(int node, int option, Pins near_now, Pins far_now, int new_cords, bool flipped)
{
    State const from = nodes_[static_cast<std::size_t>(node)].state;
    Option const& launch = options_[static_cast<std::size_t>(from.launch)];
    Option const& tail = options_[static_cast<std::size_t>(from.tail)];
    Option const& known = options_[static_cast<std::size_t>(option)];
    // Pins first: they are quick to see, and most cords fall out here.
    struct Fit
    {
        Pins launch_far, near, far, tail_near;
        int changes;
    };
    std::array<Fit, 4> fits{};
    std::size_t count = 0;
    for (int pins = 0; pins < 4; ++pins) {
        Pins const mine = (pins & 1) != 0 ? Pins::pinned : Pins::unpinned;
        Pins const tail_near = (pins & 2) != 0 ? Pins::pinned : Pins::unpinned;
        Pins const near = plant::complement(mine);
        Pins const far = plant::complement(tail_near);
        if (!could_be(launch.far, from.launch_far, mine) || !could_be(known.near, near_now, near) ||
            !could_be(known.far, far_now, far) || !could_be(tail.near, from.tail_near, tail_near)) {
            continue;
        }
        fits[count++] = {mine, near, far, tail_near,
                         (mine != from.launch_far) + (near != near_now) + (far != far_now) +
                             (tail_near != from.tail_near)};
    }
    if (count == 0) return;
    for (int const a : {0, 1}) {
        if (stock_[static_cast<std::size_t>(a)] == 0 ||
            fit(launch.far_shape, known.near_shape, keys_of(a)) != 0)
            continue;
        Mask mask = under_test_at_launch(launch, from.first_keys);
        int const lit = std::popcount(mask);
        if (!enters(mask, launch.far.plug, a, known.near.plug)) continue;
        Mask const through =
            (mask == known.all ? mask : carried(mask, known.map)) & known.far.plug.occupied.to_ullong();
        if (std::popcount(through) != lit) continue;
        for (int const b : {0, 1}) {
            State with = from;
            int adapter_items = 0;
            if (!use_adapters(with, a, b, adapter_items)) continue;
            if (fit(known.far_shape, tail.near_shape, keys_of(b)) != 0) continue;
            Mask out = through;
            if (!enters(out, known.far.plug, b, tail.near.plug) || !lights_meter(out, tail)) continue;
            for (std::size_t f = 0; f < count; ++f) {
                State next = with;
                next.stage = Stage::checked;
                next.check = CheckKind::known_cord;
                next.known = static_cast<std::int16_t>(option);
                next.known_again = new_cords == 0;
                next.known_flipped = flipped;
                next.launch_far = fits[f].launch_far;
                next.known_near = fits[f].near;
                next.known_far = fits[f].far;
                next.tail_near = fits[f].tail_near;
                next.adapter_a = static_cast<std::int8_t>(a);
                next.adapter_b = static_cast<std::int8_t>(b);
                int changes = fits[f].changes;
                int items = new_cords + adapter_items;
                pins_changed(next, changes, items);
                push(next, node, changes, launch.grade + 2 * known.grade + tail.grade, items);
            }
        }
    }
}

/// Two- and three-cord references: the joint at the launch cord's far end is opened and made again.
void Search::check_remade(int node)
{
    State const from = nodes_[static_cast<std::size_t>(node)].state;
    Option const& launch = options_[static_cast<std::size_t>(from.launch)];
    Option const& other = options_[static_cast<std::size_t>(from.extra >= 0 ? from.extra : from.tail)];
    State next = from;
    next.stage = Stage::checked;
    next.check = CheckKind::remade;
    push(next, node, 0, launch.grade + other.grade, 0);
}

void Search::test(int node)
{
    State const from = nodes_[static_cast<std::size_t>(node)].state;
    Option const& launch = options_[static_cast<std::size_t>(from.launch)];
    Option const& tail = options_[static_cast<std::size_t>(from.tail)];
    State next = from;
    int items = 0;
    int const a = question_.cabling.first.fitting == plant::EndFitting::bare_plug ? from.first_keys : -1;
    int const b = question_.cabling.second.fitting == plant::EndFitting::bare_plug ? from.second_keys : -1;
    if (!use_adapters(next, a, b, items)) {
        blocked(9, Phase::test, Place::cabling_tail, bit(Rule::no_adapter_in_kit), from.launch, from.tail);
        return;
    }
    // That the pins can come to fit was seen when the cords were chosen.
    next.stage = Stage::done;
    next.launch_far = plant::complement(question_.cabling.first.plug.pins);
    next.tail_near = plant::complement(question_.cabling.second.plug.pins);
    next.adapter_a = static_cast<std::int8_t>(a);
    next.adapter_b = static_cast<std::int8_t>(b);
    int changes = (next.launch_far != from.launch_far) + (next.tail_near != from.tail_near);
    pins_changed(next, changes, items);
    push(next, node, changes, launch.grade + tail.grade, items);
}

} // namespace guidepin::setup::detail
