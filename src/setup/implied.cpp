// SPDX-License-Identifier: Apache-2.0
#include "setup/implied.hpp"

#include "base/text.hpp"
#include "plant/presets.hpp"
#include "plant/test_cords.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace guidepin::setup {

using plant::KeyRelation;
using plant::PositionMap;

namespace {

Cord const& cord_of_use(Question const& question, CordUse const& use)
{
    return question.kit.cords[static_cast<std::size_t>(use.cord)];
}

PositionMap map_of(Cord const& cord, bool turned)
{
    PositionMap const map =
        *plant::cable_map(cord.type, cord.ends[0].plug.family); // check_kit() has seen the type
    return turned ? map.inverse() : map;
}

KeyRelation keys_at(Plan const& plan, Place place)
{
    for (PathJoint const& joint : plan.test.path) {
        if (joint.place == place) return joint.keys;
    }
    return KeyRelation::opposed;
}

struct FibreLoss
{
    Decibel loss{0};
    std::vector<std::string> terms;
    bool from_memory = false;
};

Outcome add_fibre(FibreLoss& sum, Cord const& cord, Cabling const& cabling, Nanometres wavelength,
                  facts::RuleSet const& rules)
{
    std::string const category = cord.category.empty() ? cabling.category : cord.category;
    facts::Fact const* const coefficient = rules.coefficient(category, wavelength);
    if (coefficient == nullptr) {
        return Error{
            Errc::not_found,
            fmt::format("Rule set {} has no attenuation coefficient for {} at {} nm, which cord {} needs; "
                        "name a category of the rule set for the cord or the cabling.",
                        rules.id, category.empty() ? "an unnamed fibre category" : category,
                        wavelength.value(), cord.id)};
    }
    sum.loss += DecibelPerKilometre{coefficient->value} * cord.length;
    sum.terms.push_back(fmt::format("{} m x {} dB/km ({})", number_text(cord.length.value()),
                                    number_text(coefficient->value), cord.id));
    sum.from_memory = sum.from_memory || coefficient->basis == facts::Basis::memory;
    return {};
}

} // namespace

Counting counting(Question const& question, Plan const& plan)
{
    Counting count;
    count.method = method_of(plan.arrangement);
    count.joints_removed = joints_in_reference(count.method);
    count.net_by_simple_count = count.end_connections_present - count.joints_removed;
    bool const both_reference = cord_of_use(question, plan.launch).grade == facts::CordGrade::reference &&
                                cord_of_use(question, plan.tail).grade == facts::CordGrade::reference;
    count.grade = both_reference ? facts::CordGrade::reference : facts::CordGrade::standard;
    return count;
}

Result<ShownMap> shown_map(Question const& question, Plan const& plan)
{
    if (!question.cabling.expected) {
        return Error{Errc::invalid_input,
                     "The expected map of the cabling is not known; name its polarity type, so "
                     "that what the instrument will show can be computed."};
    }
    plant::Family const& family = question.cabling.first.plug.family;
    PositionMap launch = plant::adapter_map(question.source.keys, family)
                             .then(map_of(cord_of_use(question, plan.launch), plan.launch.turned));
    PositionMap receive = map_of(cord_of_use(question, plan.tail), plan.tail.turned)
                              .then(plant::adapter_map(question.meter.keys, family));
    // The cabling's map counts on the test cords' plugs behind a panel, on its own plug where that hangs
    // free.
    if (question.cabling.first.fitting == plant::EndFitting::bare_plug)
        launch = launch.then(plant::adapter_map(keys_at(plan, Place::launch_cabling), family));
    if (question.cabling.second.fitting == plant::EndFitting::bare_plug)
        receive = plant::adapter_map(keys_at(plan, Place::cabling_tail), family).then(receive);

    ShownMap map;
    map.expected = *question.cabling.expected;
    map.shown = plant::shown_by_instrument(map.expected, launch, receive);
    map.cabling_class = plant::class_name(map.expected, family);
    map.shown_class = plant::class_name(map.shown, family);
    // The map can look the same although both port faces count backwards: the cords decide, not the map.
    plant::PositionMap const keeps = plant::PositionMap::identity(plant::all_positions(family));
    map.same_numbers = launch == keeps && receive == keeps;
    map.same_class = map.shown_class == map.cabling_class;
    if (map.same_numbers) {
        map.text = fmt::format("The instrument shows the cabling as it is: {}.", map.cabling_class);
    } else if (map.same_class) {
        map.text =
            fmt::format("The instrument shows the right type ({}), but its position numbers are not those on "
                        "the cabling's plugs: port position 1 is plug position {}.",
                        map.cabling_class, launch.at(1));
    } else {
        map.text = fmt::format(
            "With these test cords a good link of type {} is shown as {}. Do not reject it on the "
            "instrument: the cords are taken out of the map when the readings are judged.",
            map.cabling_class, map.shown_class);
    }
    return map;
}

