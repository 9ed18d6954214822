// SPDX-License-Identifier: Apache-2.0
#include "job/plan/set_up_sheet.hpp"

#include "base/text.hpp"
#include "job/plan/set_up_drawings.hpp"
#include "job/sheet/locale.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using setup::Phase;

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
                       facts::name_of(cabling.glass.kind), plant::words_of(plug.family), fibres,
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
        if (count > 0) text += fmt::format("; {} {}-key adapter{}", count, keys, plural_ending(count));
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
            others.push_back(fmt::format("{} {}", setup::words_of(row.shadow.arrangement), u));
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
    add("Refused, used anyway", joined(solved.decisions, " "));
    add("Method", fmt::format("{}{}", setup::words_of(solved.plan.arrangement),
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

} // namespace

std::string title_of(setup::Phase phase)
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
        fmt::format("{}, {}{}, {} to {}", cabling.category, plant::words_of(cabling.first.plug.family),
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

} // namespace guidepin::job
