// SPDX-License-Identifier: Apache-2.0
#include "job/entry/entries.hpp"

#include "base/text.hpp"
#include "record/canonical_json.hpp"

#include <fmt/format.h>

namespace guidepin::job {

char const* name_of(Role role)
{
    switch (role) {
    case Role::technician:
        return "technician";
    case Role::lead:
        return "lead";
    case Role::reviewer:
        break;
    }
    return "reviewer";
}

std::optional<Role> parse_role(std::string_view text)
{
    for (Role const role : {Role::technician, Role::lead, Role::reviewer}) {
        if (text == name_of(role)) return role;
    }
    return std::nullopt;
}

Result<std::string> note_body(Note const& note)
{
    if (trimmed(note.text).empty() && note.photo.empty())
        return Error{Errc::invalid_input, "A note needs words or a photo"};
    if (note.text.size() > longest_note)
        return Error{Errc::invalid_input, fmt::format("The note has {} bytes; at most {} are kept, write two",
                                                      note.text.size(), longest_note)};
    if (note.photo.size() / 4 * 3 > largest_photo)
        return Error{Errc::invalid_input,
                     fmt::format("The photo has {} kB; at most {} kB are kept, make it smaller",
                                 note.photo.size() / 4 * 3 / 1024, largest_photo / 1024)};
    record::JsonWriter json;
    json.begin_object().key("key").string(note.key).key("name").string(note.name);
    if (!note.photo.empty()) json.key("photo").string(note.photo).key("photo_type").string(note.photo_type);
    json.key("subject").string(note.subject).key("text").string(note.text).end_object();
    return json.finish();
}

Result<Note> note_of(std::string_view body)
{
    TRY_ASSIGN(auto const json, record::parse_json(body));
    Note note;
    note.subject = json.text_or("subject", "job");
    note.name = json.text_or("name");
    note.text = json.text_or("text");
    note.photo_type = json.text_or("photo_type");
    note.photo = json.text_or("photo");
    note.key = json.text_or("key");
    return note;
}

Result<std::string> step_body(StepDone const& step)
{
    record::JsonWriter json;
    json.begin_object().key("key").string(step.key).key("setup").string(step.setup);
    json.key("step").string(step.step).end_object();
    return json.finish();
}

Result<StepDone> step_of(std::string_view body)
{
    TRY_ASSIGN(auto const json, record::parse_json(body));
    StepDone step;
    step.key = json.text_or("key");
    step.setup = json.text_or("setup");
    step.step = json.text_or("step");
    return step;
}

Result<ChosenSetup> chosen_setup_of(std::string_view body)
{
    TRY_ASSIGN(auto const json, record::parse_json(body));
    ChosenSetup chosen;
    TRY_ASSIGN(chosen.title, json.text_of("title"));
    chosen.body = std::string(body);
    auto const* const links = json.find("links");
    if (auto const* const list = links ? links->array() : nullptr) {
        for (record::JsonValue const& link : *list) {
            if (std::string const* const id = link.string()) chosen.links.push_back(*id);
        }
    }
    return chosen;
}

Result<std::string> person_body(Person const& person)
{
    if (trimmed(person.name).empty() || person.name.size() > 80)
        return Error{Errc::invalid_input, "A person needs a name of 1 to 80 bytes"};
    record::JsonWriter json;
    json.begin_object().key("name").string(person.name).key("role").string(name_of(person.role)).end_object();
    return json.finish();
}

Result<Person> person_of(std::string_view body)
{
    TRY_ASSIGN(auto const json, record::parse_json(body));
    Person person;
    TRY_ASSIGN(person.name, json.text_of("name"));
    person.role = parse_role(json.text_or("role")).value_or(Role::technician);
    return person;
}

Result<std::string> withdrawal_body(Withdrawal const& withdrawal)
{
    if (trimmed(withdrawal.reason).empty())
        return Error{Errc::invalid_input, "Say why the import is withdrawn: the reason stays in the record"};
    record::JsonWriter json;
    json.begin_object().key("reason").string(withdrawal.reason);
    json.key("sequence").integer(withdrawal.sequence).key("station").string(withdrawal.station);
    json.key("withdraws").string("source-file").end_object();
    return json.finish();
}

Result<Withdrawal> withdrawal_of(std::string_view body)
{
    TRY_ASSIGN(auto const json, record::parse_json(body));
    Withdrawal withdrawal;
    if (json.text_or("withdraws") != "source-file") return withdrawal;
    TRY_ASSIGN(withdrawal.station, json.text_of("station"));
    TRY_ASSIGN(withdrawal.sequence, json.integer_of("sequence"));
    withdrawal.reason = json.text_or("reason");
    return withdrawal;
}

char const* name_of(DoubtKind kind)
{
    switch (kind) {
    case DoubtKind::common:
        return "common";
    case DoubtKind::wavelength:
        return "wavelength";
    case DoubtKind::position:
        return "position";
    case DoubtKind::negative_loss:
        break;
    }
    return "negative-loss";
}

std::optional<DoubtKind> parse_doubt_kind(std::string_view text)
{
    for (DoubtKind const kind :
         {DoubtKind::common, DoubtKind::wavelength, DoubtKind::position, DoubtKind::negative_loss}) {
        if (text == name_of(kind)) return kind;
    }
    return std::nullopt;
}

Result<std::string> trust_decision_body(TrustDecision const& decision)
{
    if (trimmed(decision.reason).empty())
        return Error{Errc::invalid_input,
                     "Say why the reference is relied on: the reason stays in the record"};
    record::JsonWriter json;
    json.begin_object().key("covers").begin_array();
    for (TrustDecision::Covered const& covered : decision.covers) {
        json.begin_object().key("doubt").string(name_of(covered.kind));
        json.key("position")
            .integer(covered.position)
            .key("size_db")
            .number(covered.size.value())
            .end_object();
    }
    json.end_array().key("reason").string(decision.reason).key("reference").string(decision.reference.text());
    json.key("stands").boolean(decision.stands).end_object();
    return json.finish();
}

Result<TrustDecision> trust_decision_of(std::string_view body)
{
    TRY_ASSIGN(auto const json, record::parse_json(body));
    TrustDecision decision;
    TRY_ASSIGN(std::string reference, json.text_of("reference"));
    decision.reference = verdict::ReferenceId(std::move(reference));
    decision.reason = json.text_or("reason");
    TRY_ASSIGN(decision.stands, json.boolean_of("stands"));
    auto const* const covers = json.find("covers");
    if (!covers || !covers->array()) return decision;
    for (auto const& row : *covers->array()) {
        auto const kind = parse_doubt_kind(row.text_or("doubt"));
        if (!kind) continue; // of a later program: covers nothing here
        decision.covers.push_back(
            {*kind, static_cast<int>(row.integer_or("position", 0)), Decibel{row.number_or("size_db", 0)}});
    }
    return decision;
}

} // namespace guidepin::job
