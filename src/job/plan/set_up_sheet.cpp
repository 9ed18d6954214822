// SPDX-License-Identifier: Apache-2.0
#include "job/plan/set_up_sheet.hpp"

#include "base/text.hpp"
#include "drawing/svg.hpp"
#include "job/sheet/locale.hpp"

#include <algorithm>
#include <array>
#include <iterator>
#include <set>

#include <fmt/format.h>

namespace guidepin::job {

bool turns_key(std::string const& type)
{
    return type == "A" || type == "C" || type == "I-A" || type == "II-A";
}

namespace {

using setup::Phase;
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

/// Does a cord of this type, laid out flat, have its keys on different sides? TIA-568.3: A and C go key up to
/// key down, B key up to key up; two rows likewise.
/// "type B, 2 m, reference grade".
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

/// One phase as a line of light. What is new is emphasised from the second phase on: in the first all is.
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
        if (turns_key(item.type)) key_up = !key_up;
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

std::string end_text(setup::CablingEnd const& end)
{
    std::string const fitting = end.fitting == plant::EndFitting::bare_plug
                                    ? "bare plug"
                                    : fmt::format("{}-key adapter", plant::name_of(end.fitting));
    return fmt::format("{}{} ({}, {})", plant::name_of(end.plug.pins),
                       end.plug.slope == plant::Slope::up ? ", up-angled" : "",
                       end.name.empty() ? "each link's end" : end.name, fitting);
}

std::string ends_line(setup::Cabling const& cabling)
{
    plant::ConnectorEnd const& plug = cabling.first.plug;
    std::string const fibres = plant::occupancy_text(plug.occupied);
    return fmt::format("{} {}, {}, positions {}; {} to {}", cabling.category,
                       facts::name_of(cabling.glass.kind), plug.family.name(), fibres,
                       end_text(cabling.first), end_text(cabling.second));
}

std::string cord_line(SolvedSetup const& solved, setup::CordUse const& use, char const* part)
{
    setup::Cord const& cord = solved.question.kit.cords[static_cast<std::size_t>(use.cord)];
    auto const end = [](setup::CordEnd const& e) {
        return fmt::format("{}{}", plant::name_of(e.plug.pins), e.pins_exchangeable ? "*" : "");
    };
    std::string const slopes = setup::slopes_text(cord);
    return fmt::format("{} {} (type {}, {}, {} to {}{})", part, cord.id, cord.type,
                       cord_length(cord.length, solved.locale), end(cord.ends[0]), end(cord.ends[1]),
                       slopes.empty() ? "" : ", " + slopes);
}

std::string cords_line(SolvedSetup const& solved)
{
    setup::Plan const& plan = solved.plan;
    std::vector<std::string> parts{cord_line(solved, plan.launch, "launch"),
                                   cord_line(solved, plan.tail, "tail")};
    if (plan.extra)
        parts.push_back(
            cord_line(solved, *plan.extra,
                      plan.arrangement == setup::Arrangement::changer ? "changer" : "substitution"));
    if (plan.known && !(plan.extra && plan.extra->cord == plan.known->cord))
        parts.push_back(cord_line(solved, *plan.known, "known"));
    std::string text = joined(parts, "; ");
    auto const adapters = [&text](int count, char const* keys) {
        if (count > 0) text += fmt::format("; {} {}-key adapter{}", count, keys, count == 1 ? "" : "s");
    };
    adapters(plan.opposed_adapters, "opposed");
    adapters(plan.aligned_adapters, "aligned");
    if (plan.pin_tool) text += "; pin tool";
    if (text.find('*') != std::string::npos) text += ". * pins can be changed";
    return text;
}

std::string counted_line(setup::Counting const& counting)
{
    if (counting.joints_removed == 0)
        return fmt::format("{} end connections, both in the limit", counting.end_connections_present);
    return fmt::format(
        "{} end connections, less {} taken out with the reference at what such a joint may lose",
        counting.end_connections_present, counting.joints_removed);
}

std::string uncertainty_line(SolvedSetup const& solved)
{
    std::vector<std::string> others;
    std::string own;
    for (MethodRow const& row : solved.methods) {
        std::string const u = fmt::format("{} dB", fixed_text(row.expanded_uncertainty.value(), 2));
        if (row.chosen)
            own = u;
        else
            others.push_back(fmt::format("{} {}", setup::name_of(row.shadow.arrangement), u));
    }
    return fmt::format("{} (k = 2, a link of {} dB); {}", own, number_text(method_row_loss.value()),
                       joined(others, ", "));
}

std::string shown_line(SolvedSetup const& solved)
{
    if (solved.shown.empty()) return solved.shown_missing;
    if (solved.shown.size() == 1) return solved.shown.front().map.text;
    bool const plain = std::all_of(solved.shown.begin(), solved.shown.end(),
                                   [](ShownFor const& each) { return each.map.same_numbers; });
    std::vector<std::string> parts;
    for (ShownFor const& each : solved.shown) {
        std::string const& type = each.map.cabling_class;
        std::string const links = links_text(each.links, 2);
        parts.push_back(plain ? fmt::format("{} ({})", type, links)
                              : fmt::format("{} as {} ({})", type, each.map.shown_class, links));
    }
    if (plain) return "every link as it is: " + joined(parts, ", ");
    return "a good link of type " + joined(parts, ", ") +
           ". The cords are taken out when the readings are judged: do not reject on the instrument";
}

void add_facts(SetupSheet& sheet, SolvedSetup const& solved, SetupGroup const* group)
{
    auto const add = [&sheet](char const* label, std::string text) {
        if (!text.empty()) sheet.facts.push_back({label, std::move(text)});
    };
    add("Cabling", ends_line(solved.question.cabling));
    if (group) {
        std::vector<std::string> from_a, from_b;
        for (setup::GroupedLink const& link : group->links)
            (link.from_end_b ? from_b : from_a).push_back(link.id);
        if (!from_a.empty()) add("Launch at end A", fmt::format("{}", links_text(from_a, 6)));
        if (!from_b.empty()) add("Launch at end B", fmt::format("{}", links_text(from_b, 6)));
    }
    std::string ports =
        fmt::format("source {}{} port", solved.source_serial.empty() ? "" : solved.source_serial + ", ",
                    plant::name_of(solved.question.source.face.pins));
    ports += fmt::format("; meter {}{} port", solved.meter_serial.empty() ? "" : solved.meter_serial + ", ",
                         plant::name_of(solved.question.meter.face.pins));
    add("Instruments", std::move(ports));
    add(solved.kit_assumed ? "Cords to bring" : "Cords", cords_line(solved));
    add("Refused, used all the same", joined(solved.decisions, " "));
    add("Method", fmt::format("{}{}", setup::name_of(solved.plan.arrangement),
                              group && !group->new_reference ? ", the reference in force goes on" : ""));
    add("Cord check", solved.check_arrival);
    add("Counted", counted_line(solved.counting));
    add("Instrument shows", shown_line(solved));
    if (!solved.other_fittings.empty())
        add("Panel not as drawn",
            fmt::format("{}: other adapters than the one drawn; mate with the keys as the panel "
                        "has them",
                        links_text(solved.other_fittings, 4)));
    if (!solved.methods.empty()) add("It hides", solved.methods.front().shadow.hides);
    add("Uncertainty", uncertainty_line(solved));
    bool const memory = std::any_of(solved.checks.begin(), solved.checks.end(),
                                    [](CheckNumbers const& each) { return each.rests_on_memory; });
    if (memory)
        add("†", "rests on a value that is not confirmed against a printed standard; a rule set replaces it");
}

// ---- Card ----

/// "reference.inspect-a.launch-cord-to-meter" is of the joint "launch-cord-to-meter".
bool is_inspection(setup::Step const& step)
{
    return step.id.find(".inspect-a.") != std::string::npos ||
           step.id.find(".inspect-b.") != std::string::npos;
}

/// What has been said on this card: the same advice is not given twice.
using Told = std::set<std::string>;

/// Advice in the few words that a card has room for, by a part of the step's id; the sheet keeps the whole.
struct ShortAdvice
{
    std::string_view id;
    char const* look_for; ///< "": the step's own words
    char const* if_not;
};
constexpr std::array short_advice{
    ShortAdvice{"prepare.released", "A clear yes for every link.", "Do not start."},
    ShortAdvice{"prepare.charge", "Enough for the whole run.", "Charge first."},
    ShortAdvice{"prepare.warm-up", "", "Wait."},
    ShortAdvice{"prepare.lay-out", "Labels as here, each end capped.",
                "Take no other cord: ask for a new set-up."},
    ShortAdvice{".light-off", "", "Inspect nothing."},
    ShortAdvice{".inspect-a.", "", "Clean again, dry, then wet and dry. Still dirty: put it aside, ask."},
    ShortAdvice{".inspect-b.", "", "Clean again, dry, then wet and dry. Still dirty: put it aside, ask."},
    ShortAdvice{".mate.", "One click, no force, keys as drawn.",
                "Stop. Look at pins, key and face; inspect both anew."},
    ShortAdvice{".light-on", "", "Wait; else take the reference anew."},
    ShortAdvice{"reference.take", "All lit, close to one another; a second reading agrees.",
                "Open at the meter, inspect, mate again; the source's joint last."},
    ShortAdvice{"reference.leave", "Nobody will take it out by mistake.",
                "Taken out or turned: the reference is void."},
    ShortAdvice{".open.", "Launch cord still in the source, not turned.",
                "Loose at the source: the reference is void."},
    ShortAdvice{".cap", "No bare end.", "Treat it as dirty."},
    ShortAdvice{"cord-check.measure", "Every position within the numbers below.",
                "Inspect, clean and mate again, once; then take the reference anew."},
    ShortAdvice{"cord-check.accept", "The worst position is written down.",
                "Test no link under this reference."},
    ShortAdvice{"test.start", "All lit; none below zero beyond the uncertainty.",
                "Dark: look at the pins. Below zero: check the cords again."},
    ShortAdvice{"test.each-link", "All four ends clean, each time.", "Inspect before you measure."},
    ShortAdvice{"test.keep-capped", "", "Cap it; count it as dirty."},
};

/// One action a step, as on the sheet, in shorter words; advice that was given is not given again.
std::vector<report::CardStep> card_steps(std::vector<setup::Step> const& steps, Told& told)
{
    std::vector<report::CardStep> card;
    auto const once = [&told](std::string text) { return told.insert(text).second ? text : std::string(); };
    for (setup::Step const& step : steps) {
        report::CardStep made{step.text, step.look_for, step.if_not,
                              step.id.find(".pins.") != std::string::npos};
        if (is_inspection(step)) {
            made.action = fmt::format("Inspect and clean {}.", step.subject);
        } else if (step.id.find(".mate.") != std::string::npos) {
            made.action = fmt::format("Mate them{}.", step.subject);
        }
        if (step.id == "cord-check.arrival") { // what has to be seen is the step itself
            made.action = "Look: " + step.look_for.substr(0, step.look_for.find("; the instrument")) + ".";
            made.look_for.clear();
            made.if_not = "Refuse. Look at the cords' types and the adapters' keys.";
        }
        for (ShortAdvice const& advice : short_advice) {
            if (made.changed || step.id.find(advice.id) == std::string::npos) continue;
            if (advice.look_for[0] != 0) made.look_for = advice.look_for;
            made.if_not = advice.if_not;
            // Pins that were changed in between are never left unsaid.
            if (step.if_not.find("change the pins back") != std::string::npos)
                made.if_not += " First change the pins back.";
            break;
        }
        made.look_for = once(std::move(made.look_for));
        made.if_not = once(std::move(made.if_not));
        card.push_back(std::move(made));
    }
    return card;
}

} // namespace

std::string title_of(Phase phase)
{
    switch (phase) {
    case Phase::prepare:
        return "Prepare";
    case Phase::reference:
        return "Reference";
    case Phase::check:
        return "Cord check";
    case Phase::test:
        break;
    }
    return "Test";
}

std::string links_text(std::vector<std::string> const& links, std::size_t shown)
{
    std::vector<std::string> const first(
        links.begin(), links.begin() + static_cast<std::ptrdiff_t>(std::min(shown, links.size())));
    std::string text = joined(first, ", ");
    if (links.size() > shown) text += fmt::format(" and {} more", links.size() - shown);
    return text;
}

std::string accept_text(CheckNumbers const& numbers)
{
    std::string text = fmt::format("{} to {} dB", fixed_text(numbers.good_from.value(), 2),
                                   fixed_text(numbers.good_up_to.value(), 2));
    bool const below = numbers.refused_below < numbers.good_from;
    if (below && numbers.refused_above > numbers.good_up_to)
        text += fmt::format(", {} to {} dB with a remark", fixed_text(numbers.refused_below.value(), 2),
                            fixed_text(numbers.refused_above.value(), 2));
    else if (numbers.refused_above > numbers.good_up_to)
        text += fmt::format(", up to {} dB with a remark", fixed_text(numbers.refused_above.value(), 2));
    return text;
}

std::string refuse_text(CheckNumbers const& numbers)
{
    return fmt::format("above {} dB or below {} dB", fixed_text(numbers.refused_above.value(), 2),
                       fixed_text(numbers.refused_below.value(), 2));
}

SetupSheet sheet_of(SolvedSetup const& solved, SetupGroup const* group)
{
    SetupSheet sheet;
    setup::Cabling const& cabling = solved.question.cabling;
    std::string const what =
        fmt::format("{}, {}{}, {} to {}", cabling.category, cabling.first.plug.family.name(),
                    cabling.first.plug.face == plant::Face::angled ? " angled" : "",
                    plant::name_of(cabling.first.plug.pins), plant::name_of(cabling.second.plug.pins));
    sheet.title = group ? fmt::format("Set-up {}: {}", group->number, what) : "Set-up: " + what;
    if (group) {
        for (setup::GroupedLink const& link : group->links) sheet.links.push_back(link.id);
    }
    add_facts(sheet, solved, group);
    sheet.phases.push_back({Phase::prepare, {}, {}, {}});
    for (std::size_t i = 0; i < solved.scenes.size(); ++i) {
        SheetPhase phase;
        phase.phase = solved.scenes[i].phase;
        phase.path = light_path_of(solved.scenes[i], solved, i == 0 ? nullptr : &solved.scenes[i - 1]);
        sheet.phases.push_back(std::move(phase));
    }
    for (setup::Step const& step : solved.steps) {
        for (SheetPhase& phase : sheet.phases) {
            if (phase.phase == step.phase) phase.steps.push_back(step);
        }
    }
    for (SheetPhase& phase : sheet.phases) {
        if (phase.phase != Phase::check) continue;
        for (CheckNumbers const& numbers : solved.checks) {
            phase.numbers.push_back(
                {fmt::format("{} nm, every position: {} to {} dB expected", numbers.wavelength.value(),
                             fixed_text(numbers.expected_least.value(), 2),
                             fixed_text(numbers.expected_most.value(), 2)),
                 accept_text(numbers) + (numbers.rests_on_memory ? " †" : ""), refuse_text(numbers)});
        }
    }
    auto const written = [&solved](std::string& text) {
        text = with_decimals(std::move(text), solved.locale);
    };
    for (report::Said& said : sheet.facts) written(said.text);
    for (SheetPhase& phase : sheet.phases) {
        for (setup::Step& step : phase.steps) written(step.look_for);
        for (report::CardNumber& number : phase.numbers) {
            written(number.what);
            written(number.accept);
            written(number.refuse);
        }
    }
    return sheet;
}

report::JobCard job_card_of(SetupSheet const& sheet, report::JobHead const& head)
{
    report::JobCard card;
    card.job = head;
    card.title = sheet.title;
    // Where light arrives in the cord check stands in its step.
    for (report::Said const& said : sheet.facts) {
        if (said.label != "Cord check") card.facts.push_back(said);
    }
    card.cautions = report::standard_cautions();
    card.record_hash = sheet.hash;
    Told told;
    std::vector<report::CardStep> before; // preparing stands above the first line of light
    for (SheetPhase const& phase : sheet.phases) {
        auto steps = card_steps(phase.steps, told);
        if (!phase.path) {
            before = std::move(steps);
            continue;
        }
        report::CardPhase made;
        made.title = before.empty() ? title_of(phase.phase)
                                    : fmt::format("Prepare, then {}", lowered(title_of(phase.phase)));
        made.path = *phase.path;
        // What is opened and mated stands in the steps below; pins are said twice.
        std::erase_if(made.path.changes,
                      [](std::string const& change) { return change.find("pins ") == std::string::npos; });
        made.steps = std::move(before);
        before.clear();
        made.steps.insert(made.steps.end(), std::make_move_iterator(steps.begin()),
                          std::make_move_iterator(steps.end()));
        made.numbers = phase.numbers;
        card.phases.push_back(std::move(made));
    }
    return card;
}

Result<std::string> job_card_pdf(SetupSheet const& sheet, report::JobHead const& head,
                                 CardOptions const& options)
{
    report::Setting setting;
    TRY_ASSIGN(setting.typeface, drawing::Typeface::load());
    setting.paper = options.paper;
    setting.locale = options.locale;
    setting.made = options.made;
    setting.program = "guidepin " + options.program;
    std::string bytes;
    TRY(report::write_job_card(job_card_of(sheet, head), setting, [&bytes](std::string_view part) {
        bytes += part;
        return true;
    }));
    return bytes;
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
