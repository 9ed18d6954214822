// SPDX-License-Identifier: Apache-2.0
#include "setup/scene_items.hpp"

#include "plant/presets.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace guidepin::setup {

namespace {

bool holds(std::vector<Place> const& places, Place place)
{
    return std::find(places.begin(), places.end(), place) != places.end();
}

ScenePlug scene_plug(Question const& question, PhasePlan const& phase, PathEnd const& end)
{
    ScenePlug plug;
    plug.end = end.state;
    if (end.cord >= 0) {
        plug.pins_exchangeable = question.kit.cords[static_cast<std::size_t>(end.cord)]
                                     .ends[static_cast<std::size_t>(end.end)]
                                     .pins_exchangeable;
        for (PinChange const& change : phase.pin_changes) {
            plug.pins_changed = plug.pins_changed || (change.cord == end.cord && change.end == end.end);
        }
    }
    return plug;
}

SceneItem between(Question const& question, PhasePlan const& phase, PathJoint const& before,
                  PathJoint const& after)
{
    SceneItem item;
    PathEnd const& left = before.right;
    PathEnd const& right = after.left;
    item.part = left.part;
    item.label = name_of(left.part);
    item.left = scene_plug(question, phase, left);
    item.right = scene_plug(question, phase, right);
    item.changed = holds(phase.made, before.place) || holds(phase.made, after.place) ||
                   item.left->pins_changed || item.right->pins_changed;
    if (left.part == Part::cabling) {
        item.kind = SceneKind::cabling;
        item.id = fmt::format("{} to {}", question.cabling.first.name, question.cabling.second.name);
        if (question.cabling.expected)
            item.type = plant::class_name(*question.cabling.expected, question.cabling.first.plug.family);
        return item;
    }
    Cord const& cord = question.kit.cords[static_cast<std::size_t>(left.cord)];
    item.kind = SceneKind::cord;
    item.id = cord.id;
    item.type = cord.type;
    item.length = cord.length;
    item.grade = cord.grade;
    return item;
}

SceneItem port_item(Question const& question, PhasePlan const& phase, PathJoint const& joint, bool source)
{
    SceneItem item;
    item.kind = SceneKind::port;
    PathEnd const& end = source ? joint.left : joint.right;
    item.part = end.part;
    item.label = name_of(end.part);
    (source ? item.right : item.left) = scene_plug(question, phase, end);
    item.keys = joint.keys;
    item.changed = holds(phase.made, joint.place);
    return item;
}

std::string title_of(Phase phase)
{
    switch (phase) {
    case Phase::reference:
        return "Reference";
    case Phase::check:
        return "Cord check";
    case Phase::test:
        return "Test";
    case Phase::prepare:
        break;
    }
    return "Prepare";
}

} // namespace

std::vector<Scene> scenes(Question const& question, Plan const& plan)
{
    std::vector<Scene> all;
    for (PhasePlan const* phase : plan.phases()) {
        Scene scene;
        scene.phase = phase->phase;
        scene.title = title_of(phase->phase);
        scene.items.push_back(port_item(question, *phase, phase->path.front(), true));
        for (std::size_t j = 0; j < phase->path.size(); ++j) {
            PathJoint const& joint = phase->path[j];
            if (joint.joined_by != JoinedBy::port) {
                SceneItem adapter;
                adapter.kind = SceneKind::adapter;
                adapter.label =
                    joint.joined_by == JoinedBy::panel_adapter ? "panel adapter" : "adapter of the kit";
                adapter.keys = joint.keys;
                adapter.owner = joint.joined_by;
                adapter.changed = holds(phase->made, joint.place);
                scene.items.push_back(std::move(adapter));
            }
            if (j + 1 < phase->path.size())
                scene.items.push_back(between(question, *phase, joint, phase->path[j + 1]));
        }
        scene.items.push_back(port_item(question, *phase, phase->path.back(), false));
        if (!all.empty() || !plan.reference) {
            for (Place const place : phase->opened)
                scene.changes.push_back(fmt::format("open: {}", name_of(place)));
        }
        for (PinChange const& change : phase->pin_changes) {
            scene.changes.push_back(fmt::format(
                "{} the {} plug of {} ({})",
                change.to == plant::Pins::pinned ? "fit pins to" : "take pins out of",
                change.end == 0 ? "near" : "far",
                question.kit.cords[static_cast<std::size_t>(change.cord)].id, name_of(change.part)));
        }
        for (Place const place : phase->made)
            scene.changes.push_back(fmt::format("mate: {}", name_of(place)));
        all.push_back(std::move(scene));
    }
    return all;
}

FaceView face_view(Cord const& cord, int end)
{
    FaceView view;
    view.end = cord.ends[static_cast<std::size_t>(end)].plug;
    view.id = fmt::format("{} end {}", cord.id, end + 1);
    plant::PositionMap const to_first =
        end == 0 ? plant::PositionMap::identity(plant::all_positions(view.end.family))
                 : plant::cable_map(cord.type, view.end.family).value_or(plant::PositionMap{}).inverse();
    for (int p = 1; p <= view.end.family.positions(); ++p) {
        FaceView::Hole hole;
        hole.position = p;
        hole.row = (p - 1) / view.end.family.columns;
        hole.column = (p - 1) % view.end.family.columns;
        hole.filled = view.end.occupied.test(static_cast<std::size_t>(p - 1));
        hole.fibre = hole.filled ? to_first.at(p) : 0;
        view.holes.push_back(hole);
    }
    return view;
}

} // namespace guidepin::setup
