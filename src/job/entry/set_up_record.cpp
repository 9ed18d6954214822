// SPDX-License-Identifier: Apache-2.0
#include "job/entry/set_up_record.hpp"

#include "record/canonical_json.hpp"

#include <array>

namespace guidepin::job {

namespace {

using setup::Phase;

constexpr std::array phase_ids{"prepare", "reference", "cord-check", "test"};

void write_end(record::JsonWriter& json, std::optional<drawing::LightEnd> const& end)
{
    if (!end) {
        json.null();
        return;
    }
    json.begin_object().key("changed").boolean(end->changed).key("face").string(plant::name_of(end->face));
    json.key("key_up").boolean(end->key_up).key("label").string(end->label);
    json.key("pins").string(plant::name_of(end->pins));
    json.key("port").boolean(end->kind == plant::EndKind::port);
    json.key("slope").string(plant::name_of(end->slope)).end_object();
}

constexpr std::array body_names{"source", "meter", "cord", "cabling", "part"};

void write_path(record::JsonWriter& json, drawing::LightPath const& path)
{
    json.begin_object().key("bodies").begin_array();
    for (drawing::LightBody const& body : path.bodies) {
        json.begin_object().key("changed").boolean(body.changed).key("detail").string(body.detail);
        json.key("kind").string(body_names[static_cast<std::size_t>(body.kind)]);
        json.key("left");
        write_end(json, body.left);
        json.key("right");
        write_end(json, body.right);
        json.key("serial").string(body.serial).key("title").string(body.title).end_object();
    }
    json.end_array().key("changes").begin_array();
    for (std::string const& change : path.changes) json.string(change);
    json.end_array().key("joints").begin_array();
    for (drawing::LightJoint const& joint : path.joints) {
        json.begin_object().key("changed").boolean(joint.changed);
        json.key("keys").string(plant::name_of(joint.keys)).key("label").string(joint.label);
        json.key("port").boolean(joint.kind == drawing::JointKind::port);
        json.key("stays").boolean(joint.stays).end_object();
    }
    json.end_array().key("name").string(path.name).end_object();
}

void write_step(record::JsonWriter& json, setup::Step const& step)
{
    json.begin_object().key("cautions").begin_array();
    for (std::string const& caution : step.cautions) json.string(caution);
    json.end_array().key("goes_back_to").string(step.goes_back_to).key("id").string(step.id);
    json.key("if_not").string(step.if_not).key("look_for").string(step.look_for);
    if (step.minutes) json.key("minutes").number(*step.minutes);
    json.key("number").integer(step.number).key("subject").string(step.subject);
    json.key("text").string(step.text).end_object();
}

record::JsonValue::Array const& list(record::JsonValue const& json, std::string_view key)
{
    static record::JsonValue::Array const none;
    auto const* const found = json.find(key);
    auto const* const array = found ? found->array() : nullptr;
    return array ? *array : none;
}

std::string text_or_empty(record::JsonValue const& json)
{
    auto const* const text = json.string();
    return text ? *text : std::string();
}

std::optional<drawing::LightEnd> end_of(record::JsonValue const* json)
{
    if (!json || json->is_null()) return std::nullopt;
    drawing::LightEnd end;
    end.changed = json->boolean_or("changed", false);
    end.key_up = json->boolean_or("key_up", false);
    end.label = json->text_or("label");
    end.kind = json->boolean_or("port", false) ? plant::EndKind::port : plant::EndKind::plug;
    end.pins = plant::parse_pins(json->text_or("pins")).value_or(plant::Pins::unpinned);
    end.face = plant::parse_face(json->text_or("face")).value_or(plant::Face::flat);
    std::string const slope = json->text_or("slope");
    end.slope = slope == "up" ? plant::Slope::up : slope == "down" ? plant::Slope::down : plant::Slope::none;
    return end;
}

drawing::LightPath path_of(record::JsonValue const& json)
{
    drawing::LightPath path;
    path.name = json.text_or("name");
    for (record::JsonValue const& each : list(json, "bodies")) {
        drawing::LightBody body;
        std::string const kind = each.text_or("kind");
        for (std::size_t i = 0; i < body_names.size(); ++i) {
            if (kind == body_names[i]) body.kind = static_cast<drawing::BodyKind>(i);
        }
        body.title = each.text_or("title");
        body.detail = each.text_or("detail");
        body.serial = each.text_or("serial");
        body.left = end_of(each.find("left"));
        body.right = end_of(each.find("right"));
        body.changed = each.boolean_or("changed", false);
        path.bodies.push_back(std::move(body));
    }
    for (record::JsonValue const& each : list(json, "joints")) {
        drawing::LightJoint joint;
        joint.kind = each.boolean_or("port", false) ? drawing::JointKind::port : drawing::JointKind::adapter;
        joint.keys = plant::parse_key_relation(each.text_or("keys")).value_or(plant::KeyRelation::opposed);
        joint.label = each.text_or("label");
        joint.changed = each.boolean_or("changed", false);
        joint.stays = each.boolean_or("stays", false);
        path.joints.push_back(std::move(joint));
    }
    for (record::JsonValue const& each : list(json, "changes")) path.changes.push_back(text_or_empty(each));
    return path;
}

setup::Step step_from(record::JsonValue const& json, Phase phase)
{
    setup::Step step;
    step.phase = phase;
    step.id = json.text_or("id");
    step.number = static_cast<int>(json.number_or("number", 0));
    step.text = json.text_or("text");
    step.subject = json.text_or("subject");
    step.look_for = json.text_or("look_for");
    step.if_not = json.text_or("if_not");
    step.goes_back_to = json.text_or("goes_back_to");
    for (record::JsonValue const& each : list(json, "cautions")) step.cautions.push_back(text_or_empty(each));
    if (json.find("minutes")) step.minutes = json.number_or("minutes", 0);
    return step;
}

} // namespace

std::string_view phase_id(Phase phase)
{
    return phase_ids[static_cast<std::size_t>(phase)];
}

Result<std::string> setup_body(SetupSheet const& sheet)
{
    record::JsonWriter json;
    json.begin_object().key("facts").begin_array();
    for (report::Said const& said : sheet.facts)
        json.begin_object().key("label").string(said.label).key("text").string(said.text).end_object();
    json.end_array().key("links").begin_array();
    for (std::string const& link : sheet.links) json.string(link);
    json.end_array().key("phases").begin_array();
    for (SheetPhase const& phase : sheet.phases) {
        json.begin_object().key("numbers").begin_array();
        for (report::CardNumber const& number : phase.numbers) {
            json.begin_object().key("accept").string(number.accept).key("refuse").string(number.refuse);
            json.key("what").string(number.what).end_object();
        }
        json.end_array().key("path");
        if (phase.path)
            write_path(json, *phase.path);
        else
            json.null();
        json.key("phase").string(phase_id(phase.phase));
        json.key("steps").begin_array();
        for (setup::Step const& step : phase.steps) write_step(json, step);
        json.end_array().end_object();
    }
    json.end_array().key("title").string(sheet.title).end_object();
    return json.finish();
}

Result<SetupSheet> setup_of(std::string_view body)
{
    TRY_ASSIGN(auto const json, record::parse_json(body));
    SetupSheet sheet;
    TRY_ASSIGN(sheet.title, json.text_of("title"));
    for (record::JsonValue const& each : list(json, "facts"))
        sheet.facts.push_back({each.text_or("label"), each.text_or("text")});
    for (record::JsonValue const& each : list(json, "links")) sheet.links.push_back(text_or_empty(each));
    for (record::JsonValue const& each : list(json, "phases")) {
        SheetPhase phase;
        std::string const id = each.text_or("phase");
        for (std::size_t i = 0; i < phase_ids.size(); ++i) {
            if (id == phase_ids[i]) phase.phase = static_cast<Phase>(i);
        }
        if (auto const* const path = each.find("path"); path && !path->is_null()) phase.path = path_of(*path);
        for (record::JsonValue const& step : list(each, "steps"))
            phase.steps.push_back(step_from(step, phase.phase));
        for (record::JsonValue const& number : list(each, "numbers"))
            phase.numbers.push_back(
                {number.text_or("what"), number.text_or("accept"), number.text_or("refuse")});
        sheet.phases.push_back(std::move(phase));
    }
    return sheet;
}

} // namespace guidepin::job
