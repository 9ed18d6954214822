// SPDX-License-Identifier: Apache-2.0
#include "job/plan/set_up_drawings.hpp"

#include "base/text.hpp"
#include "drawing/svg.hpp"
#include "job/sheet/locale.hpp"
#include "plant/presets.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using setup::SceneItem;
using setup::SceneKind;

drawing::LightEnd light_end(setup::ScenePlug const& plug, bool key_up, bool emphasise)
{
    drawing::LightEnd end;
    end.kind = plug.end.kind;
    end.pins = plug.end.pins;
    end.face = plug.end.face;
    end.slope = plug.end.slope;
    end.key_up = key_up;
    end.changed = emphasise && plug.pins_changed;
    return end;
}

/// Returns the line under a cord, such as "type B, 2 m, reference grade".
std::string cord_detail(SceneItem const& item, report::Locale const& locale)
{
    return fmt::format("type {}, {}, {} grade", item.type, cord_length(*item.length, locale),
                       facts::name_of(*item.grade));
}

std::string first_upper(std::string text)
{
    if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
    return text;
}

} // namespace

drawing::LightPath light_path_of(setup::Scene const& scene, SolvedSetup const& solved,
                                 setup::Scene const* before)
{
    drawing::LightPath path;
    path.name = scene.title;
    auto const was_there = [before](SceneItem const& item) {
        return before && std::any_of(before->items.begin(), before->items.end(), [&](SceneItem const& other) {
                   return other.kind == item.kind && other.id == item.id;
               });
    };
    bool const first = before == nullptr;
    bool key_up = true;
    drawing::LightJoint next;
    bool adapter_seen = false;
    for (SceneItem const& item : scene.items) {
        if (item.kind == SceneKind::adapter) {
            next = {};
            next.kind = drawing::JointKind::adapter;
            next.keys = item.keys.value_or(plant::KeyRelation::opposed);
            next.label = item.owner == setup::JoinedBy::panel_adapter ? "panel" : "adapter";
            next.changed = !first && item.changed;
            adapter_seen = true;
            continue;
        }
        bool const port = item.kind == SceneKind::port;
        if (!path.bodies.empty()) {
            drawing::LightJoint joint = next;
            if (!adapter_seen) {
                // Into a port: the key relation is the port's, which is the body before or this one.
                SceneItem const& owner = port ? item : scene.items.front();
                joint = {};
                joint.kind = drawing::JointKind::port;
                joint.keys = owner.keys.value_or(plant::KeyRelation::aligned);
                joint.changed = !first && owner.changed;
                joint.stays = !port && (!first || !solved.plan.reference);
            }
            if (joint.keys == plant::KeyRelation::opposed) key_up = !key_up;
            path.joints.push_back(joint);
        }
        drawing::LightBody body;
        body.kind =
            port ? (item.part == setup::Part::source ? drawing::BodyKind::source : drawing::BodyKind::meter)
            : item.kind == SceneKind::cabling ? drawing::BodyKind::cabling
                                              : drawing::BodyKind::cord;
        body.title = first_upper(item.label);
        body.serial =
            port ? (item.part == setup::Part::source ? solved.source_serial : solved.meter_serial) : item.id;
        if (item.left) body.left = light_end(*item.left, key_up, true);
        if (item.kind == SceneKind::cord) body.detail = cord_detail(item, solved.locale);
        if (item.kind == SceneKind::cabling) {
            setup::Cabling const& cabling = solved.question.cabling;
            body.title = "Cabling";
            body.serial.clear();
            body.detail = cabling.category;
            if (!item.type.empty()) body.detail += fmt::format(", type {}", item.type);
            body.left->label = cabling.first.name;
        }
        if (plant::turns_key(item.type)) key_up = !key_up;
        if (item.right) body.right = light_end(*item.right, key_up, true);
        if (item.kind == SceneKind::cabling) body.right->label = solved.question.cabling.second.name;
        body.changed = !first && !port && !was_there(item);
        path.bodies.push_back(std::move(body));
        adapter_seen = false;
    }
    if (!first) {
        for (std::string const& change : scene.changes) path.changes.push_back(first_upper(change));
    }
    return path;
}

std::vector<drawing::EndFace> end_faces_of(SolvedSetup const& solved)
{
    setup::Plan const& plan = solved.plan;
    std::vector<int> cords{plan.launch.cord, plan.tail.cord};
    for (auto const& use : {plan.extra, plan.known}) {
        if (use && std::find(cords.begin(), cords.end(), use->cord) == cords.end())
            cords.push_back(use->cord);
    }
    std::vector<drawing::EndFace> faces;
    for (int const index : cords) {
        setup::Cord const& cord = solved.question.kit.cords[static_cast<std::size_t>(index)];
        for (int end = 0; end < 2; ++end) {
            setup::FaceView const view = setup::face_view(cord, end);
            drawing::EndFace face;
            face.name = fmt::format("{}, {} plug", cord.id, end == 0 ? "near" : "far");
            face.end = view.end;
            for (setup::FaceView::Hole const& hole : view.holes) face.fibre_at.push_back(hole.fibre);
            faces.push_back(std::move(face));
        }
    }
    return faces;
}

std::vector<std::pair<std::string, std::string>> end_face_files(SolvedSetup const& solved)
{
    std::vector<std::pair<std::string, std::string>> files;
    int number = 0;
    for (drawing::EndFace const& face : end_faces_of(solved)) {
        // A label may hold anything; a name of a file is made of letters and digits.
        std::string name;
        for (char const letter : lowered(face.name)) {
            bool const plain = (letter >= 'a' && letter <= 'z') || (letter >= '0' && letter <= '9');
            if (plain)
                name += letter;
            else if (!name.empty() && name.back() != '-')
                name += '-';
        }
        files.emplace_back(fmt::format("face-{}-{}.svg", ++number, name),
                           drawing::svg_file(drawing::end_face_drawing(face)));
    }
    return files;
}

std::vector<std::pair<std::string, std::string>> setup_drawings(SetupSheet const& sheet, double width)
{
    std::vector<std::pair<std::string, std::string>> files;
    for (SheetPhase const& phase : sheet.phases) {
        if (!phase.path) continue;
        files.emplace_back(fmt::format("{}-{}.svg", files.size() + 1, phase_id(phase.phase)),
                           drawing::svg_file(drawing::light_path_drawing(*phase.path, width)));
    }
    return files;
}

} // namespace guidepin::job