std::string slopes_text(Cord const& cord)
{
    bool const near = cord.ends[0].plug.slope == plant::Slope::up;
    bool const far = cord.ends[1].plug.slope == plant::Slope::up;
    return near && far ? "both plugs up-angled"
           : near      ? "near plug up-angled"
           : far       ? "far plug up-angled"
                       : "";
}

std::optional<PositionMap> check_map(Question const& question, Plan const& plan)
{
    if (!plan.cord_check) return std::nullopt;
    plant::Family const& family = question.cabling.first.plug.family;
    std::optional<PositionMap> map;
    // From the launch cord's far plug on: joints by their keys, cords between by their type.
    for (PathJoint const& joint : plan.cord_check->path) {
        if (joint.joined_by == JoinedBy::port) continue;
        PositionMap const keys = plant::adapter_map(joint.keys, family);
        if (!map) {
            map = keys;
            continue;
        }
        if (joint.left.cord < 0) return std::nullopt;
        Cord const& between = question.kit.cords[static_cast<std::size_t>(joint.left.cord)];
        map = map->then(map_of(between, joint.left.end == 0)).then(keys);
    }
    return map;
}

Metres check_length(Question const& question, Plan const& plan)
{
    Metres length{0};
    if (!plan.cord_check) return length;
    for (PathJoint const& joint : plan.cord_check->path) {
        // Every cord ends once towards the meter.
        if (joint.left.cord >= 0)
            length += question.kit.cords[static_cast<std::size_t>(joint.left.cord)].length;
    }
    return length;
}

Metres length_added_by_check(Question const& question, Plan const& plan)
{
    if (plan.check == CheckKind::none || plan.check == CheckKind::remade) return Metres{0};
    Metres added = cord_of_use(question, plan.tail).length;
    if (plan.check == CheckKind::known_cord) added += cord_of_use(question, *plan.known).length;
    if (plan.arrangement == Arrangement::changer && plan.extra)
        added = added - cord_of_use(question, *plan.extra).length;
    return added;
}

Result<std::vector<CheckExpectation>> check_expectations(Question const& question, Plan const& plan,
                                                         facts::RuleSet const& rules)
{
    std::vector<CheckExpectation> rows;
    if (plan.check == CheckKind::none) return rows;
    facts::FibreKind const kind = question.cabling.glass.kind;
    facts::CordGrade const grade = counting(question, plan).grade;
    auto const joint = rules.reference_joint.find({grade, kind});
    if (joint == rules.reference_joint.end()) {
        return Error{Errc::not_found,
                     fmt::format("Rule set {} does not say what a joint of two {}-grade {} test cords "
                                 "may lose; add reference-joint to it.",
                                 rules.id, facts::name_of(grade), facts::name_of(kind))};
    }
    auto const wavelengths = rules.wavelengths.find(kind);
    if (wavelengths == rules.wavelengths.end() || wavelengths->second.empty()) {
        return Error{Errc::not_found, fmt::format("Rule set {} names no wavelengths for {} fibre.", rules.id,
                                                  facts::name_of(kind))};
    }
    for (auto const& [fact, required] : wavelengths->second) {
        CheckExpectation row;
        row.wavelength = Nanometres{static_cast<int>(fact.value)};
        row.joint = Decibel{joint->second.value};
        row.joint_fact = joint->second;
        FibreLoss fibre;
        if (plan.check == CheckKind::remade) {
            row.joints_made = row.joints_removed = 1; // the same joint, the same glass
        } else {
            row.joints_made = plan.check == CheckKind::direct ? 1 : 2;
            row.joints_removed = joints_in_reference(method_of(plan.arrangement));
            TRY(add_fibre(fibre, cord_of_use(question, plan.tail), question.cabling, row.wavelength, rules));
            if (plan.check == CheckKind::known_cord)
                TRY(add_fibre(fibre, cord_of_use(question, *plan.known), question.cabling, row.wavelength,
                              rules));
            if (plan.arrangement == Arrangement::changer && plan.extra) {
                FibreLoss taken_out;
                TRY(add_fibre(taken_out, cord_of_use(question, *plan.extra), question.cabling, row.wavelength,
                              rules));
                fibre.loss = fibre.loss - taken_out.loss;
                fibre.terms.push_back("less " + taken_out.terms.front());
            }
        }
        row.fibre = fibre.loss;
        row.least = row.fibre - row.joint * row.joints_removed;
        row.most = row.fibre + row.joint * row.joints_made;
        row.refused_above = row.most;
        row.refused_below = row.least;
        row.net = row.fibre + row.joint * (row.joints_made - row.joints_removed);
        row.from_memory = fibre.from_memory || joint->second.basis == facts::Basis::memory;
        std::vector<std::string> terms{fmt::format("{} {} x {} dB", row.joints_made,
                                                   row.joints_made == 1 ? "joint" : "joints",
                                                   fixed_text(row.joint.value(), 2))};
        terms.insert(terms.end(), fibre.terms.begin(), fibre.terms.end());
        row.arithmetic = fmt::format("{} = {} dB", joined(terms, " + "), fixed_text(row.most.value(), 3));
        rows.push_back(std::move(row));
    }
    return rows;
}

MethodShadow shadow_of(Arrangement arrangement)
{
    MethodShadow shadow;
    shadow.arrangement = arrangement;
    shadow.joints_removed = joints_in_reference(method_of(arrangement));
    shadow.joint_spreads_added = shadow.joints_removed;
    shadow.can_go_negative = shadow.joints_removed > 0;
    switch (arrangement) {
    case Arrangement::one_cord:
        shadow.hides =
            "Nothing of the cabling: both end connections are in the result, and so is the tail cord's "
            "fibre.";
        shadow.check_tells =
            "A bad plug on the launch or tail cord: the joint of the two is measured by itself.";
        break;
    case Arrangement::changer:
        shadow.hides =
            "The loss of the joint between launch and changer cord: every result is too low by what that "
            "joint loses, so a bad one makes bad links look good.";
        shadow.check_tells =
            "Whether the joint in the check and the joint in the reference differ: a bad joint in the "
            "reference shows as a low or negative value.";
        break;
    case Arrangement::two_cord:
        shadow.tail_cord_fibre_counted = false;
        shadow.hides = "The loss of the joint between launch and tail cord: every result is too low by it.";
        shadow.check_tells =
            "Only whether that joint repeats when it is made again. A plug that is bad every time is "
            "not found: measure the joint with a one-cord reference where pins and ports allow it.";
        break;
    case Arrangement::three_cord:
        shadow.tail_cord_fibre_counted = false;
        shadow.hides =
            "The loss of two joints and of the substitution cord: every result is too low by them, and both "
            "end connections of the cabling are nearly cancelled.";
        shadow.check_tells =
            "Only whether one of the two joints repeats when it is made again. A plug that is bad "
            "every time is not found.";
        break;
    }
    return shadow;
}

std::vector<MethodShadow> shadows(Plan const& plan)
{
    std::vector<MethodShadow> all{shadow_of(plan.arrangement)};
    for (Arrangement const other :
         {Arrangement::one_cord, Arrangement::changer, Arrangement::two_cord, Arrangement::three_cord}) {
        if (other != plan.arrangement) all.push_back(shadow_of(other));
    }
    return all;
}

} // namespace guidepin::setup
